#include "counterspot/units/warning.hpp"

#include <algorithm>
#include <iterator>

namespace counterspot {

namespace {

struct Entry {
  WarningCode code;
  const char* name;
  bool holds_back;
  const char* remedy;
};

constexpr bool held = true;
constexpr bool said = false;

/// The one list of what each kind of warning is called, whether it holds a verdict back, and what to do about it.
constexpr Entry entries[] = {
    {WarningCode::clipped, "clipped", said, "lower the gain and spin again"},
    {WarningCode::flattened, "flattened", held, "lower the gain before the converter and spin again"},
    {WarningCode::quiet_channel, "quiet_channel", held, "look at the sensor's cable and supply, and spin again"},
    {WarningCode::dead_channel, "dead_channel", held, "look at cable and channel number, and spin again"},
    {WarningCode::uneven_time, "uneven_time", said, "record WAV if you can"},
    {WarningCode::short_data, "short_data", said, "stop the recorder before the file is taken off"},
    {WarningCode::overrun, "overrun", held, "free the machine of other work and spin again"},
    {WarningCode::lost_pulses, "lost_pulses", said, "clean the mark and look at the tach's aim"},
    {WarningCode::double_pulses, "double_pulses", said, "look at the mark and the tach's aim"},
    {WarningCode::tach_jitter, "tach_jitter", said, "clean the mark and look at the tach's aim"},
    {WarningCode::weak_tach, "weak_tach", said, "bring the tach nearer to the mark"},
    {WarningCode::tach_lost, "tach_lost", held, "look at the tach's cable, supply and aim, and spin again"},
    {WarningCode::tach_changed, "tach_changed", held, "fasten the tach and look at its supply, and spin again"},
    {WarningCode::direction_unknown, "direction_unknown", said,
     "watch that the shaft turns the way the rig file says, and look at the encoder"},
    {WarningCode::speed_doubted, "speed_doubted", held,
     "count the marks on the shaft, and check pulses_per_revolution and the unit of time"},
    {WarningCode::speed_drift, "speed_drift", said, "hold the speed, or record longer"},
    {WarningCode::few_revolutions, "few_revolutions", said, "record longer"},
    {WarningCode::order_2_dominant, "order_2_dominant", said, "look at joint angles and phasing"},
    {WarningCode::steady_part, "steady_part", said, "begin to record once the speed is steady"},
    {WarningCode::interference, "interference", said, "nothing, or find what hums"},
    {WarningCode::knocks, "knocks", said, "find what strikes"},
    {WarningCode::beating, "beating", said, "record longer, or spin at another speed"},
    {WarningCode::loose_cable, "loose_cable", held, "fasten cable and plug, and spin again"},
    {WarningCode::near_resonance, "near_resonance", said, "spin at another speed"},
    {WarningCode::moving_level, "moving_level", said, "let the sensors settle before recording"},
    {WarningCode::other_order, "other_order", said, "nothing, or find the gear or belt"},
    {WarningCode::orders_lowered, "orders_lowered", said, "record at a higher rate, if higher orders matter"},
    {WarningCode::coarse_steps, "coarse_steps", said, "raise the gain, or use a converter with more bits"},
    {WarningCode::swapped_sensors, "swapped_sensors", held, "put the cables right and make that spin again"},
    {WarningCode::inverted_polarity, "inverted_polarity", held, "turn the sensor round and make that spin again"},
    {WarningCode::wrong_sensitivity, "wrong_sensitivity", held,
     "set range switch, sensitivity and full scale as they were, and make that spin again"},
    {WarningCode::sensor_changed, "sensor_changed", held,
     "look at the sensor's mounting, cable and gain, and make that spin again"},
    {WarningCode::reading_moved, "reading_moved", held, "say what is on the shaft, or spin again"},
    {WarningCode::unlike_asked, "unlike_asked", said, "look at what was typed"},
    {WarningCode::no_uncertainty, "no_uncertainty", said, "type each reading with its ±"},
    {WarningCode::speeds_differ, "speeds_differ", said, "spin at one speed"},
    {WarningCode::ill_conditioned, "ill_conditioned", said, "spin again with the weights in other places"},
    {WarningCode::weak_trial, "weak_trial", said, "fit a heavier trial weight"},
    {WarningCode::plane_left_out, "plane_left_out", said, "nothing, or spin at a speed at which it matters"},
    {WarningCode::spins_disagree, "spins_disagree", held,
     "check what was stated to be fitted and the sensors' cables, and spin once more"},
    {WarningCode::out_of_band, "out_of_band", held, "check the sensors, the weights stated and the shaft file"},
    {WarningCode::scatter_assumed, "scatter_assumed", said, "qualify the rig, or spin once more with nothing changed"},
    {WarningCode::qualification_due, "qualification_due", said, "qualify the rig"},
    {WarningCode::qualification_failed, "qualification_failed", held, "mend the rig and qualify it again"},
    {WarningCode::flexible_shaft, "flexible_shaft", held, "use three planes and spins at several speeds"},
    {WarningCode::mode_unseen, "mode_unseen", held, "spin nearer to service speed as well"},
    {WarningCode::limit_missing, "limit_missing", held,
     "write a limit for every plane into the shaft file and open a new job with it"},
    {WarningCode::share_bounded, "share_bounded", said, "nothing, or type the limits"},
};

const Entry* entry_of(WarningCode code) {
  const auto* found =
      std::find_if(std::begin(entries), std::end(entries), [&](const Entry& each) { return each.code == code; });
  return found == std::end(entries) ? nullptr : found;
}

constexpr std::size_t sentences_said = 3;

void add_once(std::vector<std::string>& list, const std::string& text) {
  if (std::find(list.begin(), list.end(), text) == list.end()) list.push_back(text);
}

/// What was said under one code, until all has been heard.
struct Gathering {
  Warning warning;
  std::vector<std::string> sentences;
};

void add_to(Gathering& gathering, const Warning& one) {
  Warning& whole = gathering.warning;
  add_once(gathering.sentences, one.message);
  if (one.sensor) add_once(whole.sensors, *one.sensor);
  for (const std::string& sensor : one.sensors) add_once(whole.sensors, sensor);
  for (const std::string& spin : one.spins) add_once(whole.spins, spin);
  if (whole.remedy.empty()) whole.remedy = one.remedy;
}

Warning whole_of(Gathering gathering) {
  const auto& sentences = gathering.sentences;
  for (std::size_t i = 0; i < std::min(sentences.size(), sentences_said); ++i)
    gathering.warning.message += (i > 0 ? "; " : "") + sentences[i];
  if (sentences.size() > sentences_said)
    gathering.warning.message += "; and " + std::to_string(sentences.size() - sentences_said) + " more like it";
  return std::move(gathering.warning);
}

Warnings only(const Warnings& warnings, bool that_hold) {
  Warnings chosen;
  std::copy_if(warnings.begin(), warnings.end(), std::back_inserter(chosen),
               [&](const Warning& warning) { return holds_back(warning.code) == that_hold; });
  return chosen;
}

}  // namespace

std::string warning_code(WarningCode code) {
  const Entry* entry = entry_of(code);
  return entry != nullptr ? entry->name : "unknown";
}

std::optional<WarningCode> warning_code_named(std::string_view name) {
  const auto* found =
      std::find_if(std::begin(entries), std::end(entries), [&](const Entry& each) { return each.name == name; });
  return found == std::end(entries) ? std::nullopt : std::optional(found->code);
}

bool holds_back(WarningCode code) {
  const Entry* entry = entry_of(code);
  return entry != nullptr && entry->holds_back;
}

std::string_view remedy_of(WarningCode code) {
  const Entry* entry = entry_of(code);
  return entry != nullptr ? entry->remedy : "";
}

Warnings gathered(const Warnings& warnings) {
  std::vector<Gathering> gatherings;
  for (const Warning& one : warnings) {
    auto known = std::find_if(gatherings.begin(), gatherings.end(),
                              [&](const Gathering& each) { return each.warning.code == one.code; });
    if (known == gatherings.end()) known = gatherings.insert(known, Gathering{Warning{one.code, one.sensor, {}}, {}});
    add_to(*known, one);
  }
  Warnings all;
  for (Gathering& each : gatherings) all.push_back(whole_of(std::move(each)));
  std::stable_partition(all.begin(), all.end(), [](const Warning& each) { return holds_back(each.code); });
  return all;
}

std::string sentence_of(const Warning& warning) {
  if (warning.spins.empty()) return warning.message;
  std::string names;
  for (const std::string& spin : warning.spins) names += (names.empty() ? "'" : ", '") + spin + "'";
  return (warning.spins.size() > 1 ? "spins " : "spin ") + names + ": " + warning.message;
}

Warnings holding(const Warnings& warnings) {
  return only(warnings, true);
}

Warnings not_holding(const Warnings& warnings) {
  return only(warnings, false);
}

}  // namespace counterspot
