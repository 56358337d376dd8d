#include <fmt/format.h>

#include <algorithm>
#include <memory>

#include "commands/command.hpp"
#include "commands/output.hpp"
#include "commands/picture.hpp"
#include "commands/stated_options.hpp"
#include "counterspot/drawing/command_words.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "report/text.hpp"
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
  const Words* words = &english();
};

std::string channel_table(const SpinInspection& found, const Words& words) {
  const CommandWords& texts = words.commands();
  const RecordingInfo& info = found.recording->info();
  std::size_t width = std::string_view(texts.channel).size();
  for (const ChannelInfo& channel : info.channels) width = std::max(width, channel.name.size());
  std::string text = fmt::format("{:<{}} {:>11} {:>11} {:>11} {:>11}   {}\n", texts.channel, width, texts.least,
                                 texts.most, texts.mean, "rms", texts.unit);
  for (std::size_t i = 0; i < info.channels.size(); ++i) {
    const ChannelStatistics& channel = found.recording->channels()[i];
    std::string unit = info.full_scale ? texts.full_scale : info.channels[i].unit;
    std::string odd = channel.not_finite > 0 ? say(texts.not_finite, channel.not_finite) : "";
    const std::string numbers =
        fmt::format("{:>11.5g} {:>11.5g} {:>11.5g} {:>11.5g}", channel.min, channel.max, channel.mean(), channel.rms());
    text += fmt::format("{:<{}} {}   {}{}\n", info.channels[i].name, width, with_decimal_sign(numbers, words),
                        unit.empty() ? texts.no_unit : unit, odd);
  }
  return text;
}

/// What the reader found out, and how the rig file would state it, or something else.
std::string table_of_taken(const std::vector<TakenFor>& taken, const CommandWords& texts) {
  if (taken.empty()) return "";
  std::size_t what = std::string_view(texts.what).size();
  std::size_t as = std::string_view(texts.taken_for).size();
  for (const TakenFor& one : taken) {
    what = std::max(what, one.what.size());
    as = std::max(as, one.as.size());
  }
  const std::string row = "{:<{}}   {:<{}}   {}\n";
  std::string text =
      "\n" + fmt::format(fmt::runtime(row), texts.what, what, texts.taken_for, as, texts.under_recording);
  for (const TakenFor& one : taken) {
    text += one.stated.empty() ? fmt::format("{:<{}}   {}\n", one.what, what, one.as)
                               : fmt::format(fmt::runtime(row), one.what, what, one.as, as, one.stated);
  }
  return text;
}

/// Lines to be copied; where each may stand, and which is meant, is for who knows the rig.
std::string table_of_choice(const std::vector<RigLine>& lines, const CommandWords& texts) {
  if (lines.empty()) return "";
  std::size_t width = std::string_view(texts.write_in_rig_file).size();
  for (const RigLine& one : lines) width = std::max(width, one.line.size());
  std::string text = fmt::format("\n{:<{}}   {}\n", texts.write_in_rig_file, width, texts.under);
  for (const RigLine& one : lines) {
    std::string under;
    for (const std::string& section : one.sections)
      under += (under.empty() ? "" : texts.or_) + (section == "sensor" ? "[[sensor]]" : "[" + section + "]");
    text += fmt::format("{:<{}}   {}{}{}\n", one.line, width, under, one.remark.empty() ? "" : ": ", one.remark);
  }
  return text;
}

/// Without the sensor's name, which stands before it. What is no warning stays as the library says it.
std::string health_in(const std::string& said, const Warnings& of_it, const Words& words) {
  if (said == english().commands().good) return words.commands().good;
  std::string text;
  for (Warning warning : gathered(of_it)) {
    for (const std::string& name : warning.sensors) {
      const std::string before = name == "tach" ? "tach: " : "sensor " + name + ": ";
      if (warning.message.starts_with(before)) warning.message.erase(0, before.size());
    }
    warning.sensor.reset();
    warning.sensors.clear();
    text += (text.empty() ? "" : "; ") + warning_text(warning, words);
  }
  return text.empty() ? said : text;
}

/// Said in the line of a sensor or of the tach; what is not is said of the whole recording.
bool in_health_line(const Warning& warning, const SpinInspection& found) {
  if (!warning.sensor || severity_of(warning.code) == Severity::note) return false;
  return warning.sensor != "tach" || !found.trouble;
}

Warnings health_warnings(const SpinInspection& found, const std::string& of) {
  Warnings of_it;
  for (const Warning& warning : found.warnings)
    if (warning.sensor == of && in_health_line(warning, found)) of_it.push_back(warning);
  return of_it;
}

std::string health_text(const SpinInspection& found, const Words& words) {
  const CommandWords& texts = words.commands();
  const auto number = [&](double value, int decimals) { return number_text(value, decimals, words); };
  const std::size_t margin = std::max<std::size_t>(10, std::string_view(texts.tach).size() + 2);
  std::string text = fmt::format("\n{:<{}}{}\n", texts.tach, margin,
                                 health_in(found.tach_health(), health_warnings(found, "tach"), words));
  if (found.track) {
    const TachReport& report = found.track->tach;
    const std::string turns = say(texts.turns_of, number(rpm(found.track->speed_rad_s), 1),
                                  number(100.0 * found.track->speed_drift_fraction, 2), found.track->revolutions);
    text += fmt::format("{:<{}}{}\n", "", margin, say(texts.pulses, report.pulses, report.lost, report.doubled, turns));
  }
  for (const SensorHealth& sensor : found.sensors) {
    text +=
        fmt::format("{:<{}}{}\n{:<{}}{}\n", put_in(texts.sensor, sensor.name), margin,
                    health_in(sensor.health, health_warnings(found, sensor.name), words), "", margin,
                    say(texts.about_mean, with_decimal_sign(fmt::format("{:.4g}", sensor.rms), words), sensor.unit));
  }
  return text;
}

std::string next_text(const SpinInspection& found, const std::string& file, const std::string& rig,
                      const CommandWords& texts) {
  if (rig.empty()) return say(texts.check_health, file);
  if (found.trouble) return say(texts.not_usable, found.trouble->remedy());
  if (const auto look_at = found.to_look_at()) return say(texts.not_reliable, *look_at);
  return say(texts.measure_it, file, rig);
}

std::string text_of(const SpinInspection& found, const std::string& file, const std::string& rig, const Words& words) {
  const CommandWords& texts = words.commands();
  const RecordingInfo& info = found.recording->info();
  std::string text = say(texts.recording_head, info.name, info.format, fmt::format("{:.10g}", info.sample_rate_Hz),
                         number_text(found.recording->duration_s(), 3, words), found.recording->frames());
  text += channel_table(found, words) + table_of_taken(info.taken, texts) + table_of_choice(found.to_choose, texts);
  if (!rig.empty()) text += health_text(found, words);
  return text + "\n" + say(texts.next, next_text(found, file, rig, texts));
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
  if (asked.json) return print_json(document_of(found));
  Warnings of_whole = found.warnings;
  if (rig) std::erase_if(of_whole, [&](const Warning& warning) { return in_health_line(warning, found); });
  print_warnings(of_whole, *asked.words);
  print(text_of(found, file, asked.rig, *asked.words));
}

int run_inspect(const InspectAsked& asked) {
  std::optional<Rig> rig;
  if (!asked.rig.empty()) rig = with_stated(read_rig(asked.rig), asked.stated);
  refuse_picture_of(asked.picture, asked.files);
  const std::optional<Track> earlier = earlier_spin(rig, asked);
  return for_each_file(asked.files, asked.json, *asked.words,
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
  add_language_option(*command, asked->words);
  command->add_flag("--json", asked->json, "JSON for programs, one line a file");
  add_picture_options(*command, asked->picture, "the first turns, channel by channel,");
  command->footer(
      "Examples:\n  counterspot inspect 00-as-found.wav --rig rig.toml --picture first-turns.png\n"
      "  counterspot inspect *.wav --rig rig.toml --json\n  recorder | counterspot inspect -");
  command->callback([asked, &exit_code] { exit_code = run_inspect(*asked); });
}

}  // namespace counterspot::commands
