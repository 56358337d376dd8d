// What one recording by itself shows to be wrong: each fault over 40 rigs, and sound recordings that are accused of
// nothing. The table that is printed counts both.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cstdio>
#include <functional>
#include <map>

#include "closed_loop/calm_rig.hpp"
#include "counterspot/units/error.hpp"
#include "rigsim/speed.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr std::uint64_t rigs = 40;
constexpr double tolerated_false = 0.01;  // of sound recordings, for each code

using rigsim::Recorded;
using rigsim::Scenario;
using rigsim::SpinTruth;

/// One way for a spin to come about: the rig, the drive, and what becomes of the recording on its way to the file.
struct Case {
  const char* name;
  std::function<void(Scenario&, rigsim::Random&)> rig = [](Scenario&, rigsim::Random&) {};
  std::function<void(SpinTruth&, const Scenario&)> spin = [](SpinTruth&, const Scenario&) {};
  std::function<void(Recorded&, const SpinTruth&, rigsim::Random&)> recorded = [](Recorded&, const SpinTruth&,
                                                                                  rigsim::Random&) {};
  std::set<std::string> codes = {};  ///< one of which is to be said
};

/// The codes of the warnings, or that of the refusal.
std::set<std::string> said_of(const Case& how, std::uint64_t seed) {
  rigsim::Random random(seed, 900);
  Scenario scenario = calm_rig(seed);
  how.rig(scenario, random);
  Measured measured(scenario);
  measured.rig.tach.pulses_per_revolution = 1;  // whatever there are
  SpinTruth spin = rigsim::steady_spin(scenario, spin_s, 7000 + seed);
  how.spin(spin, scenario);
  Recorded recorded = rigsim::simulate(scenario.rig, scenario.shaft, spin);
  how.recorded(recorded, spin, random);
  try {
    return codes_of(measured(recorded).warnings);
  } catch (const Error& error) {
    return {error.code()};
  }
}

void convert(Recorded& recorded, std::size_t channel, int bits) {
  const double step_V = recorded.full_scale_V / std::ldexp(1.0, bits - 1);
  for (double& v : recorded.channels[channel].volts) v = std::round(v / step_V) * step_V;
}

/// Nothing but the converter, and the mains if they are given.
void open_input(Recorded& recorded, std::size_t channel, double noise_V, double hum_V, int bits,
                rigsim::Random& random) {
  const double phase_rad = random.direction_rad();
  std::vector<double>& volts = recorded.channels[channel].volts;
  for (std::size_t n = 0; n < volts.size(); ++n) {
    const double angle_rad = turn_rad * 50.0 * static_cast<double>(n) / recorded.sample_rate_Hz + phase_rad;
    volts[n] = noise_V * random.normal() +
               hum_V * (std::cos(angle_rad) + 0.3 * std::cos(3.0 * angle_rad) + 0.1 * std::cos(5.0 * angle_rad));
  }
  convert(recorded, channel, bits);
}

/// What the signal reaches turn after turn: 3 % of its samples lie beyond it.
double peak_V(std::vector<double> volts) {
  for (double& v : volts) v = std::abs(v);
  const auto at = volts.begin() + static_cast<std::ptrdiff_t>(0.97 * static_cast<double>(volts.size()));
  std::nth_element(volts.begin(), at, volts.end());
  return *at;
}

/// A charge amplifier that goes no further than this share of what it should, in front of a converter of 24 bits.
void saturate(Recorded& recorded, double share, double low_share, rigsim::Random& random) {
  std::vector<double>& volts = recorded.channels[0].volts;
  const double most_V = peak_V(volts);
  for (double& v : volts) v = std::clamp(v, -low_share * most_V, share * most_V) + 20e-6 * random.normal();
  convert(recorded, 0, 24);
}

std::vector<double>& tach_of(Recorded& recorded) {
  return recorded.channels.back().volts;
}
std::size_t at(const Recorded& recorded, double time_s) {
  return static_cast<std::size_t>(time_s * recorded.sample_rate_Hz);
}
void silence_tach(Recorded& recorded, double from_s, double to_s) {
  auto& tach = tach_of(recorded);
  for (std::size_t n = at(recorded, from_s); n < std::min(at(recorded, to_s), tach.size()); ++n) tach[n] = 0.2;
}

void many_marks(Scenario& scenario, int marks) {
  scenario.rig.tach.pulses_per_revolution = marks;
  scenario.rig.recorder.sample_rate_Hz = marks > 10 ? 20480.0 : sample_rate_Hz;
  scenario.rig.tach.width_rad = turn_rad / marks / 4.0;
  scenario.rig.tach.rise_s = 20e-6;
}

/// Something that turns at another speed than the shaft and is driven by it.
void add_belt(Recorded& recorded, const SpinTruth& spin, double order, double volts, rigsim::Random& random) {
  const rigsim::SpeedCurve curve(spin.speed);
  for (std::size_t channel = 0; channel + 1 < recorded.channels.size(); ++channel) {
    const double phase_rad = random.direction_rad();
    for (std::size_t n = 0; n < recorded.channels[channel].volts.size(); ++n) {
      const double angle_rad = curve.at(static_cast<double>(n) / recorded.sample_rate_Hz).angle_rad;
      recorded.channels[channel].volts[n] += volts * std::cos(order * angle_rad + phase_rad);
    }
  }
}

std::vector<Case> faults() {
  std::vector<Case> all;
  const auto recorded = [&](const char* name, std::set<std::string> codes, const decltype(Case::recorded)& change) {
    Case fault{name};
    fault.codes = std::move(codes);
    fault.recorded = change;
    all.push_back(fault);
  };
  recorded("a channel of zeros", {"dead_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random&) {
    std::fill(r.channels[1].volts.begin(), r.channels[1].volts.end(), 0.0);
  });
  recorded("a channel that is constant", {"dead_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random&) {
    std::fill(r.channels[0].volts.begin(), r.channels[0].volts.end(), 1.2345);
  });
  recorded("dead from a third of the spin on", {"dead_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random&) {
    auto& volts = r.channels[0].volts;
    std::fill(volts.begin() + static_cast<std::ptrdiff_t>(volts.size() / 3), volts.end(), 0.0);
  });
  recorded("open input, 16 bits", {"quiet_channel", "dead_channel"},
           [](Recorded& r, const SpinTruth&, rigsim::Random& random) {
             open_input(r, 1, random.uniform(0.3, 1.5) * 10.0 / 32768.0, 0.0, 16, random);
           });
  recorded("open input, 24 bits", {"quiet_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random& random) {
    open_input(r, 0, random.uniform(8e-6, 80e-6), 0.0, 24, random);
  });
  recorded("open input with mains hum", {"quiet_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random& random) {
    open_input(r, 0, random.uniform(8e-6, 80e-6), random.uniform(1e-3, 50e-3), 24, random);
  });
  recorded("both inputs open with hum", {"quiet_channel"}, [](Recorded& r, const SpinTruth&, rigsim::Random& random) {
    for (std::size_t channel : {0, 1})
      open_input(r, channel, 30e-6, random.uniform(1e-3, 50e-3), 16 + 8 * (random.uniform() < 0.5), random);
  });
  recorded("saturates at 0.5 of the peak", {"flattened"},
           [](Recorded& r, const SpinTruth&, rigsim::Random& random) { saturate(r, 0.5, 0.5, random); });
  recorded("saturates at 0.8 of the peak", {"flattened"},
           [](Recorded& r, const SpinTruth&, rigsim::Random& random) { saturate(r, 0.8, 0.8, random); });
  recorded("saturates at one end", {"flattened"},
           [](Recorded& r, const SpinTruth&, rigsim::Random& random) { saturate(r, 0.6, 10.0, random); });
  recorded("clips at full scale, turn after turn", {"flattened"}, [](Recorded& r, const SpinTruth&, rigsim::Random&) {
    auto& volts = r.channels[0].volts;
    const double gain = 14.0 / peak_V(volts);
    for (double& v : volts) v = std::clamp(gain * v, -10.0, 10.0);
  });
  recorded("the tach stops at 60 %", {"tach_lost"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) { silence_tach(r, 0.6 * spin_s, spin_s); });
  recorded("the tach begins late", {"tach_lost"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) { silence_tach(r, 0.0, 0.9); });
  recorded("ten turns without the tach", {"tach_lost"}, [](Recorded& r, const SpinTruth& spin, rigsim::Random&) {
    silence_tach(r, 1.2, 1.2 + 10.0 * turn_rad / spin.speed.start_rad_s);
  });
  recorded("half the pulse height from 55 % on", {"tach_lost", "tach_changed"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) {
             auto& tach = tach_of(r);
             for (std::size_t n = at(r, 0.55 * spin_s); n < tach.size(); ++n) tach[n] = 0.2 + 0.5 * (tach[n] - 0.2);
           });
  recorded("two thirds of the pulse height", {"tach_lost", "tach_changed"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) {
             auto& tach = tach_of(r);
             for (std::size_t n = at(r, 0.55 * spin_s); n < tach.size(); ++n) tach[n] = 0.2 + 0.67 * (tach[n] - 0.2);
           });
  recorded("a baseline that drifts by 2 V", {"tach_changed"}, [](Recorded& r, const SpinTruth&, rigsim::Random&) {
    auto& tach = tach_of(r);
    for (std::size_t n = 0; n < tach.size(); ++n)
      tach[n] += 2.0 * static_cast<double>(n) / static_cast<double>(tach.size());
  });
  recorded("a baseline that drifts by 4 V", {"tach_changed", "tach_lost"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) {
             auto& tach = tach_of(r);
             for (std::size_t n = 0; n < tach.size(); ++n)
               tach[n] += 4.0 * static_cast<double>(n) / static_cast<double>(tach.size());
           });
  for (const auto& [name, marks] : {std::pair("two even marks stated as one", 2), std::pair("four stated as one", 4)}) {
    Case fault{name};
    fault.codes = {"speed_doubted", "more_marks"};
    fault.rig = [marks = marks](Scenario& scenario, rigsim::Random&) { many_marks(scenario, marks); };
    all.push_back(fault);
  }
  Case teeth{"60 teeth stated as one"};
  teeth.codes = {"speed_doubted", "impossible_speed"};
  teeth.rig = [](Scenario& scenario, rigsim::Random&) { many_marks(scenario, 60); };
  all.push_back(teeth);
  recorded("ms read as s", {"impossible_speed"},
           [](Recorded& r, const SpinTruth&, rigsim::Random&) { r.sample_rate_Hz *= 1e-3; });
  return all;
}

std::vector<Case> sound_ways() {
  std::vector<Case> all;
  all.push_back({"a calm rig"});
  Case balanced{"a very well balanced shaft, quietest rig"};
  balanced.rig = [](Scenario& scenario, rigsim::Random&) {
    for (auto& slice : scenario.shaft.slices) slice.unbalance_kg_m *= 0.01;
    for (auto& joint : scenario.shaft.joints) joint *= 0.01;
    for (auto& sensor : scenario.rig.sensors) {
      sensor.noise_si_rtHz = 3e-4;
      sensor.pink_si = 0.0;
    }
  };
  all.push_back(balanced);
  Case hum{"hum on the sensors"};
  hum.rig = [](Scenario& scenario, rigsim::Random& random) {
    for (auto& sensor : scenario.rig.sensors) sensor.hum_V = random.uniform(1e-3, 20e-3);
  };
  all.push_back(hum);
  Case belt{"a belt at order 0.43"};
  belt.recorded = [](Recorded& r, const SpinTruth& spin, rigsim::Random& random) {
    add_belt(r, spin, 0.43, std::exp(random.uniform(std::log(2e-3), std::log(0.3))), random);
  };
  all.push_back(belt);
  Case any_belt{"a belt at any order below 1"};
  any_belt.recorded = [](Recorded& r, const SpinTruth& spin, rigsim::Random& random) {
    add_belt(r, spin, random.uniform(0.2, 0.9), std::exp(random.uniform(std::log(2e-3), std::log(0.1))), random);
  };
  all.push_back(any_belt);
  Case stops{"the shaft comes to rest within the recording"};
  stops.spin = [](SpinTruth& spin, const Scenario&) {
    spin.duration_s = 8.0;
    spin.speed.hunting_rad_s = 0.0;
    spin.speed.stretches = {{4.0, spin.speed.start_rad_s}, {2.0, 0.01}};
  };
  all.push_back(stops);
  Case starts{"the shaft comes from rest within the recording"};
  starts.spin = [](SpinTruth& spin, const Scenario& scenario) {
    spin.duration_s = 8.0;
    spin.speed.start_rad_s = 0.01;
    spin.speed.hunting_rad_s = 0.0;
    spin.speed.stretches = {{1.5, 0.01}, {2.0, scenario.balancing_rad_s}};
  };
  all.push_back(starts);
  return all;
}

}  // namespace

TEST_CASE("each fault that one recording shows is named, on 40 rigs each") {
  for (const Case& fault : faults()) {
    int named = 0;
    std::map<std::string, int> else_said;
    for (std::uint64_t seed = 0; seed < rigs; ++seed) {
      const auto said = said_of(fault, 4000 + seed);
      named += std::any_of(said.begin(), said.end(), [&](const auto& code) { return fault.codes.count(code) > 0; });
      for (const auto& code : said) ++else_said[code];
    }
    std::string all;
    for (const auto& [code, count] : else_said) all += fmt::format(" {} {}", code, count);
    std::fputs(fmt::format("{:<40} {:>2} of {}  ({} )\n", fault.name, named, rigs, all).c_str(), stdout);
    INFO(fault.name << all);
    CHECK(named == static_cast<int>(rigs));
  }
}

TEST_CASE("sound recordings: each code that speaks against one recording is said of at most one in a hundred") {
  constexpr std::uint64_t recordings = 100;
  for (const Case& way : sound_ways()) {
    std::map<std::string, int> said;
    for (std::uint64_t seed = 0; seed < recordings; ++seed) {
      for (const auto& code : said_of(way, 5000 + seed)) ++said[code];
    }
    std::string all;
    for (const auto& [code, count] : said) all += fmt::format(" {} {}", code, count);
    std::fputs(fmt::format("{:<48} of {}: {}\n", way.name, recordings, all.empty() ? " nothing" : all).c_str(), stdout);
    for (const char* code : {"dead_channel", "quiet_channel", "flattened", "clipped", "tach_lost", "tach_changed",
                             "speed_doubted", "impossible_speed", "more_marks", "loose_cable"}) {
      INFO(way.name << ": " << code);
      CHECK(said[code] <= static_cast<int>(tolerated_false * recordings));
    }
  }
}
