// What a rig taught, carried to another log: as whole jobs, and as lessons. Held against what the log that it comes
// from has learnt.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "log/databases.hpp"
#include "made_up_shop.hpp"
#include "report/job_text.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";
const std::vector<Motion> motions{Motion::acceleration, Motion::acceleration};
constexpr double same = 1e-9;  // of the parameters and of their variances

struct TaughtLog {
  Place place;
  Log log;
  MadeUpShop shop;
  Rig rig;

  explicit TaughtLog(int jobs, Kind kind = Kind::sqlite) : place(kind), log(Log::open(place.text(), true)) {
    for (int i = 0; i < jobs; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
    rig = read_rig_text(shop.rig_text(), "rig.toml");
  }
  BroughtIn lessons() const {
    const CarriedLessons carried = lessons_to_carry(log, rig, program, some_day);
    return {"bay-2.json", some_day + 1, carried_of_json(carried_to_json(carried))};
  }
};

/// A shaft of the shop that neither log has spun.
CoefficientPrior foretold(const RigModel& model) {
  const Shaft shaft = read_shaft_text(MadeUpShop().shaft_text(99), "shaft.toml");
  return predict(model, *dynamics_of(shaft), rad_per_s(1500.0), {motions[0], motions[1]});
}

}  // namespace

TEST_CASE("a rig's knowledge moves with its jobs: learnt anew from what was exported it is the same") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const TaughtLog from(5);
  const Place place(kind);
  Log to = Log::open(place.text(), true);
  from.log.for_each_job({}, [&](const Job& job) { to.import_job(job_of_json_line(job_to_json_line(job))); });
  const auto before = learnt_rig(from.log, from.rig, motions);
  const auto after = learnt_rig(to, from.rig, motions);
  REQUIRE(before);
  REQUIRE(after);
  CHECK((after->theta - before->theta).norm() <= same * before->theta.norm());
  CHECK((after->covariance - before->covariance).norm() <= same * before->covariance.norm());
}

TEST_CASE("lessons teach a log without the jobs what they taught, and are told wherever they are used") {
  const TaughtLog from(6);
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log to = Log::open(place.text(), true);
  bring_in(to, from.rig, from.lessons());
  const auto before = learnt_rig(from.log, from.rig, motions);
  const auto after = learnt_rig(to, from.rig, motions);
  REQUIRE(before);
  REQUIRE(after);
  // The lessons are the same to the last bit; Gauss-Newton begins elsewhere, and ends where a step is 1e-4 u.
  for (std::size_t a = 0; a < before->lessons.size(); ++a) CHECK(after->lessons[a].values == before->lessons[a].values);
  const CoefficientPrior one = foretold(*before);
  const CoefficientPrior other = foretold(*after);
  for (Eigen::Index i = 0; i < one.mean.size(); ++i) {
    CHECK(std::abs(one.mean(i) - other.mean(i)) < 0.01 * std::sqrt(one.covariance(i, i)));
    CHECK(other.covariance(i, i) == Approx(one.covariance(i, i)).epsilon(0.01));
  }

  const RigShown shown = shown_rig(to, from.rig);
  REQUIRE(shown.brought_in.size() == 1);
  CHECK(shown.brought_in[0].file == "bay-2.json");
  CHECK(shown.brought_in[0].carried.lessons[3].shaft == "PS-3");
  CHECK(shown.teachers[3] == "PS-3/1");
  // A job's first spin, entered as the guide does, says so too.
  MadeUpShop shop = from.shop;
  const Job job = shop.corrected_job(to, 50, some_day + 86400 * 50);
  const Finding& finding = *std::get<Closed>(job.events.back().what).finding;
  CHECK(finding.rig_taught_by == 6);
  CHECK(finding.brought_in == 6);
  CHECK(taught_text(finding) == "with what the rig taught (earlier shafts: 6, of them from another log: 6)");
}

TEST_CASE("lessons of jobs that the log has, or that were brought in before, count once") {
  const TaughtLog from(6);
  const BroughtIn lessons = from.lessons();
  Log same_log = Log::open(from.place.text(), false);
  CHECK(code_of([&] { bring_in(same_log, from.rig, lessons); }) == "nothing_new");
  const Place place(Kind::sqlite);
  Log to = Log::open(place.text(), true);
  bring_in(to, from.rig, lessons);
  CHECK(code_of([&] { bring_in(to, from.rig, lessons); }) == "nothing_new");
  for (const char* name : {"PS-0/1", "PS-1/1"}) to.import_job(from.log.job(name));
  const auto model = learnt_rig(to, from.rig, motions);
  REQUIRE(model);
  CHECK(model->lessons.size() == 6);
  CHECK(std::count_if(model->lessons.begin(), model->lessons.end(),
                      [](const RigLesson& lesson) { return lesson.brought_in; }) == 4);
}

TEST_CASE("lessons are refused for a rig that is not the one they were learnt on, and nothing is kept") {
  const TaughtLog from(3);
  const Place place(Kind::sqlite);
  Log to = Log::open(place.text(), true);
  const auto with = [&](const std::string& what, const std::string& instead) {
    std::string text = from.shop.rig_text();
    for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + instead.size()))
      text.replace(at, what.size(), instead);
    return read_rig_text(text, "rig.toml");
  };
  for (const auto& [what, instead] :
       std::vector<std::pair<std::string, std::string>>{{"\"bay 2\"", "\"bay 3\""},
                                                        {"channel = 2", "channel = 4"},
                                                        {"counter-clockwise", "clockwise"},
                                                        {"100 mV/g", "20 mV/(mm/s)"},
                                                        {"name = \"B\"", "name = \"far\""}}) {
    CAPTURE(what);
    const Rig other = with(what, instead);
    CHECK(code_of([&] { bring_in(to, other, from.lessons()); }) == "other_rig");
  }
  CHECK(to.rig_records("", "").empty());
  // Seen from the other end the same rig turns the other way.
  bring_in(to, with("counter-clockwise\"\nviewing_end = \"A", "clockwise\"\nviewing_end = \"B"), from.lessons());
  CHECK(to.rig_records("", "").size() == 1);
}

TEST_CASE("a file that holds no lessons is refused with what is wrong with it") {
  const TaughtLog from(2);
  nlohmann::json whole = nlohmann::json::parse(carried_to_json(from.lessons().carried));
  CHECK(code_of([] { carried_of_json("{\"format\": \"counterspot job\"}"); }) == "bad_lessons");
  CHECK(code_of([] { carried_of_json("not JSON"); }) == "bad_lessons");
  auto broken = [&](const std::function<void(nlohmann::json&)>& breaks) {
    nlohmann::json document = whole;
    breaks(document);
    return code_of([&] { carried_of_json(document.dump()); });
  };
  CHECK(broken([](auto& json) { json["version"] = 2; }) == "bad_lessons");
  CHECK(broken([](auto& json) { json["sensors"][0]["motion"] = "noise"; }) == "bad_lessons");
  CHECK(broken([](auto& json) { json["lessons"][0]["lesson"]["rows"][0] = 77; }) == "bad_lessons");
  CHECK(broken([](auto& json) { json["lessons"][0].erase("shaft"); }) == "bad_lessons");
}

TEST_CASE("in a log of several rigs each learns by itself, and a shaft's own coefficients stay on its rig") {
  const Place place(GENERATE(Kind::sqlite, Kind::postgresql));
  Log log = Log::open(place.text(), true);
  MadeUpShop one("bay 1");
  MadeUpShop other("bay 2");
  for (int i = 0; i < 4; ++i) one.spun_job(log, i, 3, some_day + 86400 * i);
  log.append(log.job("PS-3/1"), Closed{std::nullopt, std::nullopt, "it goes to the other rig"}, program,
             some_day + 86400 * 8);
  // The same shaft on the second rig, which has taught nothing: nothing is foretold, and a trial is asked for.
  Job job = log.open_job(
      {"rig.toml", other.rig_text(), "shaft.toml", log.job("PS-3/1").shaft_file.text(), program, some_day + 86400 * 9});
  job = keep_spin(log, job, std::get<Spun>(log.job("PS-2/1").events[0].what), program, some_day + 86400 * 9);
  const KnownJob known = known_job(log, job);
  CHECK_FALSE(known.prior);
  CHECK_FALSE(known.analysis.used_prior);
  CHECK(known.next().kind == StepKind::fit_trial);
  // The first rig is told of by its own four jobs alone.
  CHECK(learnt_rig(log, read_rig_text(one.rig_text(), "rig.toml"), motions)->lessons.size() == 4);
  CHECK_FALSE(learnt_rig(log, read_rig_text(other.rig_text(), "rig.toml"), motions));
}
