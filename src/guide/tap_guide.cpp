#include "counterspot/guide/tap_guide.hpp"

#include <nlohmann/json.hpp>

#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr const char* taps_kind = "taps";

nlohmann::json or_nothing(const std::optional<double>& value) {
  return value ? nlohmann::json(*value) : nlohmann::json();
}

std::optional<double> value_in(const nlohmann::json& json) {
  return json.is_null() ? std::nullopt : std::optional(json.get<double>());
}

KeptTaps kept_taps(const RigRecord& record) {
  try {
    const auto json = nlohmann::json::parse(record.details);
    return {record.at_unix_s,
            json.at("within").get<bool>(),
            {json.at("against").get<std::string>(), json.at("against_de").get<std::string>()},
            {value_in(json.at("a_over_b")),
             {value_in(json.at("natural_frequency_Hz").at(0)), value_in(json.at("natural_frequency_Hz").at(1))}}};
  } catch (const nlohmann::json::exception&) {
    throw Error(Trouble::request, "bad_record", "a check by knocks of rig " + record.rig + " cannot be read",
                "go back to the last backup of the log");
  }
}

}  // namespace

std::optional<KeptTaps> newest_taps(const Log& log, const std::string& rig) {
  const auto records = log.rig_records(rig, taps_kind);
  return records.empty() ? std::nullopt : std::optional(kept_taps(records.back()));
}

std::optional<TapRecord> taps_to_hold_against(const Log& log, const std::string& rig, std::int64_t since_unix_s) {
  for (const RigRecord& record : log.rig_records(rig, taps_kind)) {
    const KeptTaps taps = kept_taps(record);
    if (taps.within && taps.at_unix_s >= since_unix_s) return taps.record;
  }
  return std::nullopt;
}

void keep_taps(Log& log, const std::string& rig, const TapCheck& check, const std::string& program,
               std::int64_t at_unix_s) {
  Said against;
  for (const Said& sentence : check.against)
    against = against.empty() ? sentence : said({"{}; {}", "{}; {}"}, against, sentence);
  const auto& natural = check.record.natural_frequency_Hz;
  const nlohmann::ordered_json details = {{"within", check.within},
                                          {"against", against.en},
                                          {"against_de", against.de},
                                          {"a_over_b", or_nothing(check.record.a_over_b)},
                                          {"natural_frequency_Hz", {or_nothing(natural[0]), or_nothing(natural[1])}}};
  log.keep({rig, taps_kind, at_unix_s, program, details.dump()});
}

}  // namespace counterspot
