// Families of shafts on one simulated rig: what the first shafts teach the next.
#include "counterspot/job/next_step.hpp"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/units/error.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/scenario.hpp"
#include "rigsim/simulate.hpp"
#include "rigsim/write.hpp"
#include "tracking/memory_recording.hpp"

using namespace counterspot;

namespace {

constexpr double scatter = 0.05;                  // of pedestals and geometry, one standard deviation
constexpr double mass_error = 0.01;               // of a piece, as the rig file's default states
constexpr double angle_error_rad = radians(1.0);  // the same
constexpr double reading_noise = 0.002;           // of the as-found reading, one part
constexpr int spins_at_most = 10;

double scattered(double value, rigsim::Random& random) {
  return value * (1.0 + scatter * random.normal());
}

/// A shaft of the family as it really is: its file says what the drawing says.
rigsim::Scenario one_of(const rigsim::Scenario& drawing, rigsim::Random& random) {
  rigsim::Scenario made = drawing;
  for (rigsim::EndMass& end : made.shaft.ends) end.mass_kg = scattered(end.mass_kg, random);
  made.shaft.tube_kg_m = scattered(made.shaft.tube_kg_m, random);
  made.shaft.tube_bending_stiffness_N_m2 = scattered(made.shaft.tube_bending_stiffness_N_m2, random);
  for (rigsim::Pedestal& pedestal : made.rig.pedestals) {
    pedestal.mass_kg = scattered(pedestal.mass_kg, random);
    pedestal.stiffness_N_m = scattered(pedestal.stiffness_N_m, random);
    pedestal.damping_N_s_m = scattered(pedestal.damping_N_s_m, random);
  }
  // A plane sits within 5 % of its distance from the shaft's end.
  made.planes[0].position_m += scatter * random.normal() * 0.06;
  made.planes[1].position_m += scatter * random.normal() * 0.06;
  const double times_limit = random.uniform(2.0, 8.0);
  double largest = 0.0;
  for (rigsim::UnbalanceSlice& slice : made.shaft.slices)
    slice.unbalance_kg_m =
        std::polar(random.uniform(0.2, 1.0) * std::abs(slice.unbalance_kg_m), random.direction_rad());
  for (const Phasor& at : rigsim::rigid_equivalent(made.shaft, {}, made.plane_positions_m()))
    largest = std::max(largest, std::abs(at));
  for (rigsim::UnbalanceSlice& slice : made.shaft.slices)
    slice.unbalance_kg_m *= times_limit * 0.5 * rigsim::g16_total_kg_m(drawing) / largest;
  return made;
}

struct Outcome {
  int spins = 0;
  bool said_within = false;
  bool truly_within = false;
};

/// How a spin comes to its readings: drawn with the stated errors, which is quick, or recorded by the simulated rig
/// (noise, hum, tach, converter) and measured by `track` as any recording is.
enum class Spins { drawn, recorded };

/// One job, driven by nothing but what `next_step` asks for.
class Bench {
 public:
  Bench(const rigsim::Scenario& drawing, const rigsim::Scenario& made, int number, std::uint64_t seed,
        Spins spins = Spins::drawn)
      : made_(made), random_(seed, 7), seed_(seed), spins_(spins) {
    job_.uid = fmt::format("{:032}", number);
    job_.name = fmt::format("{}/1", number);
    job_.rig_file = {"rig.toml", rigsim::rig_toml(drawing)};
    job_.shaft_file = {"shaft.toml", rigsim::shaft_toml(drawing)};
    shaft_ = job_.shaft();
  }

  Outcome run(const std::vector<Job>& past) {
    std::optional<FamilyPrior> prior;
    Outcome outcome;
    for (;;) {
      const Analysis analysis = analyse(job_, prior);
      const NextStep step = next_step(job_, analysis, prior);
      const bool spin =
          step.kind == StepKind::spin || step.kind == StepKind::spin_as_found || step.kind == StepKind::spin_again;
      if (spin && outcome.spins == spins_at_most) return judged(outcome, analysis);
      if (spin) {
        const bool longer = step.kind == StepKind::spin_again;
        append(spins_ == Spins::drawn ? drawn_spin(longer) : recorded_spin(longer));
        if (++outcome.spins == 1) prior = prior_from(spins_of(past), spins_of(job_));
      } else if (step.kind == StepKind::fit_trial || step.kind == StepKind::fit_correction) {
        fit(step.pieces);
      } else {
        return judged(outcome, analysis);
      }
    }
  }
  const Job& job() const { return job_; }

 private:
  void append(What what) {
    const Event event{static_cast<int>(job_.events.size()) + 1, 0, "test", std::move(what)};
    admit(job_, event);
    job_.events.push_back(event);
  }

  Spun recorded_spin(bool longer) {
    rigsim::SpinTruth truth = rigsim::steady_spin(made_, longer ? 8.0 : 2.0, 100 * seed_ + job_.events.size());
    truth.fitted = real_;
    rigsim::Recorded recorded = rigsim::simulate(made_.rig, made_.shaft, truth);
    std::vector<std::vector<double>> channels;
    for (auto& channel : recorded.channels) channels.push_back(std::move(channel.volts));
    test::MemoryRecording recording(recorded.sample_rate_Hz, channels);
    const Track measured = track(recording, job_.rig());
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = measured.speed_rad_s;
    for (const SensorTrack& sensor : measured.sensors) {
      const OrderVector& vector = sensor.orders.front();
      spun.readings.push_back({sensor.name, sensor.motion, vector.value, vector.covariance});
    }
    return spun;
  }

  Spun drawn_spin(bool longer) {
    const double speed = made_.balancing_rad_s;
    const auto vectors = rigsim::steady_vectors(made_.rig, made_.shaft, real_, speed);
    if (noise_ == 0.0) noise_ = reading_noise * std::abs(vectors[0]);
    const double noise = noise_ * (longer ? 0.5 : 1.0);
    Spun spun;
    spun.label = "spin";
    spun.speed_rad_s = speed;
    for (std::size_t s = 0; s < vectors.size(); ++s) {
      const Phasor error(noise * random_.normal(), noise * random_.normal());
      spun.readings.push_back({made_.rig.sensors[s].name, Motion::acceleration, vectors[s] + error,
                               noise * noise * Eigen::Matrix2d::Identity()});
    }
    return spun;
  }

  /// As asked, but weighed and set as a person does.
  void fit(const std::vector<FittedWeight>& pieces) {
    Fitted fitted{state_of(job_.events).on_shaft};
    for (const FittedWeight& piece : pieces) {
      fitted.pieces.push_back(piece);
      const double mass_kg = piece.mass_kg * (1.0 + mass_error * random_.normal());
      const double angle_rad = piece.angle_rad + angle_error_rad * random_.normal();
      real_.push_back(rigsim::piece_at(made_.planes[static_cast<std::size_t>(piece.plane)], mass_kg, angle_rad));
    }
    append(fitted);
  }

  Outcome judged(Outcome outcome, const Analysis& analysis) const {
    outcome.said_within = analysis.solution && analysis.solution->judgement.verdict == Verdict::within;
    const auto felt =
        rigsim::equivalent_at_speed(made_.rig, made_.shaft, real_, made_.plane_positions_m(), made_.balancing_rad_s);
    const Eigen::MatrixXd exact = Eigen::MatrixXd::Zero(4, 4);
    const Judgement truth = judge(shaft_, limits_of(shaft_), {felt[0], felt[1]}, exact);
    outcome.truly_within = truth.verdict == Verdict::within;
    return outcome;
  }

  rigsim::Scenario made_;
  rigsim::Random random_;
  std::uint64_t seed_;
  Spins spins_;
  Job job_;
  Shaft shaft_;
  std::vector<rigsim::UnbalanceSlice> real_;
  double noise_ = 0.0;
};

double median(std::vector<int> values) {
  std::sort(values.begin(), values.end());
  const auto middle = values.size() / 2;
  return values.size() % 2 == 1 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
}

/// Five shafts that no one would take for each other, all on the rig of the first.
std::vector<rigsim::Scenario> five_families() {
  std::vector<rigsim::Scenario> families;
  std::vector<Shaft> shafts;
  for (std::uint64_t seed = 1; families.size() < 5; ++seed) {
    rigsim::Scenario drawing = rigsim::random_scenario(seed, 5.0);
    drawing.rig = rigsim::random_scenario(1, 5.0).rig;
    drawing.rig_name = "bay 2";
    Job job;
    job.shaft_file = {"shaft.toml", rigsim::shaft_toml(drawing)};
    const Shaft shaft = job.shaft();
    if (std::any_of(shafts.begin(), shafts.end(), [&](const Shaft& other) { return unlikeness(shaft, other) <= 1.0; }))
      continue;
    shafts.push_back(shaft);
    families.push_back(drawing);
  }
  return families;
}

}  // namespace

TEST_CASE("by the tenth shaft of a family half the spins suffice, and no shaft goes out wrong") {
  constexpr int shafts_each = 60;
  std::vector<Job> past;  // newest first
  std::vector<int> first;
  std::vector<int> tenth;
  std::vector<int> from_tenth;
  int jobs = 0;
  int truly_within = 0;
  int false_within = 0;
  const auto families = five_families();
  for (int number = 0; number < shafts_each; ++number) {
    for (std::size_t f = 0; f < families.size(); ++f) {
      const std::uint64_t seed = 1000 * (f + 1) + static_cast<std::uint64_t>(number);
      rigsim::Random random(seed, 5);
      Bench bench(families[f], one_of(families[f], random), ++jobs, seed);
      const Outcome outcome = bench.run(past);
      past.insert(past.begin(), bench.job());
      if (number == 0) first.push_back(outcome.spins);
      if (number == 9) tenth.push_back(outcome.spins);
      if (number >= 9) from_tenth.push_back(outcome.spins);
      truly_within += outcome.truly_within ? 1 : 0;
      false_within += outcome.said_within && !outcome.truly_within ? 1 : 0;
    }
  }
  int two = 0;
  for (int spins : from_tenth) two += spins == 2 ? 1 : 0;
  fmt::print("two spins suffice for {:.0f} % from the tenth on\n",
             100.0 * two / static_cast<double>(from_tenth.size()));
  fmt::print(
      "{} shafts: median spins of the first {}, of the tenth {}, from the tenth on {}; truly within "
      "{:.1f} %, falsely "
      "within {:.1f} %\n",
      jobs, median(first), median(tenth), median(from_tenth), 100.0 * truly_within / jobs, 100.0 * false_within / jobs);
  CHECK(first.front() >= 4);
  CHECK(median(first) <= 2.0);  // of four families the first shaft learns from the rig
  CHECK(median(tenth) <= 2.0);
  CHECK(median(from_tenth) <= 2.0);
  CHECK(truly_within >= 0.99 * jobs);
  CHECK(false_within <= 0.01 * jobs);
}

TEST_CASE("what the first shafts teach holds for recordings as well") {
  constexpr int shafts = 15;
  const rigsim::Scenario drawing = rigsim::marrow_creek();
  std::vector<Job> past;
  std::vector<int> first;
  std::vector<int> from_tenth;
  int truly_within = 0;
  int false_within = 0;
  for (int number = 0; number < shafts; ++number) {
    const std::uint64_t seed = 40 + static_cast<std::uint64_t>(number);
    rigsim::Random random(seed, 5);
    Bench bench(drawing, one_of(drawing, random), number, seed, Spins::recorded);
    const Outcome outcome = bench.run(past);
    past.insert(past.begin(), bench.job());
    (number == 0 ? first : from_tenth).push_back(outcome.spins);
    if (number > 0 && number < 9) from_tenth.pop_back();
    truly_within += outcome.truly_within ? 1 : 0;
    false_within += outcome.said_within && !outcome.truly_within ? 1 : 0;
  }
  fmt::print(
      "recorded: {} shafts, the first took {} spins, from the tenth on a median of {}; truly within {}, falsely {}\n",
      shafts, first.front(), median(from_tenth), truly_within, false_within);
  CHECK(first.front() >= 4);
  CHECK(median(from_tenth) <= 2.0);
  CHECK(truly_within == shafts);
  CHECK(false_within == 0);
}

namespace {

/// Two sensors, two planes, coefficients drawn around a mean: enough to hold the update against what was put in.
struct Draw {
  CoefficientPrior prior;
  rigsim::Random random;
  Eigen::Matrix2cd alpha;
  std::array<Phasor, 2> shaft;
  static constexpr double noise = 2e-5;

  explicit Draw(std::uint64_t seed, double spread) : random(seed) {
    const std::array<Phasor, 4> mean{Phasor(20.0, 3.0), Phasor(4.0, -2.0), Phasor(3.0, 1.0), Phasor(18.0, -5.0)};
    prior.mean = Eigen::VectorXd(8);
    for (Eigen::Index i = 0; i < 4; ++i) {
      const Phasor& at = mean[static_cast<std::size_t>(i)];
      prior.mean.segment<2>(2 * i) << at.real(), at.imag();
      alpha(i / 2, i % 2) = at + spread * Phasor(random.normal(), random.normal());
    }
    prior.covariance = spread * spread * Eigen::MatrixXd::Identity(8, 8);
    for (Phasor& at : shaft) at = std::polar(random.uniform(300e-6, 900e-6), random.direction_rad());
  }
  /// @param fitted as stated; what is on the shaft differs by the setting errors in `real`.
  SpinReading spin(const std::vector<FittedWeight>& fitted, const std::array<Phasor, 2>& real) {
    const Eigen::Vector2cd on(shaft[0] + real[0], shaft[1] + real[1]);
    const Eigen::Vector2cd read = alpha * on;
    SpinReading reading{"spin", fitted, {}, {}, 200.0};
    for (int s = 0; s < 2; ++s) {
      reading.vectors.push_back(read(s) + noise * Phasor(random.normal(), random.normal()));
      reading.covariances.emplace_back(noise * noise * Eigen::Matrix2d::Identity());
    }
    return reading;
  }
  Phasor set(const FittedWeight& piece) {
    return piece.unbalance_kg_m() * (1.0 + mass_error * random.normal()) *
           std::polar(1.0, angle_error_rad * random.normal());
  }
};

const std::vector<std::string> two = {"A", "B"};

}  // namespace

TEST_CASE("a prior that says nothing leaves the regression as it is") {
  Draw draw(3, 1.0);
  const FittedWeight a{0, 0.01, 0.04, 0.4};
  const FittedWeight b{1, 0.01, 0.04, 2.0};
  const std::vector<SpinReading> spins = {draw.spin({}, {}), draw.spin({a}, {draw.set(a), 0.0}),
                                          draw.spin({b}, {0.0, draw.set(b)})};
  InfluenceOptions options;
  const InfluenceSummary alone = solve_influence(spins, two, two, options);
  options.prior = draw.prior;
  options.prior->covariance *= 1e10;
  const InfluenceSummary updated = solve_influence(spins, two, two, options);
  REQUIRE(alone.usable());
  REQUIRE(updated.usable());
  for (std::size_t p = 0; p < 2; ++p) {
    // The prior's width, 1e5 of the coefficients' scatter, leaves about 1e-8.
    CHECK(std::abs(updated.planes[p].residual_kg_m - alone.planes[p].residual_kg_m) <
          1e-6 * std::abs(alone.planes[p].residual_kg_m));
  }
  CHECK(updated.residual_covariance.isApprox(alone.residual_covariance, 1e-4));
}

TEST_CASE("the uncertainty after one spin, and after the correction, is the true one") {
  // 95 % of chi-squared with four degrees of freedom is 9.488 (any table); of 1000 draws 950 ± 21 (three standard
  // deviations) are inside. First-order propagation and coefficients 5 % apart: one percent more is allowed.
  constexpr double in_ellipse = 9.487729;
  constexpr int draws = 1000;
  int after_one = 0;
  int after_two = 0;
  for (int i = 0; i < draws; ++i) {
    Draw draw(100 + static_cast<std::uint64_t>(i), 0.8);
    InfluenceOptions options;
    options.prior = draw.prior;
    std::vector<SpinReading> spins = {draw.spin({}, {})};
    auto inside = [&](const std::array<Phasor, 2>& on) {
      const InfluenceSummary summary = solve_influence(spins, two, two, options);
      Eigen::Vector4d miss;
      for (Eigen::Index p = 0; p < 2; ++p) {
        const auto plane = static_cast<std::size_t>(p);
        const Phasor off = summary.planes[plane].residual_kg_m - draw.shaft[plane] - on[plane];
        miss.segment<2>(2 * p) << off.real(), off.imag();
      }
      return miss.dot(Eigen::LDLT<Eigen::MatrixXd>(summary.residual_covariance).solve(miss)) <= in_ellipse;
    };
    after_one += inside({}) ? 1 : 0;
    const InfluenceSummary first = solve_influence(spins, two, two, options);
    std::vector<FittedWeight> pieces;
    std::array<Phasor, 2> on;
    for (int p = 0; p < 2; ++p) {
      const Phasor wanted = first.planes[static_cast<std::size_t>(p)].correction_kg_m;
      pieces.push_back({p, std::abs(wanted) / 0.04, 0.04, std::arg(wanted)});
      on[static_cast<std::size_t>(p)] = draw.set(pieces.back());
    }
    spins.push_back(draw.spin(pieces, on));
    after_two += inside(on) ? 1 : 0;
  }
  fmt::print("truth inside the 95 % ellipse: {} of {} after one spin, {} after the correction\n", after_one, draws,
             after_two);
  CHECK(std::abs(after_one - 0.95 * draws) <= 31.0);
  CHECK(std::abs(after_two - 0.95 * draws) <= 31.0);
}

TEST_CASE("coefficients that have left their band are reported") {
  int reported = 0;
  int false_alarms = 0;
  constexpr int draws = 200;
  for (int i = 0; i < draws; ++i) {
    for (const double gain : {1.0, 1.5}) {
      Draw draw(5000 + static_cast<std::uint64_t>(i), 0.8);
      draw.alpha.row(0) *= gain;  // a sensor that has come loose
      const FittedWeight a{0, 0.02, 0.04, 0.4};
      const std::vector<SpinReading> spins = {draw.spin({}, {}), draw.spin({a}, {draw.set(a), 0.0})};
      InfluenceOptions options;
      options.prior = draw.prior;
      const Warnings said = solve_influence(spins, two, two, options).warnings;
      const bool out = !said.empty() && said.front().code == WarningCode::out_of_band;
      (gain == 1.0 ? false_alarms : reported) += out ? 1 : 0;
    }
  }
  CHECK(reported >= 0.99 * draws);
  CHECK(false_alarms <= 3);  // one in a thousand is allowed for
}

TEST_CASE("a shaft between two families starts from a wider prior than one of a family") {
  std::vector<Job> past;
  const rigsim::Scenario middle = rigsim::random_scenario(21, 5.0);
  auto longer = [&](double factor) {
    rigsim::Scenario drawing = middle;
    drawing.rig_name = "bay 2";
    drawing.shaft.ends[0].mass_kg *= factor;
    drawing.shaft.ends[1].mass_kg *= factor;
    drawing.shaft.tube_kg_m *= factor;
    return drawing;
  };
  int number = 0;
  auto make = [&](const rigsim::Scenario& drawing) {
    rigsim::Random random(900 + static_cast<std::uint64_t>(++number), 5);
    Bench bench(drawing, one_of(drawing, random), number, 77 + static_cast<std::uint64_t>(number));
    bench.run({});
    return bench.job();
  };
  for (int i = 0; i < 5; ++i) {
    past.push_back(make(longer(0.8)));
    past.push_back(make(longer(1.25)));
  }
  LearningOptions shafts_alone;
  shafts_alone.teacher = Teacher::family;
  const auto within = prior_from(spins_of(past), spins_of(make(longer(0.8))), shafts_alone);
  const auto between = prior_from(spins_of(past), spins_of(make(longer(1.0))), shafts_alone);
  REQUIRE(within);
  REQUIRE(between);
  CHECK_FALSE(within->between);
  CHECK(within->shafts == 5);
  CHECK(between->between);
  CHECK(between->scatter > within->scatter);
  const auto from_rig = prior_from(spins_of(past), spins_of(make(longer(1.0))));
  REQUIRE(from_rig);
  CHECK(from_rig->of_rig);
  CHECK_FALSE(prior_from(std::vector<ShaftSpins>{}, spins_of(make(longer(1.0)))));
}
