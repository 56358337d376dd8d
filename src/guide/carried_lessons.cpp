#include "counterspot/guide/carried_lessons.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/units/error.hpp"
#include "log/rig_model_json.hpp"
#include "units/one_line.hpp"

namespace counterspot {

void fields(auto& keep, Kind<CarriedSensor> auto& sensor) {
  keep("name", sensor.name);
  keep("channel", sensor.channel);
  keep("motion", sensor.motion);
}

void fields(auto& keep, Kind<CarriedLesson> auto& each) {
  keep("job", each.job);
  keep("shaft", each.shaft);
  keep("lesson", each.lesson);
}

void fields(auto& keep, Kind<CarriedLessons> auto& carried) {
  keep("rig", carried.rig);
  keep("rotation", carried.rotation);
  keep("sensors", carried.sensors);
  keep("program", carried.program);
  keep.time("written", carried.written_unix_s, "");
  keep("lessons", carried.lessons);
}

namespace {

constexpr const char* carried_format = "counterspot rig lessons";
constexpr int carried_version = 1;
constexpr const char* lessons_record = "lessons";  // the kind of record that a log keeps them as

Error bad_lessons(const std::string& why) {
  return {Trouble::request, "bad_lessons", fmt::format("these are no lessons of a rig: {}", why),
          "bring in what 'rig model --out' wrote, unchanged"};
}

std::string channel_text(const ChannelRef& channel) {
  const int* number = std::get_if<int>(&channel);
  return number != nullptr ? std::to_string(*number) : std::get<std::string>(channel);
}

/// A rig that the model describes has two sensors.
std::array<CarriedSensor, 2> sensors_of(const Rig& rig) {
  std::array<CarriedSensor, 2> sensors;
  for (std::size_t s = 0; s < 2; ++s)
    sensors[s] = {rig.sensors[s].name, channel_text(rig.sensors[s].channel), rig.sensors[s].sensitivity.motion};
  return sensors;
}

/// From one and the same end, whichever the operator stands at.
std::string rotation_text(const Rig& rig) {
  const Rotation from_a = rig.viewing_end == "A" ? rig.rotation : seen_from_other_end(rig.rotation);
  return std::string(rotation_name(from_a)) + " seen from A";
}

std::string text_of(const CarriedSensor& sensor) {
  return fmt::format("{} on channel {} for {}", sensor.name, sensor.channel, motion_name(sensor.motion));
}

Error other_rig(const CarriedLessons& carried, const std::string& difference) {
  return {Trouble::request, "other_rig",
          fmt::format("what rig {} taught does not hold for this one: {}", carried.rig, difference),
          "bring it in only for the rig that it was learnt on, as it was then; another rig learns from its own jobs"};
}

void refuse_other_rig(const CarriedLessons& carried, const Rig& rig) {
  if (carried.rig != rig.name) throw other_rig(carried, fmt::format("this is rig {}", rig.name));
  if (!has_rig_model(rig)) throw other_rig(carried, "it has no two sensors, A before B");
  if (carried.rotation != rotation_text(rig))
    throw other_rig(carried,
                    fmt::format("that one turned {}, this one turns {}", carried.rotation, rotation_text(rig)));
  const auto sensors = sensors_of(rig);
  for (std::size_t s = 0; s < 2; ++s) {
    if (!(carried.sensors[s] == sensors[s]))
      throw other_rig(carried, fmt::format("that one had sensor {}, this one has {}", text_of(carried.sensors[s]),
                                           text_of(sensors[s])));
  }
}

std::string key_of(const RigLesson& lesson) {
  return fmt::format("{} {}", lesson.job, lesson.speed_rad_s);
}

/// Of every job in the log that may teach a rig, by its uid: its name.
std::map<std::string, std::string> names_of_jobs(const Log& log, const std::string& rig) {
  constexpr int all = 1'000'000;
  std::map<std::string, std::string> names;
  for (const JobStamp& each : log.stamps_to_learn_from(rig, all)) names[each.uid] = each.name;
  return names;
}

}  // namespace

CarriedLessons lessons_to_carry(const Log& log, const Rig& rig, const std::string& program, std::int64_t at_unix_s) {
  const RigShown shown = shown_rig(log, rig);  // refuses where nothing was learnt
  CarriedLessons carried{rig.name, rotation_text(rig), sensors_of(rig), program, at_unix_s, {}};
  const auto names = names_of_jobs(log, rig.name);
  std::map<std::string, CarriedLesson> from_elsewhere;
  for (const BroughtIn& each : shown.brought_in)
    for (const CarriedLesson& lesson : each.carried.lessons) from_elsewhere[lesson.lesson.job] = lesson;
  for (const RigLesson& lesson : lessons_learnt_from(log, rig)) {
    CarriedLesson each{qualification_teacher, "reference shaft", lesson};
    if (const auto name = names.find(lesson.job); name != names.end())
      each = {name->second, log.job(name->second).shaft().id, lesson};
    else if (const auto known = from_elsewhere.find(lesson.job); known != from_elsewhere.end())
      each = {known->second.job, known->second.shaft, lesson};
    carried.lessons.push_back(std::move(each));
  }
  return carried;
}

std::string carried_to_json(const CarriedLessons& carried) {
  LogJson json = {{"format", carried_format}, {"version", carried_version}};
  json.update(kept_json(carried));
  return json.dump() + "\n";
}

CarriedLessons carried_of_json(const std::string& text) {
  const auto read = [&] {
    const LogJson json = LogJson::parse(text);
    if (json.at("format") != carried_format) throw bad_lessons("it is not of this format");
    if (plain_in<int>(json.at("version")) > carried_version) throw bad_lessons("a later program wrote them");
    return kept_in<CarriedLessons>(json);
  };
  return checked_json(read, bad_lessons);
}

void bring_in(Log& log, const Rig& rig, const BroughtIn& lessons) {
  refuse_other_rig(lessons.carried, rig);
  const LogJson details = {{"file", lessons.file}, {"lessons", LogJson::parse(carried_to_json(lessons.carried))}};
  const auto present = names_of_jobs(log, rig.name);
  std::set<std::string> known;
  for (const BroughtIn& each : brought_in_of(log, rig.name))
    for (const CarriedLesson& lesson : each.carried.lessons) known.insert(key_of(lesson.lesson));
  const auto& all = lessons.carried.lessons;
  const bool anything_new = std::any_of(all.begin(), all.end(), [&](const CarriedLesson& each) {
    return !present.contains(each.lesson.job) && !known.contains(key_of(each.lesson));
  });
  if (!anything_new) {
    throw Error(Trouble::request, "nothing_new", "the log has all of these jobs, or their lessons, already",
                "there is nothing to bring in");
  }
  log.keep({rig.name, lessons_record, lessons.at_unix_s, lessons.carried.program, one_line(details)});
}

std::vector<BroughtIn> brought_in_of(const Log& log, const std::string& rig) {
  std::vector<BroughtIn> all;
  const auto records = log.rig_records(rig, lessons_record);
  if (records.empty()) return all;
  const auto present = names_of_jobs(log, rig);
  std::set<std::string> known;
  for (const RigRecord& record : records) {
    const auto read = [&] {
      const LogJson details = LogJson::parse(record.details);
      return BroughtIn{details.at("file").get<std::string>(), record.at_unix_s,
                       carried_of_json(details.at("lessons").dump())};
    };
    BroughtIn each = checked_json(read, bad_lessons);
    std::erase_if(each.carried.lessons, [&](const CarriedLesson& lesson) {
      return present.contains(lesson.lesson.job) || !known.insert(key_of(lesson.lesson)).second;
    });
    for (CarriedLesson& lesson : each.carried.lessons) lesson.lesson.brought_in = true;
    if (!each.carried.lessons.empty()) all.push_back(std::move(each));
  }
  return all;
}

}  // namespace counterspot
