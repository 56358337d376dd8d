#include "mishaps/work.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/error.hpp"
#include "counterspot/guide.hpp"
#include "counterspot/tolerance.hpp"
#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"
#include "rigsim/write.hpp"
#include "support.hpp"

namespace counterspot::test {

namespace {

constexpr double spin_s = 4.0;
constexpr double as_found_times_limit = 6.0;
constexpr double trial_times_limit = 3.0;  // of half the whole limit: a change of the reading by about a half

/// A piece as stated and as it really sits, each set a little differently.
void fit(WorkSpin& spin, const rigsim::Scenario& scenario, int plane, const Phasor& wanted_kg_m,
         rigsim::Random& random) {
  const rigsim::PlaneTruth& place = scenario.planes[static_cast<std::size_t>(plane)];
  const FittedWeight stated{plane, std::abs(wanted_kg_m) / place.radius_m, place.radius_m, std::arg(wanted_kg_m)};
  spin.stated.push_back(stated);
  spin.real.push_back(rigsim::piece_at(place, stated.mass_kg * (1.0 + 0.01 * random.normal()),
                                       stated.angle_rad + radians(1.0) * random.normal()));
}

std::array<Phasor, 2> felt_at_planes(const Work& work, const std::vector<rigsim::UnbalanceSlice>& fitted) {
  const rigsim::Scenario& scenario = work.scenario;
  return rigsim::equivalent_at_speed(scenario.rig, scenario.shaft, fitted, scenario.plane_positions_m(),
                                     scenario.balancing_rad_s);
}

std::array<double, 2> limits_at_planes(const Work& work) {
  const Limits limits = limits_of(read_shaft_text(work.shaft_text, "shaft.toml"));
  return {limits.planes.at(0).limit_kg_m, limits.planes.at(1).limit_kg_m};
}

/// What the correction leaves: so many times its limit at one plane, a third of its limit at the other.
void fit_correction(Work& work, double times_limit, rigsim::Random& random) {
  WorkSpin& spin = work.last();
  const auto limits = limits_at_planes(work);
  const auto as_found = felt_at_planes(work, {});
  const std::size_t worse = random.uniform() < 0.5 ? 0 : 1;
  for (const std::size_t p : {worse, 1 - worse}) {
    const double left = p == worse ? times_limit : std::min(times_limit, 0.3);
    const Phasor wanted = std::polar(left * limits[p], random.direction_rad()) - as_found[p];
    const rigsim::PlaneTruth& place = work.scenario.planes[p];
    const FittedWeight stated{static_cast<int>(p), std::abs(wanted) / place.radius_m, place.radius_m, std::arg(wanted)};
    // What is left is what was asked for, so the piece sits as wanted and is stated a little differently.
    spin.real.push_back(rigsim::piece_at(place, stated.mass_kg, stated.angle_rad));
    spin.stated.push_back(stated);
    spin.stated.back().mass_kg *= 1.0 + 0.01 * random.normal();
    spin.stated.back().angle_rad += radians(1.0) * random.normal();
  }
}

void write_spins(const Work& work, const TemporaryFolder& folder, std::vector<std::filesystem::path>& files) {
  for (std::size_t k = 0; k < work.spins.size(); ++k) {
    files.push_back(folder / fmt::format("{}.wav", k));
    rigsim::write_recording(files.back(), work.spins[k].recorded);
  }
}

void add_to(Said& said, const Warnings& warnings) {
  for (const Warning& warning : warnings) {
    said.codes.push_back(warning_code(warning.code));
    said.sentences.push_back(warning_code(warning.code) + ": " + warning.message);
  }
}

Said refusal(const Error& error) {
  Said said;
  said.refused = true;
  said.codes = {error.code(), "refused"};
  said.sentences = {error.code() + ": " + error.what()};
  return said;
}

Said words_of(const Solution& solution, const Warnings& warnings) {
  Said said;
  Judgement judgement = solution.judgement;
  said.by_numbers = Verdict::within;
  for (const Held& held : judgement.held) {
    if (held.verdict == Verdict::outside || said.by_numbers == Verdict::outside) {
      said.by_numbers = Verdict::outside;
    } else if (held.verdict == Verdict::unsure) {
      said.by_numbers = Verdict::unsure;
    }
  }
  add_to(said, warnings);
  add_to(said, judgement.held_back);
  said.verdict = judgement.verdict;
  for (const Warning& reason : judgement.held_back) said.holding_back.push_back(warning_code(reason.code));
  return said;
}

}  // namespace

void Work::record(std::size_t k) {
  rigsim::SpinTruth truth = rigsim::steady_spin(scenario, spin_s, spins[k].seed);
  truth.fitted = spins[k].real;
  spins[k].recorded = rigsim::simulate(scenario.rig, scenario.shaft, truth);
}

double Work::times_limit() const {
  const auto limits = limits_at_planes(*this);
  const auto felt = felt_at_planes(*this, spins.back().real);
  return std::max(std::abs(felt[0]) / limits[0], std::abs(felt[1]) / limits[1]);
}

Work sound_work(std::uint64_t seed, Ending ending, double times_limit) {
  rigsim::Random random(seed, 100);
  Work work;
  work.scenario = rigsim::random_scenario(seed, as_found_times_limit);
  work.scenario.rig.recorder.sample_rate_Hz = 2560.0;
  work.rig_text = rigsim::rig_toml(work.scenario);
  work.shaft_text = rigsim::shaft_toml(work.scenario);
  const double trial_kg_m = trial_times_limit * 0.5 * rigsim::g16_total_kg_m(work.scenario);
  const char* labels[] = {"as found", "trial at A", "trial at B", "corrected"};
  for (std::size_t k = 0; k < (ending == Ending::corrected ? 4U : 3U); ++k) {
    work.spins.push_back({labels[k], {}, {}, 10 * seed + k, {}});
    const int plane = static_cast<int>(k) - 1;
    if (k == 1 || k == 2)
      fit(work.last(), work.scenario, plane, std::polar(trial_kg_m, random.direction_rad()), random);
    if (k == 3) fit_correction(work, times_limit, random);
    work.record(k);
  }
  return work;
}

Said solved(const Work& work) {
  const TemporaryFolder folder;
  std::vector<std::filesystem::path> files;
  write_spins(work, folder, files);
  try {
    SpinSet set{"rig.toml",
                "shaft.toml",
                read_rig_text(work.rig_text, "rig.toml"),
                read_shaft_text(work.shaft_text, "shaft.toml"),
                {}};
    for (std::size_t k = 0; k < files.size(); ++k)
      set.spins.push_back({work.spins[k].label, files[k], {}, {}, work.spins[k].stated});
    const Solution solution = solve(set);
    return words_of(solution, solution.warnings);
  } catch (const Error& error) {
    return refusal(error);
  }
}

Said through_a_job(const Work& work) {
  const TemporaryFolder folder;
  std::vector<std::filesystem::path> files;
  write_spins(work, folder, files);
  try {
    Job job;
    job.uid = "1";
    job.name = "R-1/1";
    job.rig_file = {"rig.toml", work.rig_text};
    job.shaft_file = {"shaft.toml", work.shaft_text};
    const auto happens = [&](What what) {
      const Event event{static_cast<int>(job.events.size()) + 1, 0, "test", std::move(what)};
      admit(job, event);
      job.events.push_back(event);
    };
    Warnings said;
    for (std::size_t k = 0; k < files.size(); ++k) {
      happens(Fitted{work.spins[k].stated});
      Spun spun = measured_spin(files[k], job.rig(), job.shaft());
      spun.label = work.spins[k].label;
      for (const SaidWarning& warning : spun.warnings)
        said.push_back({warning_code_named(warning.code).value(), warning.sensor, warning.message});
      happens(spun);
    }
    const Analysis analysis = analyse(job, std::nullopt);
    said.insert(said.end(), analysis.warnings.begin(), analysis.warnings.end());
    if (!analysis.solution) throw Error(Trouble::request, "no_solution", analysis.why, analysis.remedy);
    return words_of(*analysis.solution, said);
  } catch (const Error& error) {
    return refusal(error);
  }
}

}  // namespace counterspot::test
