#include "log/rig_work_json.hpp"

#include <fmt/format.h>

#include "counterspot/units/error.hpp"
#include "log/fields_json.hpp"
#include "units/one_line.hpp"

namespace counterspot {

void fields(auto& /*keep*/, const std::monostate& /*nothing*/) {}

/// With its kind first; null: without one.
template <>
struct KeptAs<RigResult> {
  static constexpr std::array<const char*, 4> kinds = {nullptr, "qualification", "check", "recalibration"};

  static LogJson json(const RigResult& result) {
    if (std::holds_alternative<std::monostate>(result)) return nullptr;
    LogJson object = {{"kind", kinds.at(result.index())}};
    JsonOfFields keep{object};
    std::visit([&](const auto& each) { fields(keep, each); }, result);
    return object;
  }
  static RigResult value(const LogJson& json) {
    if (json.is_null()) return std::monostate();
    if (json.at("kind") == "qualification") return kept_in<Qualification>(json);
    if (json.at("kind") == "check") return kept_in<RigCheck>(json);
    return kept_in<Recalibration>(json);
  }
};

namespace {

constexpr int record_version = 1;

LogJson head_of(const RigWork& work, int number, std::string_view entry) {
  return {{"version", record_version}, {"work", work.uid}, {"number", number}, {"entry", entry}};
}

RigWork opened_in(const LogJson& json, const RigRecord& record) {
  return {json.at("work").get<std::string>(),
          named<RigTask>(record.kind),
          record.at_unix_s,
          record.program,
          {json.at("rig_file").get<std::string>(), json.at("rig_definition").get<std::string>()},
          {json.at("shaft_file").get<std::string>(), json.at("shaft_definition").get<std::string>()},
          kept_in<std::optional<RigYardstick>>(json.at("yardstick")),
          {}};
}

RigWhat what_in(const LogJson& json) {
  const auto entry = json.at("entry").get<std::string>();
  if (entry == "spin") return kept_in<RigSpun>(json);
  if (entry == "take back")
    return TakenBack{plain_in<int>(json.at("taken_back")), json.at("reason").get<std::string>()};
  return kept_in<RigClosed>(json);
}

}  // namespace

std::string details_of_opening(const RigWork& work) {
  LogJson json = head_of(work, 0, "open");
  json.update({{"rig_file", work.rig_file.path()},
               {"rig_definition", work.rig_file.text()},
               {"shaft_file", work.shaft_file.path()},
               {"shaft_definition", work.shaft_file.text()},
               {"yardstick", kept_json(work.yardstick)}});
  return one_line(json);
}

std::string details_of_entry(const RigWork& work, const RigEvent& event) {
  if (const auto* back = std::get_if<TakenBack>(&event.what)) {
    LogJson json = head_of(work, event.number, "take back");
    json.update({{"taken_back", back->number}, {"reason", back->reason}});
    return one_line(json);
  }
  const auto* made = std::get_if<RigSpun>(&event.what);
  LogJson json = head_of(work, event.number, made != nullptr ? "spin" : "close");
  json.update(made != nullptr ? kept_json(*made) : kept_json(std::get<RigClosed>(event.what)));
  return one_line(json);
}

RigEntry entry_of(const RigRecord& record) {
  const auto read = [&] {
    const auto json = LogJson::parse(record.details);
    RigEntry entry;
    entry.work = json.at("work").get<std::string>();
    entry.number = plain_in<int>(json.at("number"));
    if (entry.number == 0) {
      entry.opened = opened_in(json, record);
    } else {
      entry.event = {entry.number, record.at_unix_s, record.program, what_in(json)};
    }
    return entry;
  };
  return checked_json(read, [&](const std::string& trouble) {
    return Error(Trouble::request, "bad_record",
                 fmt::format("a record of rig {} ({}) cannot be read: {}", record.rig, record.kind, trouble),
                 "run 'log check', and restore the last backup");
  });
}

}  // namespace counterspot
