#include "console/course.hpp"
#include "console/job_session.hpp"
#include "console/replies.hpp"
#include "counterspot/drawing/drawing_course.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// Of the present job what is known already; any other is worked out anew.
KnownJob JobSession::known_of(const std::string& job) {
  const KnownJob* known = current();
  if (known != nullptr && (job.empty() || job == known->job.name)) return *known;
  return known_job(log_, log_.job(job));
}

Json JobSession::course(const std::string& job, const Viewer& viewer) {
  const std::scoped_lock lock(mutex_);
  if (job.empty() && current() == nullptr) return {{"job", nullptr}, {"spins", Json::array()}};
  return course_words(known_of(job), viewer);
}

std::string JobSession::course_drawn(const std::string& job, const Viewer& viewer, Theme theme) {
  std::vector<VectorDiagram> diagrams;
  PictureOf of;
  {
    const std::scoped_lock lock(mutex_);
    const KnownJob known = known_of(job);
    if (!known.analysis.solution)
      throw Error(Trouble::request, "not_found", "the spins do not tell yet what they left",
                  "make the spins asked for");
    diagrams = counterspot::course_of(known.job.rig(), known.job.shaft(), *known.analysis.solution);
    of = picture_of(known.job, viewer.units, options_.program);
  }
  return drawn(titled(residuals_picture(diagrams, viewer.words()), of, viewer.words()), theme);
}

void JobSession::reopen(const Json& said) {
  const std::scoped_lock lock(mutex_);
  const Job job = log_.job(said.at("job").get<std::string>());
  const JobState state = state_of(job.events);
  if (!has_seen(said, job.events.size()) || !state.closing) throw job_moved_on();
  const TakenBack back{*state.closing, said.value("reason", "")};
  chosen_ = log_.append(job, back, options_.program, now_unix_s()).name;
  settle();
}

void JobSession::open_code(const Json& said) {
  const std::string code = said.at("code").get<std::string>();
  std::string name;
  std::string file, earlier;
  {
    const std::scoped_lock lock(mutex_);
    for (const JobOverview& line : log_.list({"", "", "open", {}, {}}))
      if (line.name == code || line.shaft == code) name = line.name;
  }
  for (const Json& shaft : shafts({}))
    if (shaft["id"] == code && shaft.contains("file"))
      file = shaft["file"].get<std::string>();
    else if (shaft["id"] == code)
      earlier = shaft["job"].get<std::string>();
  if (!name.empty()) return choose({{"job", name}});
  if (!file.empty()) return open({{"file", file}});
  if (!earlier.empty()) return open({{"shaft_of", earlier}});
  throw Error(Trouble::request, "no_such_code", "no open job and no shaft in the list has the number '" + code + "'",
              "read it again, or choose from the list");
}

}  // namespace counterspot
