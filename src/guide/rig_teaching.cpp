#include "counterspot/guide/rig_teaching.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "counterspot/log/rig_log.hpp"
#include "counterspot/units/error.hpp"
#include "log/rig_model_json.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

constexpr std::size_t jobs_looked_at = 60;  // of the newest, to find those that taught something
constexpr int stamps_at_most = 600;         // of the newest, to find those of one shaft

std::string text_of(const std::optional<KnownSize>& known) {
  return known ? fmt::format("{} {}", known->value, known->u) : "-";
}

/// Without the job in work, and then the newest.
template <typename Each>
std::vector<Each> others(std::vector<Each> newest_first, const std::vector<std::string>& except) {
  std::erase_if(newest_first,
                [&](const Each& each) { return std::find(except.begin(), except.end(), each.uid) != except.end(); });
  if (newest_first.size() > jobs_looked_at) newest_first.resize(jobs_looked_at);
  return newest_first;
}

std::vector<JobStamp> stamps_of(const std::vector<Job>& jobs) {
  std::vector<JobStamp> stamps;
  for (const Job& job : jobs) stamps.push_back({job.uid, job.name, static_cast<int>(job.events.size())});
  return stamps;
}

/// All that decides what is learnt. A job's entries are only ever added, so that their number stands for them.
std::string learnt_from(const std::vector<JobStamp>& jobs, const std::vector<RigWork>& qualifications,
                        const std::vector<RigLesson>& brought_in, const Rig& rig, const std::vector<Motion>& motions) {
  std::string text = fmt::format("{}\n", rig_learning_version);
  for (const Sensor& sensor : rig.sensors) text += fmt::format("sensor {}\n", sensor.name);
  for (const Motion motion : motions) text += fmt::format("{}\n", motion_name(motion));
  for (const KnownPedestal& each : rig.pedestals)
    text += fmt::format("pedestal {}, {}\n", text_of(each.moving_mass_kg), text_of(each.natural_frequency_Hz));
  for (const JobStamp& each : jobs) text += fmt::format("job {} {}\n", each.uid, each.entries);
  for (const RigWork& each : qualifications) text += fmt::format("work {} {}\n", each.uid, each.events.size());
  for (const RigLesson& each : brought_in)
    text += fmt::format("brought in {} {} {}\n", each.job, each.at_unix_s, each.speed_rad_s);
  return sha256_of(text);
}

std::optional<RigModel> kept_model(const Log& log, const std::string& rig, const std::string& from) {
  const auto state = log.learnt(rig, from);
  if (!state) return std::nullopt;
  try {
    return rig_model_of_json(*state);
  } catch (const Error&) {  // it is learnt anew
    return std::nullopt;
  }
}

/// What cannot be kept is learnt anew the next time; that is no reason to give no answer now.
void keep_if_possible(const Log& log, const std::string& rig, const std::string& from, const RigModel& model) {
  try {
    log.keep_learnt(rig, from, rig_model_to_json(model));
  } catch (const Error& error) {
    if (error.trouble() != Trouble::machine) throw;
  }
}

std::vector<RigWork> qualifications_that_teach(const Log& log, const Rig& rig) {
  std::vector<RigWork> qualifications = rig_works(log, rig.name, RigTask::qualification);
  std::erase_if(qualifications, [](const RigWork& each) { return !yardstick_of(each); });
  return qualifications;
}

/// The oldest first.
std::vector<RigLesson> lessons_brought_in(const Log& log, const Rig& rig) {
  std::vector<RigLesson> lessons;
  for (const BroughtIn& each : brought_in_of(log, rig.name))
    for (const CarriedLesson& lesson : each.carried.lessons) lessons.push_back(lesson.lesson);
  std::stable_sort(lessons.begin(), lessons.end(),
                   [](const RigLesson& one, const RigLesson& other) { return one.at_unix_s < other.at_unix_s; });
  return lessons;
}

RigTeachers teachers_of(const std::vector<Job>& jobs, const std::vector<RigWork>& qualifications,
                        const std::vector<RigLesson>& brought_in) {
  RigTeachers teachers{spins_of(jobs), {}, brought_in};
  for (const RigWork& each : qualifications) teachers.qualifications.push_back(*reference_shaft_of(each));
  return teachers;
}

std::vector<Job> teaching_jobs_of(const Log& log, const Rig& rig, const std::vector<std::string>& except) {
  return others(log.jobs_to_learn_from(rig.name, 0, static_cast<int>(jobs_looked_at + except.size())), except);
}

std::vector<Motion> motions_of(const Rig& rig) {
  std::vector<Motion> motions;
  for (const Sensor& sensor : rig.sensors) motions.push_back(sensor.sensitivity.motion);
  return motions;
}

}  // namespace

std::optional<RigModel> learnt_rig(const Log& log, const Rig& rig, const std::vector<Motion>& motions,
                                   const std::vector<std::string>& except) {
  if (!has_rig_model(rig, motions)) return std::nullopt;
  const std::vector<JobStamp> stamps =
      others(log.stamps_to_learn_from(rig.name, static_cast<int>(jobs_looked_at + except.size())), except);
  std::vector<RigWork> qualifications = qualifications_that_teach(log, rig);
  const std::vector<RigLesson> brought_in = lessons_brought_in(log, rig);
  if (stamps.empty() && qualifications.empty() && brought_in.empty()) return std::nullopt;
  if (auto kept = kept_model(log, rig.name, learnt_from(stamps, qualifications, brought_in, rig, motions))) return kept;
  const std::vector<Job> jobs = teaching_jobs_of(log, rig, except);
  auto model = taught_by(teachers_of(jobs, qualifications, brought_in), rig, motions);
  // From these jobs: another program may have written meanwhile.
  const std::string from = learnt_from(stamps_of(jobs), qualifications, brought_in, rig, motions);
  if (model) keep_if_possible(log, rig.name, from, *model);
  return model;
}

std::vector<RigLesson> lessons_learnt_from(const Log& log, const Rig& rig) {
  return lessons_of(
      teachers_of(teaching_jobs_of(log, rig, {}), qualifications_that_teach(log, rig), lessons_brought_in(log, rig)),
      rig, motions_of(rig));
}

RigShown shown_rig(const Log& log, const Rig& rig) {
  auto model = learnt_rig(log, rig, motions_of(rig));
  if (!model) {
    throw Error(
        Trouble::request, "nothing_learnt",
        fmt::format("nothing has taught this program anything of rig {} yet", rig.name),
        "it needs one sensor of known sensitivity at each of two supports, A before B, and a job of two spins with "
        "other weights, "
        "whose shaft file says mass, tube and supports");
  }
  RigShown shown{
      rig.name, {rig.sensors[0].name, rig.sensors[1].name}, std::move(*model), {}, {}, brought_in_of(log, rig.name)};
  std::map<std::string, std::string> names;
  for (const JobStamp& each : log.stamps_to_learn_from(rig.name, static_cast<int>(jobs_looked_at)))
    names[each.uid] = each.name;
  for (const BroughtIn& each : shown.brought_in)
    for (const CarriedLesson& lesson : each.carried.lessons) names[lesson.lesson.job] = lesson.job;
  for (const RigLesson& lesson : shown.model.lessons)
    shown.teachers.push_back(names.contains(lesson.job) ? names.at(lesson.job) : qualification_teacher);
  shown.condition = condition_of(shown.model);
  return shown;
}

Rig newest_rig(const Log& log, const std::string& name) {
  LogFilter filter;
  filter.rig = name;
  const auto jobs = log.list(filter);
  if (!jobs.empty()) return log.job(jobs.front().name).rig();
  if (const auto work = newest_rig_work(log, name)) return work->rig();
  throw Error(Trouble::request, "no_such_rig",
              name.empty() ? "the log knows no rig" : fmt::format("the log knows no rig '{}'", name),
              "'log list' shows the jobs with their rigs; name one with --rig-name");
}

std::vector<ShaftSpins> JobsInLog::of_shafts_like(const Rig& rig, const Shaft& shaft, double unlike_at_most) const {
  return spins_of(
      others(log_.jobs_to_learn_from(rig.name, static_cast<int>(shaft.planes.size()),
                                     static_cast<int>(jobs_looked_at + except_.size()),
                                     [&](const Shaft& each) { return unlikeness(each, shaft) <= unlike_at_most; }),
             except_));
}

std::optional<RigModel> JobsInLog::rig_model(const Rig& rig, const std::vector<Motion>& motions) const {
  return learnt_rig(log_, rig, motions, except_);
}

std::optional<FamilyPrior> prior_from(const Log& log, const Rig& rig, const Shaft& shaft, const MeasuredSpins& spins) {
  if (spins.readings.empty() || !spins.readings.back().speed_rad_s) return std::nullopt;
  std::set<std::string> names;
  for (const JobOverview& each : log.list({shaft.id, rig.name, "", {}, {}})) names.insert(each.name);
  std::vector<std::string> of_this_shaft;
  for (const JobStamp& each : log.stamps_to_learn_from(rig.name, stamps_at_most))
    if (names.contains(each.name)) of_this_shaft.push_back(each.uid);
  return prior_from(JobsInLog(log, of_this_shaft), rig, shaft, spins.motions, *spins.readings.back().speed_rad_s);
}

}  // namespace counterspot
