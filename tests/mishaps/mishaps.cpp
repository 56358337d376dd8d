#include "mishaps/mishaps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rigsim/dynamics.hpp"
#include "rigsim/random.hpp"

namespace counterspot::test {

namespace {

using Codes = std::vector<std::string>;
using Volts = std::vector<double>;
using Which = std::vector<std::size_t>;

struct Sensors {
  const char* name;
  Which which;
};
const std::vector<Sensors> each_and_both = {{"A", {0}}, {"B", {1}}, {"both", {0, 1}}};

Volts& volts(Work& work, std::size_t spin, std::size_t channel) {
  return work.spins[spin].recorded.channels[channel].volts;
}

std::size_t last_of(const Work& work) {
  return work.spins.size() - 1;
}

double step_V(const Work& work) {
  return work.scenario.rig.recorder.full_scale_V / std::ldexp(1.0, work.scenario.rig.recorder.bits - 1);
}

/// What an open input shows: the converter's own noise, two steps of it.
void leave_only_noise(Work& work, std::size_t channel) {
  rigsim::Random random(work.last().seed, 500 + channel);
  for (double& v : volts(work, last_of(work), channel)) v = std::round(2.0 * random.normal()) * step_V(work);
}

/// … with mains hum on the open cable.
void leave_only_mains(Work& work, std::size_t channel) {
  leave_only_noise(work, channel);
  Volts& signal = volts(work, last_of(work), channel);
  const double rate = turn_rad * work.scenario.rig.mains_Hz / work.last().recorded.sample_rate_Hz;
  for (std::size_t i = 0; i < signal.size(); ++i)
    signal[i] += std::round(5e-3 * std::cos(rate * static_cast<double>(i)) / step_V(work)) * step_V(work);
}

/// The sensor's signal is cut off on its way to the converter, each half-wave at 60 % of its height.
void flatten(Work& work, std::size_t channel) {
  Volts& signal = volts(work, last_of(work), channel);
  Volts sorted = signal;
  std::sort(sorted.begin(), sorted.end());
  const double height = 0.6 * sorted[static_cast<std::size_t>(0.99 * static_cast<double>(sorted.size()))];
  for (double& v : signal) v = std::clamp(v, -height, height);
}

/// A converter whose step is twice what the larger reading of the limit gives in volts.
void coarsen(Work& work) {
  rigsim::ShaftTruth at_limit = work.scenario.shaft;
  at_limit.slices = {{work.scenario.planes[0].position_m, rigsim::g16_total_kg_m(work.scenario)},
                     {work.scenario.planes[1].position_m, rigsim::g16_total_kg_m(work.scenario)}};
  const auto reading = rigsim::steady_vectors(work.scenario.rig, at_limit, {}, work.scenario.balancing_rad_s);
  for (std::size_t s = 0; s < work.tach(); ++s) {
    const double step = 2.0 * std::abs(reading[s]) * work.scenario.rig.sensors[s].volts_per_si;
    for (std::size_t k = 0; k < work.spins.size(); ++k)
      for (double& v : volts(work, k, s)) v = step * std::round(v / step);
  }
}

/// The sensor was switched on a moment before: its rest level settles by 0.2 V with 1.5 s.
void let_it_settle(Work& work, std::size_t channel) {
  Volts& signal = volts(work, last_of(work), channel);
  for (std::size_t i = 0; i < signal.size(); ++i)
    signal[i] += 0.2 * std::exp(-static_cast<double>(i) / work.last().recorded.sample_rate_Hz / 1.5);
}

struct Factor {
  const char* name;
  double value;
};

void add_factors(std::vector<Mishap>& all, Ending ending) {
  const std::vector<Factor> factors = {{"a tenth", 0.1}, {"a half", 0.5}, {"twice", 2.0}, {"ten times", 10.0}};
  const std::size_t spins = ending == Ending::corrected ? 4 : 3;
  for (const Factor& factor : factors) {
    for (std::size_t k = 0; k < spins; ++k) {
      for (const Sensors& sensors : each_and_both) {
        const auto plant = [=](Work& work) {
          for (const std::size_t s : sensors.which)
            for (double& v : volts(work, k, s)) v *= factor.value;
        };
        all.push_back({fmt::format("sensitivity {}, spin {} of {}, sensor {}", factor.name, k + 1, spins, sensors.name),
                       {"wrong_sensitivity", "sensor_changed", "spins_disagree"},
                       plant});
      }
    }
  }
}

void add_silence(std::vector<Mishap>& all) {
  const Codes silent = {"dead_channel", "quiet_channel", "refused"};
  for (const Sensors& sensors : each_and_both) {
    const auto in_each = [&](const char* name, void (*plant)(Work&, std::size_t)) {
      all.push_back({fmt::format("{}, last spin, sensor {}", name, sensors.name), silent, [=](Work& work) {
                       for (const std::size_t s : sensors.which) plant(work, s);
                     }});
    };
    in_each("zeros", [](Work& work, std::size_t s) {
      std::fill_n(volts(work, last_of(work), s).begin(), volts(work, last_of(work), s).size(), 0.0);
    });
    in_each("converter noise only", leave_only_noise);
    in_each("mains hum only", leave_only_mains);
  }
}

/// Two cables exchanged or the wires of one, where spins to spare can show it.
void add_cables(std::vector<Mishap>& all) {
  for (const std::size_t k : {0U, 1U, 2U, 3U}) {
    all.push_back({fmt::format("cables exchanged, spin {} of 4", k + 1),
                   {"swapped_sensors", "sensor_changed", "spins_disagree"},
                   [k](Work& work) { std::swap(volts(work, k, 0), volts(work, k, 1)); }});
    all.push_back({fmt::format("sensor B turned over, spin {} of 4", k + 1),
                   {"inverted_polarity", "spins_disagree"},
                   [k](Work& work) {
                     for (double& v : volts(work, k, 1)) v = -v;
                   }});
  }
}

void alter_tach(Work& work, const std::function<double(double part, double volts)>& altered) {
  Volts& signal = volts(work, last_of(work), work.tach());
  const auto count = static_cast<double>(signal.size());
  for (std::size_t i = 0; i < signal.size(); ++i) signal[i] = altered(static_cast<double>(i) / count, signal[i]);
}

/// The rig as it is, with so many marks on the shaft.
void add_marks(Work& work, int marks) {
  work.scenario.rig.tach.pulses_per_revolution = marks;
  work.scenario.rig.tach.width_rad = 1.0 / marks;
  work.record(last_of(work));
}

/// The piece of the trial at plane A as the operator states it.
void state_otherwise(Work& work, const std::function<void(FittedWeight&)>& change) {
  change(work.spins[1].stated.front());
}

}  // namespace

std::vector<Mishap> mishaps_with_recordings(Ending ending) {
  std::vector<Mishap> all;
  add_silence(all);
  add_factors(all, ending);
  if (ending == Ending::corrected) add_cables(all);
  for (const Sensors& sensors : each_and_both) {
    all.push_back({fmt::format("signal flattened, last spin, sensor {}", sensors.name),
                   {"flattened", "refused"},
                   [=](Work& work) {
                     for (const std::size_t s : sensors.which) flatten(work, s);
                   }});
    all.push_back(
        {fmt::format("rest level settles, last spin, sensor {}", sensors.name), {"moving_level"}, [=](Work& work) {
           for (const std::size_t s : sensors.which) let_it_settle(work, s);
         }});
  }
  all.push_back({"last recording is that of the first spin", {"refused"}, [](Work& work) {
                   work.last().recorded = work.spins.front().recorded;
                 }});
  all.push_back({"last recording is that of the spin before", {"refused"}, [](Work& work) {
                   work.last().recorded = work.spins[work.spins.size() - 2].recorded;
                 }});
  all.push_back({"converter too coarse for the limit", {"coarse_steps", "refused"}, coarsen});
  all.push_back({"a limit for one plane only", {"refused"}, [](Work& work) {
                   const auto grade = work.shaft_text.find("grade = \"G16\"");
                   work.shaft_text.replace(grade, 13, "limit = { A = \"4000 g·mm\" }");
                 }});
  return all;
}

std::vector<Mishap> mishaps_with_the_tach() {
  std::vector<Mishap> all;
  const auto in_tach = [&](const char* name, const Codes& codes, double (*altered)(double, double)) {
    all.push_back({name, codes, [altered](Work& work) { alter_tach(work, altered); }});
  };
  in_tach("tach stops at 60 % of the last spin", {"tach_lost", "refused"},
          [](double part, double v) { return part < 0.6 ? v : 0.2; });
  in_tach("tach is gone for ten turns of the last spin", {"tach_lost", "refused"},
          [](double part, double v) { return part < 0.4 || part > 0.5 ? v : 0.2; });
  in_tach("tach has half its height from 60 % on", {"tach_changed", "tach_lost", "refused"},
          [](double part, double v) { return part < 0.6 ? v : 0.2 + 0.5 * (v - 0.2); });
  in_tach("tach's baseline drifts by 3 V", {"tach_changed", "tach_lost", "refused"},
          [](double part, double v) { return v + 3.0 * part; });
  all.push_back(
      {"two marks, one stated, last spin", {"speed_doubted", "refused"}, [](Work& work) { add_marks(work, 2); }});
  all.push_back(
      {"60 teeth, one stated, last spin", {"speed_doubted", "refused"}, [](Work& work) { add_marks(work, 60); }});
  return all;
}

std::vector<Mishap> mishaps_with_weights() {
  const Codes contradict = {"spins_disagree", "trials_alike", "reading_moved"};
  std::vector<Mishap> all;
  const auto stated = [&](const char* name, void (*change)(FittedWeight&)) {
    all.push_back({name, contradict, [change](Work& work) { state_otherwise(work, change); }});
  };
  stated("trial at A stated at B", [](FittedWeight& piece) { piece.plane = 1; });
  stated("trial at A stated a quarter turn on", [](FittedWeight& piece) { piece.angle_rad += 0.25 * turn_rad; });
  stated("trial at A stated on the other side", [](FittedWeight& piece) { piece.angle_rad += 0.5 * turn_rad; });
  stated("trial at A stated with twice its mass", [](FittedWeight& piece) { piece.mass_kg *= 2.0; });
  stated("trial at A stated with half its mass", [](FittedWeight& piece) { piece.mass_kg *= 0.5; });
  all.push_back({"trial at A on and not stated", contradict, [](Work& work) { work.spins[1].stated.clear(); }});
  all.push_back({"trial at A stated and not on", {"spins_disagree", "trial_no_effect"}, [](Work& work) {
                   work.spins[1].real.clear();
                   work.record(1);
                 }});
  all.push_back({"trial at A stayed on and is not stated with the correction", contradict, [](Work& work) {
                   work.last().real.push_back(work.spins[1].real.front());
                   work.record(last_of(work));
                 }});
  return all;
}

}  // namespace counterspot::test
