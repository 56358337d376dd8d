#include "counterspot/job/job.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/files/files.hpp"
#include "counterspot/units/error.hpp"
#include "job/refused.hpp"

namespace counterspot {

namespace {

template <typename... Each>
struct Cases : Each... {
  using Each::operator()...;
};
template <typename... Each>
Cases(Each...) -> Cases<Each...>;

const What& what_of(const std::vector<Event>& events, int number) {
  return events[static_cast<std::size_t>(number - 1)].what;
}

/// The fold of entries as they come: what an entry costs does not grow with those before it.
class Fold {
 public:
  explicit Fold(const std::vector<Event>& events) : events_(events) {}

  void fold_in(const Event& event) {
    const bool signs = std::holds_alternative<Signed>(event.what);
    if (!signs) standing_.signatures.clear();
    std::visit(Cases{[&](const Spun&) { standing_.counted_spins.push_back(event.number); },
                     [&](const Fitted&) { standing_.last_change = event.number; },
                     [&](const TakenBack& back) { take_back(back.number, event.number); },
                     [&](const Signed&) {
                       if (!standing_.open) standing_.signatures.push_back(event.number);
                     },
                     [&](const Closed&) { closings_.insert(event.number); }, [](const Ordered&) {}},
               event.what);
    standing_.open = closings_.empty();
    standing_.closing = closings_.empty() ? std::nullopt : std::optional(*closings_.rbegin());
  }
  const JobStanding& standing() const { return standing_; }

 private:
  void take_back(int number, int by) {
    standing_.taken_back.insert(number);
    closings_.erase(number);
    auto& spins = standing_.counted_spins;
    const auto spin = std::lower_bound(spins.begin(), spins.end(), number);
    if (spin != spins.end() && *spin == number) spins.erase(spin);
    // Taking back what was fitted changes what is known to be on the shaft, so a residual is final only after a new
    // spin.
    if (std::holds_alternative<Fitted>(what_of(events_, number))) standing_.last_change = by;
  }

  const std::vector<Event>& events_;
  JobStanding standing_;
  std::set<int> closings_;
};

/// @param entries so many the job has, or had when this was asked.
const Event& entry(const Job& job, int number, std::size_t entries) {
  if (number < 1 || number > static_cast<int>(entries)) {
    throw refused("no_such_entry", fmt::format("job {} has no entry {}", job.name, number),
                  fmt::format("its entries are 1 to {}; 'job show' lists them", entries));
  }
  return job.events[static_cast<std::size_t>(number - 1)];
}

/// What no version ever said of its own numbers, so that somebody else did.
void admit_finding(const Job& job, const std::optional<Finding>& finding) {
  if (!finding) return;
  for (const Held& held : finding->held) {
    const bool said_within = held.verdict == Verdict::within || finding->verdict == Verdict::within;
    if (!said_within || held.residual_kg_m <= held.limit_kg_m) continue;
    throw refused(
        "bad_finding",
        fmt::format("job {}: {} is said to be within with a residual of {:.3g} g·mm and a limit of {:.3g} g·mm",
                    job.name, held.place.text(), in_g_mm(held.residual_kg_m), in_g_mm(held.limit_kg_m)),
        "nothing of this was kept; take it from the log where it was measured, or spin the shaft anew");
  }
}

void admit_spin(const Job& job, const Spun& spun) {
  admit_finding(job, spun.finding);
  const Rig& rig = job.rig();
  auto same = [](const Sensor& sensor, const SensorReading& reading) { return sensor.name == reading.sensor; };
  if (!std::equal(rig.sensors.begin(), rig.sensors.end(), spun.readings.begin(), spun.readings.end(), same)) {
    throw refused("wrong_sensors",
                  fmt::format("job {}: spin '{}' does not have the rig's sensors", job.name, spun.label),
                  "give one reading for every sensor of the rig file the job was opened with");
  }
  for (const SensorReading& reading : spun.readings) {
    if (std::isfinite(std::abs(reading.value)) && reading.covariance.allFinite()) continue;
    throw refused("bad_reading",
                  fmt::format("job {}: sensor {} gave a reading that is not a number", job.name, reading.sensor),
                  "check the sensor and spin again");
  }
}

void admit_fit(const Job& job, const Fitted& fitted) {
  const auto planes = static_cast<int>(job.shaft().planes.size());
  for (const FittedWeight& piece : fitted.pieces) {
    bool finite = std::isfinite(piece.mass_kg) && std::isfinite(piece.radius_m) && std::isfinite(piece.angle_rad);
    if (finite && piece.plane >= 0 && piece.plane < planes && piece.radius_m > 0.0 && piece.mass_kg != 0.0) continue;
    throw refused("bad_piece",
                  fmt::format("job {}: a piece has no mass, no radius or no plane of this shaft", job.name),
                  "state plane, mass, radius and angle of every piece");
  }
}

void admit_taking_back(const Job& job, const JobStanding& standing, std::size_t entries, const TakenBack& back) {
  const Event& target = entry(job, back.number, entries);
  if (back.reason.empty()) {
    throw refused("no_reason",
                  fmt::format("job {}: entry {} is to be taken back without a reason", job.name, back.number),
                  "say why, as in --reason \"wrong recording\"");
  }
  if (std::holds_alternative<Signed>(target.what)) {
    throw refused("is_signature", fmt::format("job {}: entry {} is a signature", job.name, back.number),
                  "take back what is wrong among the entries before it; then it signs what was, not what is");
  }
  if (std::holds_alternative<TakenBack>(target.what) || standing.taken_back.contains(back.number)) {
    throw refused("already_taken_back",
                  fmt::format("job {}: entry {} is a taking back, or was taken back before", job.name, back.number),
                  "enter again what did happen");
  }
}

void admit_close(const Job& job, const JobStanding& standing, const Closed& closed) {
  admit_finding(job, closed.finding);
  if (!closed.final_spin) {
    if (!closed.reason.empty()) return;
    throw refused("no_reason",
                  fmt::format("job {} has no final spin, and no reason why it is closed without one", job.name),
                  "spin the shaft as it is now, or say why with --reason");
  }
  if (closed.final_spin != standing.final_spin()) {
    throw refused("not_final",
                  fmt::format("job {}: entry {} is not a spin made after the last change of weights", job.name,
                              *closed.final_spin),
                  "spin the shaft as it is now; a residual counts as final only from such a spin");
  }
  if (!closed.finding) {
    throw refused("no_finding", fmt::format("job {}: the residual of its last spin is not known", job.name),
                  "make the trial spins that 'job next' asks for, or close with a reason and without a final spin");
  }
}

void admit_signature(const Job& job, const JobStanding& standing, const Signed& made) {
  if (standing.open) {
    throw refused("not_closed", fmt::format("job {} is open, and only what is closed is signed", job.name),
                  fmt::format("close it first: job close --job {}", job.name));
  }
  for (const int number : standing.signatures) {
    if (std::get<Signed>(what_of(job.events, number)).public_key != made.public_key) continue;
    throw refused("already_signed", fmt::format("job {} is signed with this key, by {}", job.name, made.by),
                  "nothing has changed since, so nothing is to be signed");
  }
}

void admit_order(const Job& job, const WorkOrder& order) {
  if (order == WorkOrder{}) {
    throw refused("bad_order", fmt::format("job {}: nothing is said of its order", job.name),
                  "say what is to be added or put right, as in --customer \"Marrow Creek\"");
  }
  for (const auto& [key, value] : work_order_fields()) {
    if (is_one_line(order.*value)) continue;
    throw refused("bad_order", fmt::format("job {}: {} of the order holds a control character", job.name, key),
                  "write it in one line, with letters, digits and marks that can be seen");
  }
}

/// Behind the first `entries` of the job, which come to `standing`.
void admit_next(const Job& job, const JobStanding& standing, std::size_t entries, const Event& event) {
  if (event.number != static_cast<int>(entries) + 1) {
    throw refused(
        "job_moved_on",
        fmt::format("job {} has {} entries, and the new one would be number {}", job.name, entries, event.number),
        "someone else wrote to this job meanwhile: look at 'job show' and enter it again");
  }
  const bool of_closed = std::holds_alternative<TakenBack>(event.what) || std::holds_alternative<Signed>(event.what) ||
                         std::holds_alternative<Ordered>(event.what);
  if (!standing.open && !of_closed) {
    throw refused("job_closed", fmt::format("job {} is closed", job.name),
                  fmt::format("open a new job for this shaft, or take entry {} back with a reason", *standing.closing));
  }
  std::visit(
      Cases{[&](const Spun& spun) { admit_spin(job, spun); }, [&](const Fitted& fitted) { admit_fit(job, fitted); },
            [&](const TakenBack& back) { admit_taking_back(job, standing, entries, back); },
            [&](const Closed& closed) { admit_close(job, standing, closed); },
            [&](const Signed& made) { admit_signature(job, standing, made); },
            [&](const Ordered& said) { admit_order(job, said.order); }},
      event.what);
}

/// What was said of a spin in the words of this program; a code that it does not know cannot be weighed.
Warnings holding_in(const Spun& spun) {
  Warnings warnings;
  for (const SaidWarning& said : spun.warnings) {
    const auto code = warning_code_named(said.code);
    if (!code || !holds_back(*code)) continue;
    warnings.push_back({*code, said.sensor.empty() ? std::nullopt : std::optional(said.sensor), said.message});
  }
  return warnings;
}

}  // namespace

std::string_view kind_of(const What& what) {
  static constexpr std::string_view kinds[] = {"spin", "fit", "take back", "close", "sign", "order"};
  return kinds[what.index()];
}

double Finding::worst_ratio() const {
  double worst = 0.0;
  for (const Held& place : held) worst = std::max(worst, place.residual_kg_m / place.limit_kg_m);
  return worst;
}

std::vector<SaidReason> reasons_of(const Warnings& held_back) {
  std::vector<SaidReason> reasons;
  for (const Warning& each : held_back)
    reasons.push_back({warning_code(each.code), each.message, each.what_to_do(), each.spins, each.sensors});
  return reasons;
}

Finding finding_of(const Solution& solution) {
  Finding finding;
  finding.verdict = solution.judgement.verdict;
  finding.held = solution.judgement.held;
  finding.held_back = reasons_of(solution.judgement.held_back);
  for (const PlaneSolution& plane : solution.planes) {
    const FitInstruction& fit = plane.correction;
    finding.planes.push_back({plane.name, plane.residual_kg_m, plane.residual_covariance, fit.mass_kg, fit.radius_m,
                              fit.angle_rad, plane.predicted_residual_kg_m});
  }
  return finding;
}

std::optional<int> JobStanding::final_spin() const {
  if (counted_spins.empty() || last_change.value_or(0) > counted_spins.back()) return std::nullopt;
  return counted_spins.back();
}

JobState state_of(const std::vector<Event>& events) {
  Fold fold(events);
  for (const Event& event : events) fold.fold_in(event);
  JobState state{fold.standing(), {}, {}, {}};
  for (const Event& event : events) {
    if (state.taken_back.contains(event.number)) continue;
    if (const auto* spun = std::get_if<Spun>(&event.what)) {
      state.spins.push_back({event.number, *spun, state.on_shaft});
    } else if (const auto* fitted = std::get_if<Fitted>(&event.what)) {
      state.on_shaft = fitted->pieces;
      state.last_stated = event.number;
    }
  }
  return state;
}

const Closed& closing_in(const Job& job) {
  return std::get<Closed>(what_of(job.events, state_of(job.events).closing.value()));
}

WorkOrder order_of(const Job& job) {
  const std::set<int> taken_back = state_of(job.events).taken_back;
  WorkOrder order = work_order_in(job.shaft_file.text(), job.shaft_file.path());
  for (const Event& event : job.events) {
    const auto* said = std::get_if<Ordered>(&event.what);
    if (said != nullptr && !taken_back.contains(event.number)) order = completed(said->order, order);
  }
  return order;
}

std::vector<int> orders_after_close(const Job& job) {
  const JobStanding standing = state_of(job.events);
  std::vector<int> numbers;
  for (const Event& event : job.events) {
    const bool after = standing.closing && event.number > *standing.closing;
    if (after && std::holds_alternative<Ordered>(event.what) && !standing.taken_back.contains(event.number))
      numbers.push_back(event.number);
  }
  return numbers;
}

void admit(const Job& job, const Event& event) {
  Fold fold(job.events);
  for (const Event& each : job.events) fold.fold_in(each);
  admit_next(job, fold.standing(), job.events.size(), event);
}

void admit_entries(const Job& job, std::size_t first) {
  Fold fold(job.events);
  for (std::size_t i = 0; i < job.events.size(); ++i) {
    if (i >= first) admit_next(job, fold.standing(), i, job.events[i]);
    fold.fold_in(job.events[i]);
  }
}

std::vector<SpinReading> readings_of(const JobState& state) {
  std::vector<SpinReading> rows;
  for (const StandingSpin& spin : state.spins) {
    SpinReading row{spin.spun.label, spin.fitted, {}, {}, spin.spun.speed_rad_s, spin.spun.turned_rad};
    for (const SensorReading& reading : spin.spun.readings) {
      row.vectors.push_back(reading.value);
      row.covariances.push_back(reading.covariance);
      row.levels.push_back(reading.level);
    }
    row.noticed = holding_in(spin.spun);
    rows.push_back(std::move(row));
  }
  return rows;
}

std::vector<Motion> motions_of(const JobState& state) {
  std::vector<Motion> motions;
  if (state.spins.empty()) return motions;
  for (const SensorReading& reading : state.spins.front().spun.readings) motions.push_back(reading.motion);
  return motions;
}

ShaftSpins spins_of(const Job& job) {
  const JobState state = state_of(job.events);
  return {job.uid, job.opened_unix_s, job.rig_file, job.shaft_file, readings_of(state), motions_of(state)};
}

std::vector<ShaftSpins> spins_of(const std::vector<Job>& jobs) {
  std::vector<ShaftSpins> all;
  for (const Job& job : jobs) all.push_back(spins_of(job));
  return all;
}

}  // namespace counterspot
