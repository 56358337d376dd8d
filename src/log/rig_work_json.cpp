#include "log/rig_work_json.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "counterspot/units/error.hpp"
#include "log/spun_json.hpp"

namespace counterspot {

namespace {

using RigJson = nlohmann::ordered_json;

constexpr int record_version = 1;

RigJson pair_json(const Phasor& z) {
  return {z.real(), z.imag()};
}

Phasor pair_in(const RigJson& json) {
  return {json.at(0).get<double>(), json.at(1).get<double>()};
}

RigJson pairs_json(const std::array<Phasor, 2>& two) {
  return {pair_json(two[0]), pair_json(two[1])};
}

std::array<Phasor, 2> pairs_in(const RigJson& json) {
  return {pair_in(json.at(0)), pair_in(json.at(1))};
}

RigJson coefficients_json(const Eigen::Matrix2cd& alpha) {
  return {pair_json(alpha(0, 0)), pair_json(alpha(0, 1)), pair_json(alpha(1, 0)), pair_json(alpha(1, 1))};
}

Eigen::Matrix2cd coefficients_in(const RigJson& json) {
  return Eigen::Matrix2cd{{pair_in(json.at(0)), pair_in(json.at(1))}, {pair_in(json.at(2)), pair_in(json.at(3))}};
}

template <typename Enum, std::size_t N>
Enum named(const RigJson& json, const std::array<Enum, N>& all, std::string_view (*name)(Enum)) {
  const auto text = json.get<std::string>();
  for (Enum each : all)
    if (name(each) == text) return each;
  throw Error(Trouble::request, "bad_record", fmt::format("a record of a rig has '{}', which is not known", text),
              "use the newer program that wrote it");
}

constexpr std::array places = {RigPlace::sensors,   RigPlace::separation, RigPlace::smallest_residual,
                               RigPlace::reduction, RigPlace::speed,      RigPlace::adapters};
constexpr std::array verdicts = {RigVerdict::passed, RigVerdict::failed, RigVerdict::not_judged};
constexpr std::array kinds_of_motion = {Motion::acceleration, Motion::velocity, Motion::displacement};

RigJson findings_json(const std::vector<RigFinding>& findings) {
  RigJson list = RigJson::array();
  for (const RigFinding& finding : findings) {
    list.push_back({{"place", rig_place_name(finding.place)},
                    {"verdict", rig_verdict_name(finding.verdict)},
                    {"measured", finding.measured},
                    {"allowed", finding.allowed},
                    {"words", finding.words}});
  }
  return list;
}

std::vector<RigFinding> findings_in(const RigJson& json) {
  std::vector<RigFinding> findings;
  for (const RigJson& each : json) {
    findings.push_back({named(each.at("place"), places, rig_place_name),
                        named(each.at("verdict"), verdicts, rig_verdict_name), each.at("measured").get<double>(),
                        each.at("allowed").get<double>(), each.at("words").get<std::string>()});
  }
  return findings;
}

RigJson json_of_result(const std::monostate& /*nothing*/) {
  return nullptr;
}

RigJson json_of_result(const Qualification& result) {
  return {{"kind", "qualification"},
          {"passed", result.passed},
          {"findings", findings_json(result.findings)},
          {"coefficients_si_per_kg_m", coefficients_json(result.coefficients)},
          {"umar_kg_m", result.umar_kg_m},
          {"reduction", result.reduction},
          {"remount_kg_m", result.remount_kg_m},
          {"adapters_kg_m", pairs_json(result.adapters_kg_m)},
          {"small_over_mean", result.small_over_mean},
          {"reductions", result.reductions}};
}

RigJson json_of_result(const RigCheck& check) {
  return {{"kind", "check"},
          {"within", check.within},
          {"findings", findings_json(check.findings)},
          {"change", pairs_json(check.change)},
          {"moved_kg_m", pairs_json(check.moved_kg_m)}};
}

RigJson json_of_result(const Recalibration& found) {
  return {{"kind", "recalibration"},
          {"sound", found.sound},
          {"change", pairs_json(found.change)},
          {"cross_talk", found.cross_talk},
          {"volts_per_si", found.volts_per_si},
          {"words", found.words}};
}

RigResult result_in(const RigJson& json) {
  if (json.is_null()) return std::monostate();
  if (json.at("kind") == "qualification") {
    Qualification result;
    result.passed = json.at("passed").get<bool>();
    result.findings = findings_in(json.at("findings"));
    result.coefficients = coefficients_in(json.at("coefficients_si_per_kg_m"));
    result.umar_kg_m = json.at("umar_kg_m").get<std::array<double, 2>>();
    result.reduction = json.at("reduction").get<double>();
    result.remount_kg_m = json.at("remount_kg_m").get<double>();
    result.adapters_kg_m = pairs_in(json.at("adapters_kg_m"));
    result.small_over_mean = json.at("small_over_mean").get<std::array<std::vector<double>, 2>>();
    result.reductions = json.at("reductions").get<std::array<std::vector<double>, 2>>();
    return result;
  }
  if (json.at("kind") == "check") {
    return RigCheck{json.at("within").get<bool>(), findings_in(json.at("findings")), pairs_in(json.at("change")),
                    pairs_in(json.at("moved_kg_m"))};
  }
  return Recalibration{json.at("sound").get<bool>(), pairs_in(json.at("change")), json.at("cross_talk").get<double>(),
                       json.at("volts_per_si").get<std::vector<double>>(), json.at("words").get<std::string>()};
}

RigJson json_of(const std::optional<RigYardstick>& yardstick) {
  if (!yardstick) return nullptr;
  RigJson motions = RigJson::array();
  for (Motion motion : yardstick->motions) motions.push_back(motion_name(motion));
  return {{"shaft", yardstick->shaft},
          {"at", utc_text(yardstick->at_unix_s)},
          {"speed_rad_s", yardstick->speed_rad_s},
          {"motions", motions},
          {"coefficients_si_per_kg_m", coefficients_json(yardstick->coefficients)},
          {"bare_si", pairs_json(yardstick->bare)},
          {"umar_kg_m", yardstick->umar_kg_m},
          {"remount_kg_m", yardstick->remount_kg_m},
          {"adapters", RigJson::parse(text_of(yardstick->adapters))}};
}

std::optional<RigYardstick> yardstick_in(const RigJson& json) {
  if (json.is_null()) return std::nullopt;
  RigYardstick yardstick;
  yardstick.shaft = json.at("shaft").get<std::string>();
  yardstick.at_unix_s = unix_time_of(json.at("at").get<std::string>());
  yardstick.speed_rad_s = json.at("speed_rad_s").get<double>();
  for (const RigJson& motion : json.at("motions"))
    yardstick.motions.push_back(named(motion, kinds_of_motion, motion_name));
  yardstick.coefficients = coefficients_in(json.at("coefficients_si_per_kg_m"));
  yardstick.bare = pairs_in(json.at("bare_si"));
  yardstick.umar_kg_m = json.at("umar_kg_m").get<std::array<double, 2>>();
  yardstick.remount_kg_m = json.at("remount_kg_m").get<double>();
  yardstick.adapters = adapters_of(json.at("adapters").dump());
  return yardstick;
}

RigJson head_of(const RigWork& work, int number, std::string_view entry) {
  return {{"version", record_version}, {"work", work.uid}, {"number", number}, {"entry", entry}};
}

RigTask task_of(const std::string& kind) {
  return named(RigJson(kind), std::array{RigTask::qualification, RigTask::check, RigTask::recalibration},
               rig_task_name);
}

RigWork opened_in(const RigJson& json, const RigRecord& record) {
  return {json.at("work").get<std::string>(),
          task_of(record.kind),
          record.at_unix_s,
          record.program,
          {json.at("rig_file").get<std::string>(), json.at("rig_definition").get<std::string>()},
          {json.at("shaft_file").get<std::string>(), json.at("shaft_definition").get<std::string>()},
          yardstick_in(json.at("yardstick")),
          {}};
}

RigWhat what_in(const RigJson& json) {
  const auto entry = json.at("entry").get<std::string>();
  if (entry == "spin") {
    RigSpun made{json.at("step").get<int>(), spun_in(json.at("spin")), {}};
    if (!json.at("pieces").is_null()) made.fitted = pieces_in(json.at("pieces"));
    return made;
  }
  if (entry == "take back") return TakenBack{json.at("taken_back").get<int>(), json.at("reason").get<std::string>()};
  return RigClosed{json.at("reason").get<std::string>(), result_in(json.at("result"))};
}

}  // namespace

std::string details_of_opening(const RigWork& work) {
  RigJson json = head_of(work, 0, "open");
  json.update({{"rig_file", work.rig_file.path()},
               {"rig_definition", work.rig_file.text()},
               {"shaft_file", work.shaft_file.path()},
               {"shaft_definition", work.shaft_file.text()},
               {"yardstick", json_of(work.yardstick)}});
  return json.dump();
}

std::string details_of_entry(const RigWork& work, const RigEvent& event) {
  if (const auto* made = std::get_if<RigSpun>(&event.what)) {
    RigJson json = head_of(work, event.number, "spin");
    json["step"] = made->step;
    json["spin"] = spun_json(made->spun);
    json["pieces"] = made->fitted ? pieces_json(*made->fitted) : RigJson(nullptr);
    return json.dump();
  }
  if (const auto* back = std::get_if<TakenBack>(&event.what)) {
    RigJson json = head_of(work, event.number, "take back");
    json["taken_back"] = back->number;
    json["reason"] = back->reason;
    return json.dump();
  }
  const auto& closed = std::get<RigClosed>(event.what);
  RigJson json = head_of(work, event.number, "close");
  json["reason"] = closed.reason;
  json["result"] = std::visit([](const auto& result) { return json_of_result(result); }, closed.result);
  return json.dump();
}

RigEntry entry_of(const RigRecord& record) {
  try {
    const RigJson json = RigJson::parse(record.details);
    RigEntry entry;
    entry.work = json.at("work").get<std::string>();
    entry.number = json.at("number").get<int>();
    if (entry.number == 0) {
      entry.opened = opened_in(json, record);
    } else {
      entry.event = {entry.number, record.at_unix_s, record.program, what_in(json)};
    }
    return entry;
  } catch (const nlohmann::json::exception& error) {
    throw Error(Trouble::request, "bad_record",
                fmt::format("a record of rig {} ({}) cannot be read: {}", record.rig, record.kind, error.what()),
                "run 'log check', and restore the last backup");
  }
}

}  // namespace counterspot
