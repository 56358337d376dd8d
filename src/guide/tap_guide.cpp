#include "counterspot/guide/tap_guide.hpp"

#include "counterspot/units/error.hpp"
#include "log/fields_json.hpp"

namespace counterspot {

/// The time is the record's own.
void fields(auto& keep, Kind<KeptTaps> auto& taps) {
  keep("within", taps.within);
  keep("against", taps.against.en);
  keep("against_de", taps.against.de);
  keep("a_over_b", taps.record.a_over_b);
  keep("natural_frequency_Hz", taps.record.natural_frequency_Hz);
}

namespace {

constexpr const char* taps_kind = "taps";

KeptTaps kept_taps(const RigRecord& record) {
  auto taps = checked_json([&] { return kept_in<KeptTaps>(LogJson::parse(record.details)); },
                           [&](const std::string& /*trouble*/) {
                             return Error(Trouble::request, "bad_record",
                                          "a check by knocks of rig " + record.rig + " cannot be read",
                                          "go back to the last backup of the log");
                           });
  taps.at_unix_s = record.at_unix_s;
  return taps;
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
  KeptTaps taps{at_unix_s, check.within, {}, check.record};
  for (const Said& sentence : check.against)
    taps.against = taps.against.empty() ? sentence : said({"{}; {}", "{}; {}"}, taps.against, sentence);
  log.keep({rig, taps_kind, at_unix_s, program, kept_json(taps).dump()});
}

}  // namespace counterspot
