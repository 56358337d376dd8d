// What a rig taught is kept in the log. Whatever happens to the log, what is answered is what learning anew from all of
// its jobs gives: held against `taught_by`, which knows nothing of what is kept.
#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>

#include "counterspot/files/files.hpp"
#include "counterspot/guide/rig_teaching.hpp"
#include "counterspot/log/rig_log.hpp"
#include "counterspot/units/error.hpp"
#include "log/databases.hpp"
#include "log/processes.hpp"
#include "log/rig_model_json.hpp"
#include "made_up_shop.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const std::string program = "counterspot 0.1.0";
const std::vector<Motion> motions{Motion::acceleration, Motion::acceleration};
constexpr double same = 1e-9;  // of each parameter and of its variance

std::optional<RigModel> learnt_anew(const Log& log, const Rig& rig, const std::string& except = "") {
  RigTeachers teachers;
  LogFilter of_rig;
  of_rig.rig = rig.name;
  log.for_each_job(of_rig, [&](const Job& job) {
    if (job.uid != except && state_of(job.events).spins.size() > 1)
      teachers.jobs.insert(teachers.jobs.begin(), spins_of(job));
  });
  return taught_by(teachers, rig, motions);
}

void check_same(const std::optional<RigModel>& one, const std::optional<RigModel>& other) {
  REQUIRE(one);
  REQUIRE(other);
  REQUIRE(one->theta.size() == other->theta.size());
  CHECK((one->theta - other->theta).norm() <= same * other->theta.norm());
  CHECK((one->covariance - other->covariance).norm() <= same * other->covariance.norm());
  CHECK(one->scatter.clamping == Approx(other->scatter.clamping).epsilon(same));
  CHECK(one->lessons.size() == other->lessons.size());
}

/// What is kept is what is answered with: a mark in it comes back.
void mark_what_is_kept(const std::string& place) {
  const std::string known = "\"ln_evidence\":";
  const Log log = Log::open(place, false);
  for (const std::string& row : rows_of_sql(place, "SELECT rig || '|' || learnt_from FROM learnt ORDER BY kept")) {
    const auto bar = row.find('|');
    const std::string rig = row.substr(0, bar);
    const std::string from = row.substr(bar + 1);
    std::string state = log.learnt(rig, from).value();
    state.replace(state.find(known), known.size(), known + "4711e9,\"was\":");
    log.keep_learnt(rig, from, state);
  }
}

}  // namespace

TEST_CASE(
    "what a rig taught is answered from the log, and learnt anew when something was added, taken back or brought in") {
  const auto kind = GENERATE(test::Kind::sqlite, test::Kind::postgresql);
  const Place place(kind);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  std::vector<Job> jobs;
  for (int i = 0; i < 3; ++i) jobs.push_back(shop.spun_job(log, i, 3, some_day + 86400 * i));
  const Rig rig = jobs.front().rig();
  check_same(learnt_rig(log, rig, motions), learnt_anew(log, rig));

  mark_what_is_kept(place.text());
  CHECK(learnt_rig(log, rig, motions)->ln_evidence == 4711e9);
  log.forget_learnt(rig.name);
  check_same(learnt_rig(log, rig, motions), learnt_anew(log, rig));

  mark_what_is_kept(place.text());  // from here on nothing that was kept may come back
  auto check_fresh = [&] {
    const auto model = learnt_rig(log, rig, motions);
    check_same(model, learnt_anew(log, rig));
    CHECK(model->ln_evidence != 4711e9);
    mark_what_is_kept(place.text());
  };
  SECTION("another job") {
    shop.spun_job(log, 3, 3, some_day + 86400 * 3);
    check_fresh();
  }
  SECTION("a spin taken back, and entered again") {
    jobs[1] = log.append(jobs[1], TakenBack{5, "wrong shaft"}, program, some_day);
    check_fresh();
    log.append(jobs[1], std::get<Spun>(jobs[1].events[4].what), program, some_day);
    check_fresh();
  }
  SECTION("a close, and its being taken back") {
    jobs[0] = log.append(jobs[0], Closed{std::nullopt, std::nullopt, "made up"}, program, some_day);
    check_fresh();
    log.append(jobs[0], TakenBack{6, "it goes on"}, program, some_day);
    check_fresh();
  }
  SECTION("jobs brought in from another log, and entries that a job lacked") {
    const TemporaryFolder folder;
    Log other = Log::open((folder / "other.db").string(), true);
    const Job more = MadeUpShop().spun_job(other, 77, 2, some_day + 1000);
    log.import_job(more);
    check_fresh();
    log.import_job(other.append(more, TakenBack{1, "no"}, program, some_day));
    const auto model = learnt_rig(log, rig, motions);
    check_same(model, learnt_anew(log, rig));
  }
  SECTION("what the owner knows of the pedestals") {
    const Rig known = read_rig_text(shop.rig_text("[pedestal]\nmoving_mass = \"4 kg ± 0.2 kg\"\n"), "rig.toml");
    const auto model = learnt_rig(log, known, motions);
    check_same(model, learnt_anew(log, known));
    CHECK(std::sqrt(model->covariance(0, 0)) < 0.026);
  }
}

TEST_CASE("a job in work does not teach itself, and its spins leave what was kept alone") {
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  for (int i = 0; i < 3; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
  Job job = shop.spun_job(log, 9, 1, some_day + 86400 * 9);
  const Rig rig = job.rig();
  learnt_rig(log, rig, motions, {job.uid});
  mark_what_is_kept(place.text());
  const Spun again = std::get<Spun>(job.events[0].what);
  job = log.append(job, Fitted{{{0, 0.02, 0.046, 0.0}}}, program, some_day);
  job = log.append(job, again, program, some_day);
  const auto model = learnt_rig(log, rig, motions, {job.uid});
  REQUIRE(model);
  CHECK(model->ln_evidence == 4711e9);
}

TEST_CASE("rigs of one log do not teach each other") {
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop one("bay 1");
  MadeUpShop other("bay 2");
  const Job first = one.spun_job(log, 1, 3, some_day);
  other.spun_job(log, 2, 3, some_day);
  const Job second = other.spun_job(log, 3, 3, some_day);
  CHECK(learnt_rig(log, first.rig(), motions)->lessons.size() == 1);
  CHECK(learnt_rig(log, second.rig(), motions)->lessons.size() == 2);
  log.forget_learnt("bay 1");
  mark_what_is_kept(place.text());
  CHECK(learnt_rig(log, second.rig(), motions)->ln_evidence == 4711e9);
}

TEST_CASE("what is kept and cannot be read is learnt anew") {
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  const Rig rig = shop.spun_job(log, 1, 3, some_day).rig();
  const auto before = learnt_rig(log, rig, motions);
  run_sql(place.text(), "UPDATE learnt SET state = '{}'");
  check_same(learnt_rig(log, rig, motions), before);
}

TEST_CASE("a kept model in which a digit has changed is learnt anew") {
  const Place place(GENERATE(test::Kind::sqlite, test::Kind::postgresql));
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  const Rig rig = shop.spun_job(log, 1, 3, some_day).rig();
  const auto before = learnt_rig(log, rig, motions);
  run_sql(place.text(), "UPDATE learnt SET state = replace(state, '1', '2')");
  check_same(learnt_rig(log, rig, motions), before);
}

TEST_CASE("of one rig only a few states are kept, and a backup has none") {
  const TemporaryFolder folder;
  Log log = Log::open((folder / "log.db").string(), true);
  for (int i = 0; i < 9; ++i) log.keep_learnt("bay 2", std::to_string(i), "state");
  for (int i = 0; i < 9; ++i) CHECK(log.learnt("bay 2", std::to_string(i)).has_value() == (i >= 5));
  CHECK_FALSE(log.learnt("bay 1", "8"));
  log.back_up(folder / "backup.db");
  CHECK_FALSE(Log::open((folder / "backup.db").string(), false).learnt("bay 2", "8"));
}

TEST_CASE("what was learnt comes back from JSON bit for bit") {
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  for (int i = 0; i < 5; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
  const Rig rig = read_rig_text(shop.rig_text("[pedestal]\nnatural_frequency = \"15 Hz ± 2 Hz\"\n"), "rig.toml");
  auto model = learnt_anew(log, rig);
  REQUIRE(model);
  model->steps = {{2, 1, 0.05, -0.01}};
  const Eigen::Index of_rig = model->theta.size();
  model->theta.conservativeResizeLike(Eigen::VectorXd::Zero(of_rig + 2));
  model->covariance.conservativeResizeLike(Eigen::MatrixXd::Zero(of_rig + 2, of_rig + 2));
  model->set_aside = {{1, 77.0, 8}};
  const std::string text = rig_model_to_json(*model);
  CHECK(rig_model_to_json(rig_model_of_json(text)) == text);
  const RigModel back = rig_model_of_json(text);
  CHECK(back.theta == model->theta);
  CHECK(back.lessons[3].rows == model->lessons[3].rows);
  CHECK(back.lessons[3].shaft.plane_shapes == model->lessons[3].shaft.plane_shapes);
  CHECK(back.pedestals[0].natural_frequency_Hz->u == model->pedestals[0].natural_frequency_Hz->u);
}

TEST_CASE("a kept model whose parts do not belong together is refused, and so is learnt anew") {
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  for (int i = 0; i < 5; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
  const auto model = learnt_anew(log, read_rig_text(shop.rig_text(), "rig.toml"));
  REQUIRE(model);
  auto is_refused = [](const RigModel& changed) {
    try {
      rig_model_of_json(rig_model_to_json(changed));
    } catch (const Error& error) {
      return error.code() == "bad_rig_model";
    }
    return false;
  };
  CHECK_FALSE(is_refused(*model));
  RigModel changed = *model;
  changed.theta.conservativeResize(model->theta.size() - 1);
  CHECK(is_refused(changed));
  changed = *model;
  changed.covariance.conservativeResize(1, 1);
  CHECK(is_refused(changed));
  changed = *model;
  changed.set_aside = {{99, 77.0, 8}};
  CHECK(is_refused(changed));
  auto kept = nlohmann::json::parse(rig_model_to_json(*model));
  kept["lessons"][0]["shaft"]["mass_kg"] = {1, 1, 5.0};  // a shaft has four freedoms
  CHECK(code_of([&] { rig_model_of_json(kept.dump()); }) == "bad_rig_model");
}

TEST_CASE("a log that can only be read answers from what the rig taught, and keeps nothing") {
  namespace fs = std::filesystem;
  const TemporaryFolder folder;
  const std::string place = (folder / "log.db").string();
  std::string name;
  {
    Log log = Log::open(place, true);
    MadeUpShop shop;
    for (int i = 0; i < 4; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
    name = shop.spun_job(log, 9, 1, some_day + 86400 * 9).name;
  }
  fs::permissions(place, fs::perms(0444));
  fs::permissions(folder.path(), fs::perms(0555));
  Process reader([&](int pipe) {
    if (geteuid() == 0 && setuid(65534) != 0) return 97;  // the rights of a folder do not bind root
    const Log log = Log::open_to_read(place);
    const KnownJob known = known_job(log, log.job(name));
    say(pipe, fmt::format("{} {}", known.prior->shafts, known.next().pieces.empty() ? "" : "asks"));
    return 0;
  });
  CHECK(reader.wait_for() == 0);
  CHECK(reader.said() == "4 asks");
  fs::permissions(folder.path(), fs::perms(0755));
  fs::permissions(place, fs::perms(0644));
  CHECK(std::system(fmt::format("test $(sqlite3 '{}' 'SELECT count(*) FROM learnt') = 0", place).c_str()) == 0);
  const Log log = Log::open(place, false);  // where it may be written it is kept
  known_job(log, log.job(name));
  CHECK(std::system(fmt::format("test $(sqlite3 '{}' 'SELECT count(*) FROM learnt') = 1", place).c_str()) == 0);
}

TEST_CASE("whoever changes what is learnt raises its version, so that nothing older is taken for it") {
  // What version 3 learns from these five jobs. If this fails, what is kept in people's logs is not what would be
  // learnt now: raise rig_learning_version, and put here what the test prints. A step ends at 1e-4 u; 0.01 u is
  // allowed.
  constexpr int version = 3;
  const std::vector<double> kept = {1.34391, 10.55978, 4.09697, -0.02986, 0.69267, -0.08274, 1.34025, 10.50607,
                                    4.20955, -0.02265, 0.70992, 0.14398,  0.01743, -0.00080, -0.00450};
  const std::vector<double> scatters = {0.02028, 0.00536, 0.01166, 0.02742, 0.01516};
  const Place place(test::Kind::sqlite);
  Log log = Log::open(place.text(), true);
  MadeUpShop shop;
  for (int i = 0; i < 5; ++i) shop.spun_job(log, i, 3, some_day + 86400 * i);
  const auto model = learnt_anew(log, log.job("PS-0/1").rig());
  REQUIRE(model);
  CHECK(rig_learning_version == version);
  INFO(fmt::format("{:.5f}", fmt::join(model->theta.begin(), model->theta.end(), ", ")));
  INFO(fmt::format("{:.5f} {:.5f} {:.5f} {:.5f} {:.5f}", model->scatter.clamping, model->scatter.each,
                   model->scatter.smooth, model->scatter.along_bed, model->scatter.over_speed));
  REQUIRE(static_cast<std::size_t>(model->theta.size()) == kept.size());
  for (Eigen::Index i = 0; i < model->theta.size(); ++i) {
    CAPTURE(i);
    CHECK(std::abs(model->theta(i) - kept[static_cast<std::size_t>(i)]) < 0.01 * std::sqrt(model->covariance(i, i)));
  }
  CHECK(model->scatter.clamping == Approx(scatters[0]).epsilon(0.01));
  CHECK(model->scatter.each == Approx(scatters[1]).epsilon(0.01));
  CHECK(model->scatter.smooth == Approx(scatters[2]).epsilon(0.01));
  CHECK(model->scatter.along_bed == Approx(scatters[3]).epsilon(0.01));
  CHECK(model->scatter.over_speed == Approx(scatters[4]).epsilon(0.01));
}
