#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "tracking/stated_rate.hpp"

namespace counterspot::commands {

namespace {

struct InspectAsked {
  std::vector<std::string> files;
  std::string rig;
  StatedRecording stated;
  std::string against;
  bool json = false;
  PictureAsked picture;
};

std::string channel_table(const SpinInspection& found) {
  const RecordingInfo& info = found.recording->info();
  std::size_t width = 7;
  for (const ChannelInfo& channel : info.channels) width = std::max(width, channel.name.size());
  std::string text =
      fmt::format("{:<{}} {:>11} {:>11} {:>11} {:>11}   unit\n", "CHANNEL", width, "min", "max", "mean", "rms");
  for (std::size_t i = 0; i < info.channels.size(); ++i) {
    const ChannelStatistics& channel = found.recording->channels()[i];
    std::string unit = info.full_scale ? "of full scale" : info.channels[i].unit;
    std::string odd = channel.not_finite > 0 ? fmt::format("   {} not finite", channel.not_finite) : "";
    text +=
        fmt::format("{:<{}} {:>11.5g} {:>11.5g} {:>11.5g} {:>11.5g}   {}{}\n", info.channels[i].name, width,
                    channel.min, channel.max, channel.mean(), channel.rms(), unit.empty() ? "none stated" : unit, odd);
  }
  return text;
}

/// What the reader found out, and how the rig file would state it, or something else.
std::string table_of_taken(const std::vector<TakenFor>& taken) {
  if (taken.empty()) return "";
  std::size_t what = 4;
  std::size_t as = 9;
  for (const TakenFor& one : taken) {
    what = std::max(what, one.what.size());
    as = std::max(as, one.as.size());
  }
  const std::string row = "{:<{}}   {:<{}}   {}\n";
  std::string text =
      "\n" + fmt::format(fmt::runtime(row), "WHAT", what, "TAKEN FOR", as, "in the rig file, under [recording]");
  for (const TakenFor& one : taken) {
    text += one.stated.empty() ? fmt::format("{:<{}}   {}\n", one.what, what, one.as)
                               : fmt::format(fmt::runtime(row), one.what, what, one.as, as, one.stated);
  }
  return text;
}

/// Lines to be copied; where each may stand, and which is meant, is for who knows the rig.
std::string table_of_choice(const std::vector<RigLine>& lines) {
  if (lines.empty()) return "";
  std::size_t width = 21;
  for (const RigLine& one : lines) width = std::max(width, one.line.size());
  std::string text =
      fmt::format("\n{:<{}}   under (a line for each sensor, one for the tach)\n", "WRITE IN THE RIG FILE", width);
  for (const RigLine& one : lines) {
    std::string under;
    for (const std::string& section : one.sections)
      under += (under.empty() ? "" : " or ") + (section == "sensor" ? "[[sensor]]" : "[" + section + "]");
    text += fmt::format("{:<{}}   {}{}{}\n", one.line, width, under, one.remark.empty() ? "" : ": ", one.remark);
  }
  return text;
}

std::string health_text(const SpinInspection& found) {
  std::string text = fmt::format("\nTACH      {}\n", found.tach_health());
  if (found.track) {
    const TachReport& report = found.track->tach;
    text += fmt::format("          {} pulses, {} lost, {} doubled; {:.1f} rpm, drift {:.2f} %, {} turns\n",
                        report.pulses, report.lost, report.doubled, rpm(found.track->speed_rad_s),
                        100.0 * found.track->speed_drift_fraction, found.track->revolutions);
  }
  for (const SensorHealth& sensor : found.sensors) {
    text += fmt::format("SENSOR {:<2} {}\n          {:.4g} {} rms about its mean\n", sensor.name, sensor.health,
                        sensor.rms, sensor.unit);
  }
  return text;
}

std::string text_of(const SpinInspection& found, const std::string& file, const std::string& rig) {
  const RecordingInfo& info = found.recording->info();
  std::string text = fmt::format("{}\n{}   {:.10g} Hz   {:.3f} s   {} samples a channel\n\n", info.name, info.format,
                                 info.sample_rate_Hz, found.recording->duration_s(), found.recording->frames());
  text += channel_table(found) + table_of_taken(info.taken) + table_of_choice(found.to_choose);
  if (!rig.empty()) text += health_text(found);
  if (rig.empty()) {
    return text + fmt::format("\nNEXT  Check tach and sensors: counterspot inspect {} --rig rig.toml\n", file);
  }
  if (found.trouble) return text + fmt::format("\nNEXT  Not usable; {}.\n", found.trouble->remedy());
  if (const auto look_at = found.to_look_at())
    return text + fmt::format("\nNEXT  Not to be relied on; {}.\n", *look_at);
  return text + fmt::format("\nNEXT  Measure it: counterspot track {} --rig {}\n", file, rig);
}

/// The earlier spin that the others are held against.
std::optional<Track> earlier_spin(const std::optional<Rig>& rig, const InspectAsked& asked) {
  if (asked.against.empty()) return std::nullopt;
  RecordingOptions options = recording_options(*rig);
  return track(*open_recording(asked.against, options), *rig);
}

void print_found(const std::string& file, const std::optional<Rig>& rig, const std::optional<Track>& earlier,
                 const InspectAsked& asked) {
  RecordingOptions options = rig ? recording_options(*rig) : RecordingOptions{};
  if (!asked.stated.sample_rate.empty()) options.sample_rate_Hz = sample_rate_of(asked.stated.sample_rate);
  const SpinInspection found = inspect_recording(file, rig, options, earlier);
  if (!asked.stated.sample_rate.empty()) refuse_other_rate(found.recording->info(), *options.sample_rate_Hz);
  if (asked.picture) {
    const auto again = open_recording(file, options);
    const bool turns = rig && !found.trouble;
    PictureOf of = rig ? picture_of(*rig) : PictureOf{};
    if (found.track) of.speed_rad_s = found.track->speed_rad_s;
    write_picture(trace_picture(turns ? trace_of_turns(*again, *rig) : trace_of_start(*again), *asked.picture.words),
                  of, asked.picture, {file, asked.rig, asked.against});
  }
  if (!asked.json) print_warnings(found.warnings);
  asked.json ? print_json(document_of(found)) : print(text_of(found, file, asked.rig));
}

int run_inspect(const InspectAsked& asked) {
  std::optional<Rig> rig;
  if (!asked.rig.empty()) rig = with_stated(read_rig(asked.rig), asked.stated);
  refuse_picture_of(asked.picture, asked.files);
  const std::optional<Track> earlier = earlier_spin(rig, asked);
  return for_each_file(asked.files, asked.json,
                       [&](const std::string& file) { print_found(file, rig, earlier, asked); });
}

}  // namespace

void add_inspect(CLI::App& program, int& exit_code) {
  auto asked = std::make_shared<InspectAsked>();
  CLI::App* command = program.add_subcommand(
      "inspect",
      "What is in a recording: channels, rate, duration, range; with a rig, whether tach and sensors are well");
  command->add_option("files", asked->files, "Recordings; - is standard input")->required();
  CLI::Option* rig = command->add_option("--rig", asked->rig, "The rig file");
  command
      ->add_option("--against", asked->against,
                   "An earlier spin with the same weights: names sensors that are exchanged, turned over or ten times "
                   "out since")
      ->needs(rig);
  add_stated_options(*command, asked->stated).channels->needs(rig);
  command->add_flag("--json", asked->json, "JSON for programs, one line a file");
  add_picture_options(*command, asked->picture, "the first turns, channel by channel,");
  command->footer(
      "Examples:\n  counterspot inspect 00-as-found.wav --rig rig.toml --picture first-turns.png\n"
      "  counterspot inspect *.wav --rig rig.toml --json\n  recorder | counterspot inspect -");
  command->callback([asked, &exit_code] { exit_code = run_inspect(*asked); });
}

}  // namespace counterspot::commands
