#include "one_off_shop.hpp"

#include <fmt/format.h>

#include <Eigen/LU>
#include <chrono>
#include <cmath>

#include "counterspot/tolerance/tolerance.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/write.hpp"

namespace counterspot::test {

namespace {

using Complex = std::complex<double>;
constexpr Complex j(0.0, 1.0);
constexpr double mass_error = 0.01;               // of a piece, as the rig file's default states
constexpr double angle_error_rad = radians(1.0);  // the same
constexpr double reading_noise = 0.002;           // of the as-found reading, one part
constexpr int spins_at_most = 10;

/// Bed plate of 900 kg on its feet: it moves (z) and tilts (a straight line over the metre between its feet).
struct Base {
  double mass_kg = 900.0;
  double inertia_kg_m2 = 260.0;
  double stiffness_N_m = 4e7;
  double tilt_stiffness_N_m = 1e7;
  double damping = 0.03;
};

/// Something that swings by itself on a pedestal.
struct OddMode {
  double mass_kg;
  double frequency_Hz;
  double damping;

  std::complex<double> dynamic(double rate) const {
    const double own = turn_rad * frequency_Hz;
    const std::complex<double> spring = mass_kg * (own * own + 2.0 * j * damping * own * rate);
    return spring - spring * spring / (spring - rate * rate * mass_kg);
  }
};
constexpr OddMode odd_on_a{0.8, 31.0, 0.04};
constexpr OddMode odd_on_b{0.6, 23.0, 0.04};
constexpr OddMode another_on_a{0.5, 19.0, 0.04};

/// The rig as one clamping leaves it, with a shaft on it.
struct Truth {
  rigsim::Scenario made;
  bool base = false;
  int odd_modes = 0;
  std::array<Complex, 2> read{1.0, 1.0};  ///< what each sensor makes of the truth

  /// Dynamic stiffness of (q_A, q_B, bending), base and odd modes condensed into it.
  Eigen::Matrix3cd dynamic(double rate) const {
    const rigsim::MovingParts parts = rigsim::moving_parts(made.rig, made.shaft);
    Eigen::Matrix3cd sum = (parts.stiffness - rate * rate * parts.mass).cast<Complex>() + j * rate * parts.damping;
    if (odd_modes > 0) sum(0, 0) += odd_on_a.dynamic(rate);
    if (odd_modes > 1) sum(1, 1) += odd_on_b.dynamic(rate);
    if (odd_modes > 2) sum(0, 0) += another_on_a.dynamic(rate);
    if (base) sum -= of_base(rate);
    return sum;
  }

  /// What the moving base takes off: D_pb D_bb⁻¹ D_bp with the pedestals' springs between shaft and base. The
  /// pedestals stand at ± half of the span from its middle, moved 60 mm to B.
  Eigen::Matrix3cd of_base(double rate) const {
    const Base bed;
    const double half = 0.5 * (made.shaft.support_b_m - made.shaft.support_a_m);
    Eigen::Matrix2d places;  // rows A, B; columns movement, tilt
    places << 1.0, -half + 0.06, 1.0, half + 0.06;
    Eigen::Vector2cd spring;
    for (int i = 0; i < 2; ++i) {
      const rigsim::Pedestal& pedestal = made.rig.pedestals[static_cast<std::size_t>(i)];
      spring(i) = pedestal.stiffness_N_m + j * rate * pedestal.damping_N_s_m;
    }
    const Eigen::Matrix2cd to_base = spring.asDiagonal() * places.cast<Complex>();
    Eigen::Matrix2cd of = places.transpose().cast<Complex>() * to_base;
    const Complex lossy = 1.0 + 2.0 * j * bed.damping;
    of(0, 0) += bed.stiffness_N_m * lossy - rate * rate * bed.mass_kg;
    of(1, 1) += bed.tilt_stiffness_N_m * lossy - rate * rate * bed.inertia_kg_m2;
    Eigen::Matrix3cd sum = Eigen::Matrix3cd::Zero();
    sum.topLeftCorner<2, 2>() = to_base * of.inverse() * to_base.transpose();
    return sum;
  }

  Eigen::Vector2cd vectors(const std::vector<rigsim::UnbalanceSlice>& fitted, double rate) const {
    const Eigen::Vector3cd moved = dynamic(rate).inverse().conjugate() *
                                   (rate * rate * rigsim::generalised_unbalance(made.rig, made.shaft, fitted));
    Eigen::Vector2cd vectors = -rate * rate * moved.head<2>();
    for (int i = 0; i < 2; ++i) vectors(i) *= read[static_cast<std::size_t>(i)];
    return vectors;
  }

  /// α at the planes.
  Eigen::Matrix2cd coefficients(double rate) const {
    Truth bare = *this;
    bare.made.shaft.slices.clear();
    Eigen::Matrix2cd alpha;
    for (int p = 0; p < 2; ++p) {
      const double at = made.planes[static_cast<std::size_t>(p)].position_m;
      alpha.col(p) = bare.vectors({{at, 1.0}}, rate);
    }
    return alpha;
  }

  /// What at the planes would move the sensors as the shaft and the weights do.
  std::vector<Phasor> felt(const std::vector<rigsim::UnbalanceSlice>& fitted, double rate) const {
    const Eigen::Vector2cd at = coefficients(rate).inverse() * vectors(fitted, rate);
    return {at(0), at(1)};
  }
};

double scattered(double value, double part, rigsim::Random& random) {
  return value * (1.0 + part * random.normal());
}

/// 0.6 to 1.9 m, 6 to 15 kg, ends unlike, never near its critical speed.
rigsim::Scenario drawn_shaft(rigsim::Random& random, double fastest_rad_s) {
  constexpr std::array<std::array<double, 2>, 4> sizes_in = {{{2.5, 0.083}, {3.0, 0.083}, {3.5, 0.083}, {4.0, 0.095}}};
  for (;;) {
    rigsim::Scenario drawn;
    const auto& size = sizes_in[static_cast<std::size_t>(random.uniform(0.0, sizes_in.size()))];
    drawn.tube = {size[0] * m_per_in, size[1] * m_per_in};
    const double mean_m = drawn.tube.outside_diameter_m - drawn.tube.wall_m;
    rigsim::ShaftTruth& shaft = drawn.shaft;
    shaft.tube_kg_m = 7850.0 * pi * mean_m * drawn.tube.wall_m;
    shaft.tube_bending_stiffness_N_m2 = 206.8e9 * pi * std::pow(mean_m, 3) * drawn.tube.wall_m / 8.0;
    const double margin_m = random.uniform(0.03, 0.06);
    const double length_m = random.uniform(0.55, 1.8);
    const double mass_kg = random.uniform(6.0, 15.0);
    shaft.tube_end_m = length_m;
    shaft.support_a_m = -margin_m;
    shaft.support_b_m = length_m + margin_m;
    const double ends_kg = mass_kg - shaft.tube_kg_m * length_m;
    const double share = random.uniform(0.35, 0.65);
    const double wave = pi / (length_m + 2.0 * margin_m);
    const double bending = wave * wave * std::sqrt(shaft.tube_bending_stiffness_N_m2 / shaft.tube_kg_m);
    if (ends_kg < 0.2 * mass_kg || bending < 2.5 * fastest_rad_s) continue;
    shaft.ends = {{-0.3 * margin_m, share * ends_kg}, {length_m + 0.3 * margin_m, (1.0 - share) * ends_kg}};
    const double radius_m = 0.5 * drawn.tube.outside_diameter_m + 0.002;
    drawn.planes = {
        {{"A", random.uniform(0.03, 0.09), radius_m}, {"B", length_m - random.uniform(0.03, 0.09), radius_m}}};
    drawn.service_rad_s = std::min(rad_per_s(random.uniform(2500.0, 4000.0)), 0.6 * bending);
    return drawn;
  }
}

void set_unbalance(rigsim::Scenario& made, double times_limit, rigsim::Random& random) {
  rigsim::ShaftTruth& shaft = made.shaft;
  for (const rigsim::EndMass& end : shaft.ends)
    shaft.slices.push_back({end.position_m, std::polar(random.uniform(0.3, 1.0), random.direction_rad())});
  for (int i = 0; i < 9; ++i) {
    const double at = (i + 0.5) / 9.0 * shaft.tube_end_m;
    shaft.slices.push_back({at, std::polar(0.1 * std::abs(random.normal()), random.direction_rad())});
  }
  const auto at = rigsim::rigid_equivalent(shaft, {}, made.plane_positions_m());
  const double scale = times_limit * 0.5 * rigsim::g16_total_kg_m(made) / std::max(std::abs(at[0]), std::abs(at[1]));
  for (rigsim::UnbalanceSlice& slice : shaft.slices) slice.unbalance_kg_m *= scale;
}

/// The shop's rig; pedestals as between two clampings.
rigsim::RigTruth shop_rig(bool hard, rigsim::Random& random) {
  rigsim::RigTruth rig;
  rig.sensor_angle_rad = random.direction_rad();
  for (rigsim::Pedestal& pedestal : rig.pedestals) {
    const double mass_kg = hard ? random.uniform(8.0, 18.0) : random.uniform(3.0, 8.0);
    const double moving_kg = mass_kg + 5.0;
    const double rate = turn_rad * (hard ? random.uniform(65.0, 100.0) : random.uniform(6.0, 11.0));
    pedestal = {mass_kg, moving_kg * rate * rate, 2.0 * random.uniform(0.02, 0.08) * moving_kg * rate};
  }
  for (int i = 0; i < 2; ++i)
    rig.sensors.push_back(
        {i == 0 ? "A" : "B", i, Motion::acceleration, 0.1 / standard_gravity_m_s2, 0.0, 0.0, 0.0, 0.0});
  return rig;
}

/// One job, driven by nothing but what `next_step` asks for.
class OneOff {
 public:
  OneOff(const ShopPlan& plan, const rigsim::Scenario& drawing, const Truth& truth, int number)
      : plan_(plan), truth_(truth), number_(number), random_(plan.seed, 1000 + static_cast<std::uint64_t>(number)) {
    job_.uid = fmt::format("{:032}", number);
    job_.name = fmt::format("{}/1", number);
    job_.opened_unix_s = 86400 * number;
    job_.rig_file = {"rig.toml", rigsim::rig_toml(drawing)};
    job_.shaft_file = {"shaft.toml", rigsim::shaft_toml(drawing)};
    shaft_ = job_.shaft();
  }

  void run(const std::vector<Job>& past, ShopOutcome& outcome) {
    std::optional<FamilyPrior> prior;
    int spins = 0;
    for (;;) {
      const Analysis analysis = analyse(job_, prior);
      const NextStep step = next_step(job_, analysis, prior);
      const bool spin =
          step.kind == StepKind::spin || step.kind == StepKind::spin_as_found || step.kind == StepKind::spin_again;
      const bool fit = step.kind == StepKind::fit_trial || step.kind == StepKind::fit_correction;
      if ((spin && spins == spins_at_most) || (!spin && !fit)) {
        judge_end(spins, analysis, outcome);
        return;
      }
      if (fit) {
        guessed_ = step.kind == StepKind::fit_correction && spins == 1;
        put_on(step.pieces);
        continue;
      }
      append(drawn_spin(step.kind == StepKind::spin_again));
      ++spins;
      if (spins == 2 && guessed_) count_guess(outcome);
      if (spins == 1) {
        LearningOptions options;
        options.teacher = plan_.teacher;
        prior = prior_from(spins_of(past), spins_of(job_), options);
        if (prior) tally(prior->coefficients, outcome);
      }
    }
  }
  const Job& job() const { return job_; }

 private:
  double speed() const { return truth_.made.balancing_rad_s; }
  bool slips(Slip slip) const { return plan_.slip == slip && 3 * number_ >= 2 * plan_.shafts; }

  /// What the sensor reads of what is there, as a part.
  double reads(int sensor) const {
    const bool half = slips(Slip::half_at_both) || (sensor == 0 && slips(Slip::half_at_a));
    return half && !state_of(job_.events).spins.empty() ? 0.5 : 1.0;
  }

  void append(What what) {
    const Event event{static_cast<int>(job_.events.size()) + 1, 0, "test", std::move(what)};
    admit(job_, event);
    job_.events.push_back(event);
  }

  Spun drawn_spin(bool longer) {
    const Eigen::Vector2cd vectors = truth_.vectors(real_, speed());
    if (noise_ == 0.0) noise_ = reading_noise * vectors.cwiseAbs().maxCoeff();
    const double noise = noise_ * (longer ? 0.5 : 1.0);
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = speed();
    for (int s = 0; s < 2; ++s) {
      const Phasor error(noise * random_.normal(), noise * random_.normal());
      const double part = reads(s);
      spun.readings.push_back({s == 0 ? "A" : "B", Motion::acceleration, part * (vectors(s) + error),
                               part * part * noise * noise * Eigen::Matrix2d::Identity(), usual_noise(part)});
    }
    return spun;
  }

  /// The broadband level of a running rig, which is not quite the same from spin to spin.
  SensorLevel usual_noise(double part) {
    SensorLevel level;
    for (const double from_Hz : {50.0, 100.0, 200.0, 400.0})
      level.bands.push_back({from_Hz, 2.0 * from_Hz, 1e-2 * part * std::exp(0.05 * random_.normal())});
    return level;
  }

  /// As asked, but weighed and set as a person does.
  void put_on(const std::vector<FittedWeight>& pieces) {
    Fitted fitted{state_of(job_.events).on_shaft};
    const bool wrong = plan_.wrong_job == number_;
    for (const FittedWeight& piece : pieces) {
      fitted.pieces.push_back(piece);
      double mass_kg = piece.mass_kg * (1.0 + mass_error * random_.normal());
      if (wrong && piece.plane == 0) mass_kg *= 2.0;
      double angle_rad = piece.angle_rad + angle_error_rad * random_.normal();
      int plane = piece.plane;
      if (slips(Slip::twice) && plane == 0) mass_kg *= 2.0;
      if (slips(Slip::other_side) && plane == 0) angle_rad += pi;
      if (slips(Slip::other_plane)) plane = 1 - plane;
      real_.push_back(rigsim::piece_at(truth_.made.planes[static_cast<std::size_t>(plane)], mass_kg, angle_rad));
    }
    append(fitted);
  }

  void count_guess(ShopOutcome& outcome) const {
    const auto largest = [](const StandingSpin& spin) {
      return std::max(std::abs(spin.spun.readings[0].value), std::abs(spin.spun.readings[1].value));
    };
    const JobState state = state_of(job_.events);
    ++outcome.guesses;
    outcome.louder += largest(state.spins[1]) > largest(state.spins[0]) ? 1 : 0;
  }

  void tally(const CoefficientPrior& prior, ShopOutcome& outcome) const {
    const Eigen::Matrix2cd alpha = truth_.coefficients(speed());
    for (Eigen::Index i = 0; i < 8; ++i) {
      const Complex value = alpha(i / 4, (i / 2) % 2);
      const double miss = (i % 2 == 0 ? value.real() : value.imag()) - prior.mean(i);
      ++outcome.coefficients;
      outcome.coefficients_in += std::abs(miss) <= 1.96 * std::sqrt(prior.covariance(i, i)) ? 1 : 0;
    }
  }

  void judge_end(int spins, const Analysis& analysis, ShopOutcome& outcome) const {
    const bool said = analysis.solution && analysis.solution->judgement.verdict == Verdict::within;
    const auto felt = truth_.felt(real_, speed());
    const Judgement truth = judge(shaft_, limits_of(shaft_), felt, Eigen::MatrixXd::Zero(4, 4));
    outcome.spins.push_back(spins);
    outcome.within.push_back(said);
    outcome.false_within += said && truth.verdict != Verdict::within ? 1 : 0;
    for (std::size_t p = 0; analysis.solution && p < 2; ++p) {
      const PlaneSolution& plane = analysis.solution->planes[p];
      ++outcome.residuals;
      outcome.residuals_in +=
          std::abs(std::abs(plane.residual_kg_m) - std::abs(felt[p])) <= 1.96 * plane.u_residual_kg_m ? 1 : 0;
    }
  }

  ShopPlan plan_;
  Truth truth_;
  int number_;
  rigsim::Random random_;
  Job job_;
  Shaft shaft_;
  std::vector<rigsim::UnbalanceSlice> real_;
  double noise_ = 0.0;
  bool guessed_ = false;  // the first weights are a correction
};

/// The drawing's rig as this shaft finds it.
Truth clamped(const ShopPlan& plan, const rigsim::Scenario& drawing, int number, rigsim::Random& random) {
  Truth truth{drawing, plan.base, plan.odd_modes};
  rigsim::Scenario& made = truth.made;
  const double span_m = made.shaft.support_b_m - made.shaft.support_a_m;
  for (rigsim::Pedestal& pedestal : made.rig.pedestals) {
    pedestal.mass_kg = scattered(pedestal.mass_kg, plan.clamping, random);
    pedestal.stiffness_N_m = scattered(pedestal.stiffness_N_m, plan.clamping, random);
    pedestal.damping_N_s_m = scattered(pedestal.damping_N_s_m, plan.clamping, random);
  }
  // Pedestal B is the one that is moved; the bed is stiffest over its feet.
  made.rig.pedestals[1].stiffness_N_m *= 1.0 + plan.along_bed * std::sin(turn_rad * span_m / 1.5);
  if (plan.sensor_changed && number >= *plan.sensor_changed) truth.read[1] = std::polar(1.05, radians(2.0));
  return truth;
}

}  // namespace

double ShopOutcome::two_spins(std::size_t first, std::size_t end) const {
  int two = 0;
  for (std::size_t i = first; i < end; ++i) two += spins[i] <= 2 && within[i] ? 1 : 0;
  return static_cast<double>(two) / static_cast<double>(end - first);
}

double ShopOutcome::mean_spins() const {
  double sum = 0.0;
  for (int each : spins) sum += each;
  return sum / static_cast<double>(spins.size());
}

ShopOutcome run_shop(const ShopPlan& plan) {
  const auto begun = std::chrono::steady_clock::now();
  ShopOutcome outcome;
  rigsim::Random of_rig(plan.seed, 1);
  const rigsim::RigTruth rig = shop_rig(plan.hard, of_rig);
  std::vector<Job> past;  // newest first
  for (int number = 0; number < plan.shafts; ++number) {
    rigsim::Random random(plan.seed, 10 + static_cast<std::uint64_t>(number));
    const double speed = rad_per_s(plan.other_speeds ? random.uniform(900.0, 2400.0) : 1600.0);
    rigsim::Scenario drawing = drawn_shaft(random, speed);
    drawing.rig_name = "bay 2";
    drawing.shaft_id = fmt::format("S-{}", number);
    drawing.rig = rig;
    drawing.balancing_rad_s = speed;
    Truth truth = clamped(plan, drawing, number, random);
    for (rigsim::EndMass& end : truth.made.shaft.ends) end.mass_kg = scattered(end.mass_kg, 0.006, random);
    set_unbalance(truth.made, random.uniform(plan.least_times, plan.most_times), random);
    OneOff one_off(plan, drawing, truth, number);
    one_off.run(past, outcome);
    past.insert(past.begin(), one_off.job());
  }
  outcome.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return outcome;
}

}  // namespace counterspot::test
