#include "counterspot/learning/rig_teaching.hpp"

#include <algorithm>
#include <set>

#include "counterspot/shaft/beam.hpp"
#include "counterspot/units/error.hpp"
#include "learning/rig_lessons.hpp"

namespace counterspot {

namespace {

constexpr double least_balancing_rpm = 400.0;

/// The newest jobs that taught something, oldest first.
std::vector<RigLesson> lessons_of_jobs(const std::vector<ShaftSpins>& newest_first, const Rig& rig,
                                       const std::vector<Motion>& motions, const RigModel* known) {
  std::vector<RigLesson> lessons;
  int jobs = 0;
  for (const ShaftSpins& each : newest_first) {
    if (jobs == rig_teachers_at_most) break;
    auto more = lessons_of(each, rig, motions, known);
    jobs += more.empty() ? 0 : 1;
    std::move(more.begin(), more.end(), std::back_inserter(lessons));
  }
  std::reverse(lessons.begin(), lessons.end());
  return lessons;
}

int jobs_in(const std::vector<RigLesson>& lessons) {
  std::set<std::string> uids;
  for (const RigLesson& each : lessons) uids.insert(each.job);
  return static_cast<int>(uids.size());
}

/// The lessons of so many newest jobs.
std::vector<RigLesson> newest_of(const std::vector<RigLesson>& oldest_first, int jobs) {
  std::vector<RigLesson> newest;
  for (std::size_t left = oldest_first.size(); left > 0; --left) {
    newest.insert(newest.begin(), oldest_first[left - 1]);
    if (jobs_in(newest) > jobs) return {newest.begin() + 1, newest.end()};
  }
  return newest;
}

std::vector<RigLesson> lessons_of_all(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions,
                                      const RigModel* known) {
  std::vector<RigLesson> lessons = lessons_of_jobs(teachers.jobs, rig, motions, known);
  auto put_in = [&](RigLesson lesson) {
    const auto later = std::find_if(lessons.begin(), lessons.end(),
                                    [&](const RigLesson& each) { return each.at_unix_s > lesson.at_unix_s; });
    lessons.insert(later, std::move(lesson));
  };
  for (const RigLesson& each : newest_of(teachers.brought_in, rig_teachers_at_most - jobs_in(lessons)))
    if (std::vector(each.motions.begin(), each.motions.end()) == motions) put_in(each);
  for (const ReferenceShaft& reference : teachers.qualifications)
    if (auto lesson = lesson_of(reference, rig, motions)) put_in(std::move(*lesson));
  return lessons;
}

struct LessonsWithStart {
  std::vector<RigLesson> lessons;
  RigLearningOptions options;  ///< with where to start from
};

/// Empty if there is nothing to learn from.
LessonsWithStart lessons_to_learn(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions,
                                  RigLearningOptions options) {
  if (!has_rig_model(rig, motions)) return {};
  options.pedestals = rig.pedestals;
  RigLearningOptions quick = options;
  quick.scatters = false;
  const auto first = learn_rig(lessons_of_all(teachers, rig, motions, nullptr), quick);
  if (!first) return {};
  // Once more, now that it is known how much a badly set weight changes the readings.
  options.form = first->form();
  options.start = first->theta;
  return {lessons_of_all(teachers, rig, motions, &*first), options};
}

}  // namespace

bool has_rig_model(const Rig& rig, const std::vector<Motion>& motions) {
  return has_rig_model(rig) && motions.size() == 2 && std::ranges::find(motions, Motion::unscaled) == motions.end();
}

bool has_rig_model(const Rig& rig) {
  return rig.sensors.size() == 2 && !(rig.sensors[0].name == "B" && rig.sensors[1].name == "A");
}

std::optional<RigModel> taught_by(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions,
                                  RigLearningOptions options) {
  auto [lessons, with_start] = lessons_to_learn(teachers, rig, motions, std::move(options));
  return learn_rig(lessons, with_start);
}

std::vector<RigLesson> lessons_of(const RigTeachers& teachers, const Rig& rig, const std::vector<Motion>& motions) {
  return lessons_to_learn(teachers, rig, motions, {}).lessons;
}

SpeedAdvice advised_speed(const RigModel& model, const Shaft& shaft) {
  const auto body = body_of(shaft);
  if (!body) {
    throw Error(Trouble::request, "no_body", "how shaft " + shaft.id + " moves on pedestals cannot be said",
                "give its mass, its tube or sections, and two supports in its file");
  }
  double most_rad_s = 0.0;
  for (const RigLesson& lesson : model.lessons) most_rad_s = std::max(most_rad_s, lesson.speed_rad_s);
  for (const auto& limit : {safe_speed_rad_s(shaft), shaft.service_speed_rad_s})
    if (limit) most_rad_s = std::min(most_rad_s, *limit);
  return speed_advice(model, *body, rad_per_s(least_balancing_rpm), most_rad_s);
}

}  // namespace counterspot
