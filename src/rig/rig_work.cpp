#include "counterspot/rig/rig_work.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/files/files.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/units/error.hpp"
#include "job/refused.hpp"
#include "rig/rig_results.hpp"

namespace counterspot {

namespace {

constexpr double speed_held = 0.025;  // beside what is asked: the rule |Z| ~ Ω^n would have to bear more
constexpr double known_mass_over_umar = 50.0;

RigClaims claims_of(const Rig& rig) {
  if (rig.claims) return *rig.claims;
  throw refused("no_claims", fmt::format("the file of rig {} does not say what it is to reach", rig.name),
                "add [qualification] with smallest_residual = \"80 g·mm\"");
}

PlannedRigSpin planned(const Shaft& shaft, const std::vector<std::pair<int, double>>& masses, double unbalance_kg_m) {
  PlannedRigSpin spin{RigPlace::sensors, {}};
  for (const auto& [plane, angle_rad] : masses) {
    const double radius_m = shaft.planes[static_cast<std::size_t>(plane)].radius_m;
    spin.fitted.push_back({plane, unbalance_kg_m / radius_m, radius_m, angle_rad});
  }
  return spin;
}

const RigSpun& spun_of_event(const RigEvent& event) {
  return std::get<RigSpun>(event.what);
}

/// One step of the fold; a spin that was taken back never gets here, nor a close before a taking back.
void fold_in(RigWorkState& state, const RigEvent& event) {
  if (std::holds_alternative<RigSpun>(event.what)) {
    state.spins[static_cast<std::size_t>(spun_of_event(event).step)] = event;
    state.last_spin = event;
  } else if (std::holds_alternative<RigClosed>(event.what)) {
    state.open = false;
    state.closing = event;
  }
}

/// What the first spin was made at, or what others say that it must be.
std::optional<double> balancing_speed(const RigWork& work, const RigWorkState& state) {
  for (std::size_t k = 0; k < state.plan.size(); ++k)
    if (state.spins[k]) return *spun_of_event(*state.spins[k]).spun.speed_rad_s / state.plan[k].speed_fraction;
  if (work.task != RigTask::qualification && work.yardstick) return work.yardstick->speed_rad_s;
  return std::nullopt;
}

void admit_readings(const RigWork& work, const RigWorkState& state, const Spun& spun) {
  const Rig rig = work.rig();
  auto same = [](const Sensor& sensor, const SensorReading& reading) { return sensor.name == reading.sensor; };
  if (rig.sensors.size() != 2 ||
      !std::equal(rig.sensors.begin(), rig.sensors.end(), spun.readings.begin(), spun.readings.end(), same)) {
    throw refused("wrong_sensors", "the spin does not have the rig's sensors, or they are not two",
                  "give one reading for each of the two sensors of the rig's file");
  }
  for (std::size_t s = 0; s < spun.readings.size(); ++s) {
    const SensorReading& reading = spun.readings[s];
    if (!std::isfinite(std::abs(reading.value)) || !reading.covariance.allFinite()) {
      throw refused("bad_reading", fmt::format("sensor {} gave a reading that is not a number", reading.sensor),
                    "check the sensor and spin again");
    }
    const bool other = std::any_of(state.spins.begin(), state.spins.end(), [&](const auto& spin) {
      return spin && spun_of_event(*spin).spun.readings[s].motion != reading.motion;
    });
    const bool unlike = work.yardstick && work.yardstick->motions[s] != reading.motion;
    if (!other && !unlike) continue;
    throw refused("mixed_motion",
                  fmt::format("sensor {} gives {} in this spin, and something else before", reading.sensor,
                              motion_name(reading.motion)),
                  "give all vectors as one kind of motion");
  }
}

void admit_speed(const RigWork& work, const RigWorkState& state, const Spun& spun) {
  if (!spun.speed_rad_s) {
    throw refused("no_speed", "the spin does not say at what speed it was made", "state it with --speed \"1600 rpm\"");
  }
  const auto speed = balancing_speed(work, state);
  if (!speed) return;
  const double wanted = *speed * state.plan[static_cast<std::size_t>(state.next)].speed_fraction;
  if (std::abs(*spun.speed_rad_s / wanted - 1.0) <= speed_held) return;
  throw refused(
      "wrong_speed",
      fmt::format("the spin was made at {:.0f} rpm, and {:.0f} rpm were asked", rpm(*spun.speed_rad_s), rpm(wanted)),
      fmt::format("spin again within {:.1f} % of {:.0f} rpm", 100.0 * speed_held, rpm(wanted)));
}

void admit_spin(const RigWork& work, const RigWorkState& state, const RigSpun& made) {
  if (!state.open || made.step != state.next || state.complete())
    throw refused("rig_work_closed", fmt::format("this {} asks for no spin", rig_task_name(work.task)),
                  "begin anew, or take its last spin back with a reason");
  admit_readings(work, state, made.spun);
  admit_speed(work, state, made.spun);
  for (const FittedWeight& piece : made.fitted.value_or(std::vector<FittedWeight>())) {
    const bool finite = std::isfinite(piece.mass_kg) && std::isfinite(piece.angle_rad);
    if (finite && piece.plane >= 0 && piece.plane < 2 && piece.radius_m > 0.0 && piece.mass_kg != 0.0) continue;
    throw refused("bad_piece", "a test mass has no mass, no radius or no plane of the reference shaft",
                  "state plane, mass, radius and angle of every test mass");
  }
}

void admit_taking_back(const RigWorkState& state, const TakenBack& back) {
  if (back.reason.empty())
    throw refused("no_reason", "a spin is to be taken back without a reason", "say why, in a few words");
  if (!state.last_spin || state.last_spin->number != back.number)
    throw refused("nothing_to_take_back", "there is no spin that could be taken back", "see 'rig show'");
}

void admit_closing(const RigWork& work, const RigWorkState& state, const RigClosed& closed) {
  if (!state.open) {
    throw refused("rig_work_closed", fmt::format("this {} is closed", rig_task_name(work.task)), "begin a new one");
  }
  if (std::holds_alternative<std::monostate>(closed.result) && closed.reason.empty())
    throw refused("no_reason", "it is to be ended before all spins are made, without a reason",
                  "say why, in a few words");
}

}  // namespace

std::string_view rig_task_name(RigTask task) {
  switch (task) {
    case RigTask::qualification: return "qualification";
    case RigTask::check: return "check";
    case RigTask::recalibration: return "recalibration";
  }
  return "qualification";
}

std::vector<PlannedRigSpin> plan_of(RigTask task, const Rig& rig, const Shaft& reference) {
  const RigClaims claims = claims_of(rig);
  if (task == RigTask::qualification) return qualification_plan(reference, claims);
  refuse_unless_two_planes(reference);
  const double known = known_mass_over_umar * claims.umar_kg_m;
  if (task == RigTask::check)
    return {planned(reference, {}, known), planned(reference, {{0, 0.0}, {1, 0.25 * turn_rad}}, known)};
  return {planned(reference, {}, known), planned(reference, {{0, 0.0}}, known), planned(reference, {{1, 0.0}}, known)};
}

void refuse_no_sensitivity(const Rig& rig) {
  for (const Sensor& sensor : rig.sensors) {
    if (sensor.sensitivity.motion != Motion::unscaled) continue;
    throw refused("no_sensitivity", fmt::format("sensor {} has no sensitivity that could be put right", sensor.name),
                  "qualify the rig anew, and go on: correction and verdict need ratios alone");
  }
}

void admit_beginning(RigTask task, const Rig& rig, const Shaft& reference) {
  plan_of(task, rig, reference);
  if (task == RigTask::recalibration) refuse_no_sensitivity(rig);
}

RigWorkState state_of(const RigWork& work) {
  RigWorkState state;
  state.plan = plan_of(work.task, work.rig(), work.shaft());
  state.spins.resize(state.plan.size());
  std::set<int> taken_back;
  int last_back = 0;
  for (const RigEvent& event : work.events) {
    const auto* back = std::get_if<TakenBack>(&event.what);
    if (back == nullptr) continue;
    taken_back.insert(back->number);
    last_back = event.number;
  }
  for (const RigEvent& event : work.events) {
    const bool undone = std::holds_alternative<RigClosed>(event.what) && event.number < last_back;
    if (!undone && !taken_back.contains(event.number)) fold_in(state, event);
  }
  const auto open = std::find_if(state.spins.begin(), state.spins.end(), [](const auto& spin) { return !spin; });
  state.next = static_cast<int>(open - state.spins.begin());
  return state;
}

void admit(const RigWork& work, const RigWhat& what) {
  const RigWorkState state = state_of(work);
  if (const auto* spun = std::get_if<RigSpun>(&what)) admit_spin(work, state, *spun);
  if (const auto* back = std::get_if<TakenBack>(&what)) admit_taking_back(state, *back);
  if (const auto* closed = std::get_if<RigClosed>(&what)) admit_closing(work, state, *closed);
}

RigResult result_of(const RigWork& work) {
  const RigWorkState state = state_of(work);
  std::vector<RigSpin> spins;
  std::vector<Motion> motions;
  for (const auto& spin : state.spins) {
    if (!spin) break;
    const RigSpun& made = spun_of_event(*spin);
    RigSpin row{{}, {}, *made.spun.speed_rad_s, made.fitted};
    motions.clear();
    for (const SensorReading& reading : made.spun.readings) {
      row.vectors.push_back(reading.value);
      row.covariances.push_back(reading.covariance);
      motions.push_back(reading.motion);
    }
    spins.push_back(std::move(row));
  }
  const Rig rig = work.rig();
  const Shaft shaft = work.shaft();
  if (work.task != RigTask::qualification) return held_against_yardstick(work, state.plan, spins);
  const auto record = work.yardstick ? std::optional(work.yardstick->coefficients) : std::nullopt;
  return qualify(rig, shaft, claims_of(rig), spins, motions, record);
}

std::optional<RigYardstick> yardstick_of(const RigWork& work) {
  const RigWorkState state = state_of(work);
  const auto* result = state.result<Qualification>();
  if (result == nullptr || !result->passed) return std::nullopt;
  const Spun& bare = spun_of_event(*state.spins.front()).spun;
  RigYardstick yardstick;
  yardstick.shaft = work.shaft().id;
  yardstick.at_unix_s = state.closing->at_unix_s;
  yardstick.speed_rad_s = *bare.speed_rad_s;
  for (std::size_t s : {0U, 1U}) {
    yardstick.motions.push_back(bare.readings[s].motion);
    yardstick.bare[s] = bare.readings[s].value;
  }
  yardstick.coefficients = result->coefficients;
  yardstick.umar_kg_m = result->umar_kg_m;
  yardstick.remount_kg_m = result->remount_kg_m;
  if (work.shaft().supports) {
    const Eigen::Matrix4d covariance = result->remount_kg_m * result->remount_kg_m * Eigen::Matrix4d::Identity();
    yardstick.adapters =
        adapters_at_supports({{result->adapters_kg_m[0], result->adapters_kg_m[1]}, covariance}, work.shaft());
  }
  return yardstick;
}

std::optional<ReferenceShaft> reference_shaft_of(const RigWork& work) {
  const auto yardstick = yardstick_of(work);
  if (!yardstick) return std::nullopt;
  return ReferenceShaft{
      work.uid,           yardstick->at_unix_s,   work.rig_file, work.shaft_file, yardstick->speed_rad_s,
      yardstick->motions, yardstick->coefficients};
}

namespace {

Mounting mounting_of(const RigWorkState& state) {
  if (state.next == 0) return Mounting::mark_to_mark;
  const PlannedRigSpin& spin = state.plan[static_cast<std::size_t>(state.next)];
  return spin.place == RigPlace::adapters ? Mounting::again : Mounting::left_alone;
}

Refusal why_no_result(const RigWork& work) {
  try {
    result_of(work);
  } catch (const Error& error) {
    return {error.what(), error.remedy()};
  }
  return {};
}

}  // namespace

RigStep next_step(const RigWork& work) {
  const RigWorkState state = state_of(work);
  RigStep step;
  step.of = static_cast<int>(state.plan.size());
  if (state.closing) step.closed = std::get<RigClosed>(state.closing->what);
  if (!step.closed && state.complete()) step.no_result = why_no_result(work);
  if (step.closed || state.complete()) return step;
  step.number = state.next + 1;
  step.spin = state.plan[static_cast<std::size_t>(state.next)];
  if (const auto speed = balancing_speed(work, state)) step.speed_rad_s = *speed * step.spin.speed_fraction;
  if (work.task == RigTask::qualification) step.mounting = mounting_of(state);
  return step;
}

}  // namespace counterspot
