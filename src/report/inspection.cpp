#include "report/documents.hpp"

namespace counterspot {

Json document_of(const SpinInspection& found) {
  const RecordingInfo& info = found.recording->info();
  Json channels = Json::array();
  for (std::size_t i = 0; i < info.channels.size(); ++i) {
    const ChannelStatistics& channel = found.recording->channels()[i];
    bool any = channel.samples > 0;
    channels.push_back({{"channel", i + 1},
                        {"name", info.channels[i].name},
                        {"unit", info.full_scale ? "full_scale" : info.channels[i].unit},
                        {"min", any ? Json(channel.min) : Json(nullptr)},
                        {"max", any ? Json(channel.max) : Json(nullptr)},
                        {"mean", channel.mean()},
                        {"rms", channel.rms()},
                        {"not_finite", channel.not_finite}});
  }
  Json document = {{"file", info.name},
                   {"format", info.format},
                   {"sample_rate_hz", info.sample_rate_Hz},
                   {"samples", found.recording->frames()},
                   {"duration_s", found.recording->duration_s()},
                   {"channels", channels}};
  if (!info.taken.empty()) {
    Json& taken = document["taken_for"] = Json::array();
    for (const TakenFor& one : info.taken)
      taken.push_back({{"what", one.what}, {"as", one.as}, {"stated", one.stated}});
  }
  if (!found.to_choose.empty()) {
    Json& lines = document["to_choose"] = Json::array();
    for (const RigLine& one : found.to_choose)
      lines.push_back({{"line", one.line}, {"sections", one.sections}, {"remark", one.remark}});
  }
  if (found.track || found.trouble) {
    Json tach = {{"health", found.tach_health()}};
    if (found.track) {
      const TachReport& report = found.track->tach;
      tach.update({{"pulses", report.pulses},
                   {"lost", report.lost},
                   {"doubled", report.doubled},
                   {"timing_uncertainty_us", report.timing_uncertainty_s * 1e6},
                   {"speed_rpm", rpm(found.track->speed_rad_s)},
                   {"speed_drift_percent", 100.0 * found.track->speed_drift_fraction}});
    }
    document["usable"] = !found.trouble;
    document["tach"] = tach;
    Json sensors = Json::array();
    for (const SensorHealth& sensor : found.sensors) {
      sensors.push_back({{"name", sensor.name}, {"unit", sensor.unit}, {"rms", sensor.rms}, {"health", sensor.health}});
    }
    document["sensors"] = sensors;
  }
  document["warnings"] = json_of(found.warnings);
  return document;
}

Json document_of(const RecordingNotes& notes) {
  Json gaps = Json::array();
  for (const Overrun& gap : notes.gaps)
    gaps.push_back({{"at_frame", gap.at_frame}, {"lost_frames", or_null(gap.lost_frames)}});
  return {{"file", notes.file},
          {"source", notes.source},
          {"format", notes.format},
          {"sample_rate_hz", notes.sample_rate_Hz},
          {"frames", notes.frames},
          {"duration_s", notes.duration_s()},
          {"channel_peaks", notes.channel_peaks},
          {"overruns", notes.overruns},
          {"gaps", gaps},
          {"warnings", json_of(notes.warnings)},
          {"ended", utc_text(notes.ended_unix_s)},
          {"program", notes.program}};
}

Json document_of(const std::string& file, const Error& error) {
  return {{"file", file}, {"error", json_of(error)}};
}

}  // namespace counterspot
