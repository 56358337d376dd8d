#pragma once

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <memory>
#include <string>

#include "counterspot/rig_setup/setup.hpp"
#include "rigsim/first_day.hpp"
#include "rigsim/random.hpp"
#include "tracking/memory_recording.hpp"

namespace counterspot::test {

/// What an owner may get wrong without seeing it.
struct Slips {
  bool knocks_pushed_away_at_a = false;  ///< on the sensor's own side
  bool knocked_the_other_pedestal = false;
  bool said_the_other_side = false;
  bool weight_at_nine = false;
};

/// A new owner: does what each step asks, on a rig that nobody has described.
class Owner {
 public:
  explicit Owner(const rigsim::FirstDay& day, Slips slips = {}) : day_(day), slips_(slips), random_(day.seed, 40) {
    told.name = "bay 7";
    told.full_scale = "10 V";
    told.viewing_end = day.viewed_from_a ? "A" : "B";
    told.sensitivity = {"100 mV/g", "100 mV/g"};
    // The whole weight three times the half of the limit: it changes what is read without doubt.
    const rigsim::PlaneTruth& plane = day.scenario.planes[0];
    mass_kg_ = 1.5 * rigsim::g16_total_kg_m(day.scenario) / plane.radius_m;
    told.weight = fmt::format("{:.2f} g", 1e3 * mass_kg_);
    told.radius = fmt::format("{:.2f} mm", 1e3 * plane.radius_m);
  }

  /// Does the step. @param attempt counted from 0.
  void act(SetupStep step, std::uint64_t attempt) {
    const std::uint64_t seed = 1000 * day_.seed + 20 * attempt + static_cast<std::uint64_t>(step);
    if (step == SetupStep::direction) {
      const bool left = day_.from_a_counter_clockwise != slips_.said_the_other_side;
      told.top_goes = left ? "left" : "right";
      return;
    }
    const std::string name(setup_step_name(step));
    recorded_[name] = recorded(step, seed);
    told.recordings[step] = name;
  }

  /// Beside the steps: this recording shows that one.
  void show(SetupStep step, rigsim::Recorded recorded) {
    const std::string name(setup_step_name(step));
    recorded_[name] = std::move(recorded);
    told.recordings[step] = name;
  }

  /// All steps in their order, and then whatever is asked again, four times at most.
  SetupStanding set_up() {
    for (int step = 0; step <= static_cast<int>(SetupStep::known); ++step) act(static_cast<SetupStep>(step), 0);
    for (std::uint64_t attempt = 1;; ++attempt) {
      SetupStanding standing = stand();
      if (!standing.next) return standing;
      ++asked_again;
      last_again = std::string(setup_step_name(*standing.next)) + ": " + standing.again->why.en;
      if (attempt > 4) return standing;
      act(*standing.next, attempt);
    }
  }

  SetupStanding stand() const {
    return standing_of(told, [this](const std::string& name) { return opened(recorded_.at(name)); });
  }
  const rigsim::Recorded& recording(const std::string& name) const { return recorded_.at(name); }

  static std::unique_ptr<Recording> opened(const rigsim::Recorded& recorded) {
    std::vector<std::vector<double>> channels;
    for (const auto& channel : recorded.channels) {
      channels.push_back(channel.volts);
      for (double& v : channels.back()) v /= recorded.full_scale_V;
    }
    return std::make_unique<MemoryRecording>(recorded.sample_rate_Hz, channels, true);
  }

  SetupTold told;
  int asked_again = 0;
  std::string last_again;

 private:
  /// Weighed well, and put by eye: 1 % and 2 deg, one standard deviation.
  rigsim::UnbalanceSlice put(int plane, double clockwise_rad) {
    const double mass_kg = mass_kg_ * (1.0 + 0.01 * random_.normal());
    const double angle_rad = day_.shaft_angle_of(clockwise_rad) + radians(2.0) * random_.normal();
    return rigsim::piece_at(day_.scenario.planes[static_cast<std::size_t>(plane)], mass_kg, angle_rad);
  }

  rigsim::Recorded recorded(SetupStep step, std::uint64_t seed) {
    switch (step) {
      case SetupStep::rest: return rigsim::at_rest(day_, seed, false);
      case SetupStep::running: return rigsim::at_rest(day_, seed, true);
      case SetupStep::knocks_a:
      case SetupStep::knocks_b: {
        const int end = step == SetupStep::knocks_a ? 0 : 1;
        const bool away = end == 0 && slips_.knocks_pushed_away_at_a;
        return rigsim::knocks(day_, slips_.knocked_the_other_pedestal ? 1 - end : end, !away, seed);
      }
      case SetupStep::hand_turn: return rigsim::hand_turning(day_, hand_turns_asked, seed);
      case SetupStep::slow_run: return rigsim::slow_run(day_, seed);
      case SetupStep::at_a: return rigsim::balancing_spin(day_, {put(0, 0.0)}, seed);
      case SetupStep::at_b: return rigsim::balancing_spin(day_, {put(1, 0.0)}, seed);
      case SetupStep::known:
        return rigsim::balancing_spin(day_, {put(0, (slips_.weight_at_nine ? -0.5 : 0.5) * pi)}, seed);
      case SetupStep::shaker_a: return rigsim::on_shaker(day_, 0, {}, seed);
      case SetupStep::shaker_b: return rigsim::on_shaker(day_, 1, {}, seed);
      default: return rigsim::balancing_spin(day_, {}, seed);
    }
  }

  rigsim::FirstDay day_;
  Slips slips_;
  rigsim::Random random_;
  double mass_kg_ = 0.0;
  std::map<std::string, rigsim::Recorded> recorded_;
};

}  // namespace counterspot::test
