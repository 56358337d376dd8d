// What earlier shafts teach, where a pencil can follow: readings without noise, weights set exactly, and a scatter from
// shaft to shaft of u = 0.08 of a sensor's usual coefficient that counts as eight shafts' say (LearningOptions).
#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/job/next_step.hpp"
#include "counterspot/learning/rig_teaching.hpp"
#include "job/pencil_rig.hpp"
#include "says.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double u = 0.08;
constexpr double by_pencil = 0.02;  // relative: the readings' noise of 1 µm/s, and a hold on directions never taught

const FittedWeight trial_a{0, 0.01, 0.04, 0.4};
const FittedWeight trial_b{1, 0.01, 0.04, 2.0};

Job job_of_mass(const std::string& mass, int number) {
  std::string text = shaft_toml({"PS-1042", "limit = { A = \"40 g·mm\", B = \"40 g·mm\" }", "40 mm"});
  text.replace(text.find("14.6 kg"), 7, mass);
  Job job;
  job.uid = std::to_string(number);
  job.rig_file = {"rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)", {"A", "B"}}) +
                                  "[setting]\nmass = \"0 %\"\nangle = \"0 deg\"\nrepeat = \"0 %\"\n"};
  job.shaft_file = {"shaft.toml", text};
  return job;
}

/// Spun as found, and with each of the weights alone, on a rig that answers `times` as much as the pencil rig.
Job spun_job(Job job, const std::vector<FittedWeight>& trials, double times = 1.0) {
  PencilRig rig;
  rig.near_m_s_kg_m *= times;
  rig.far_m_s_kg_m *= times;
  append(job, rig.spin({}));
  for (const FittedWeight& trial : trials) {
    append(job, Fitted{{trial}});
    append(job, rig.spin({trial}));
  }
  return job;
}

std::optional<FamilyPrior> taught_by_shafts(const std::vector<Job>& past, const Job& job) {
  LearningOptions options;
  options.teacher = Teacher::family;
  return prior_from(spins_of(past), spins_of(job), options);
}

/// Of a pencil rig's sensor: the root-mean-square of its two coefficients.
const double usual_size = std::sqrt((20.0 * 20.0 + 4.0 * 4.0) / 2.0);

ReferenceShaft qualified_at_1800_rpm(const std::string& setting) {
  ReferenceShaft reference;
  reference.uid = "qualification";
  reference.rig_file = {"rig.toml", rig_toml({"bay 2", "20 mV/(mm/s)", {"A", "B"}}) + "[setting]\n" + setting};
  reference.shaft_file = job_of_mass("14.6 kg", 1).shaft_file;
  reference.speed_rad_s = rad_per_s(1800.0);
  reference.motions = {Motion::velocity, Motion::velocity};
  reference.coefficients << 20.0, 4.0, 4.0, 20.0;
  return reference;
}

bool says_out_of_band(const Analysis& analysis) {
  return says(analysis, WarningCode::out_of_band) ||
         (analysis.solution && says(analysis.solution->judgement.held_back, WarningCode::out_of_band));
}

FamilyPrior of_pencil_rig() {
  FamilyPrior prior;
  prior.motions = {Motion::velocity, Motion::velocity};
  prior.coefficients.mean = Eigen::VectorXd::Zero(8);
  prior.coefficients.mean << 20.0, 0.0, 4.0, 0.0, 4.0, 0.0, 20.0, 0.0;
  prior.coefficients.covariance = 0.25 * Eigen::MatrixXd::Identity(8, 8);
  return prior;
}

}  // namespace

// Eight shafts alike to the last digit. All tell of plane A: the scatter there is (8·u² + 0)/(8 + 8) = u²/2, and with
// the mean's own variance, an eighth of it, 9/16·u². One alone tells of plane B: for each of the seven others the
// scatter itself is as good as known, T = (8·u² + 7·T)/16, so T = 8/9·u²; and the mean is no surer than that one shaft:
// 16/9·u².
TEST_CASE("the scatter of a family shrinks by what its shafts have taught, and hardly where one alone has taught") {
  std::vector<Job> past;
  for (int number = 1; number <= 8; ++number)
    past.push_back(
        spun_job(job_of_mass("14.6 kg", number), number == 1 ? std::vector{trial_a, trial_b} : std::vector{trial_a}));
  const auto prior = taught_by_shafts(past, spun_job(job_of_mass("14.6 kg", 99), {}));
  REQUIRE(prior);
  CHECK(prior->shafts == 8);
  CHECK(prior->coefficients.degrees_of_freedom == 16.0);  // theirs, and the eight that the usual scatter counts as
  const auto variance = [&](Eigen::Index sensor, Eigen::Index plane) {
    const Eigen::Index at = 2 * (2 * sensor + plane);
    return prior->coefficients.covariance(at, at) / (usual_size * usual_size);
  };
  for (const Eigen::Index sensor : {0, 1}) {
    CAPTURE(sensor);
    CHECK(variance(sensor, 0) == Approx(9.0 / 16.0 * u * u).epsilon(by_pencil));
    CHECK(variance(sensor, 1) == Approx(16.0 / 9.0 * u * u).epsilon(by_pencil));
  }
  CHECK(prior->coefficients.mean(0) == Approx(20.0).epsilon(by_pencil));
  CHECK(prior->coefficients.mean(2) == Approx(4.0).epsilon(by_pencil));
}

// The bands of learning.hpp, each met exactly: an edge of a band is unlikeness 1.
TEST_CASE("shafts are of one family within 6 % of the tube, 12 % of the mass and 4 % of the span of where planes are") {
  const Shaft drawn = job_of_mass("15 kg", 1).shaft();
  const double span_m = drawn.supports->b_m - drawn.supports->a_m;
  const auto unlike = [&](auto change) {
    Shaft other = drawn;
    change(other);
    return unlikeness(drawn, other);
  };
  CHECK(unlike([](Shaft&) {}) == 0.0);
  CHECK(unlike([](Shaft& shaft) { shaft.tube->outside_diameter_m *= 0.94; }) == Approx(1.0));
  CHECK(unlike([](Shaft& shaft) { shaft.tube->wall_m *= 0.94; }) == Approx(1.0));
  CHECK(unlike([](Shaft& shaft) { shaft.tube->length_m *= 0.94; }) == Approx(1.0));
  CHECK(unlike([](Shaft& shaft) { *shaft.mass_kg *= 0.88; }) == Approx(1.0));
  CHECK(unlike([&](Shaft& shaft) { shaft.planes[1].position_m -= 0.04 * span_m; }) == Approx(1.0));
  CHECK(unlike([](Shaft& shaft) {  // of several differences the largest counts
          *shaft.mass_kg *= 0.76;
          shaft.tube->wall_m *= 0.97;
        }) == Approx(2.0));
  CHECK(unlike([](Shaft& shaft) { shaft.planes.pop_back(); }) > 1e6);
  CHECK(unlike([](Shaft& shaft) { shaft.tube.reset(); }) > 1e6);
}

// Both masses of a qualification err by 3 % and 4 % of a radian, so 5 % of a coefficient in any direction; of what a
// sensor usually answers, √((20² + 4²)/2).
TEST_CASE("a qualification teaches each coefficient as surely as its masses were set") {
  const ReferenceShaft reference = qualified_at_1800_rpm("mass = \"3 %\"\nangle = \"2.2918312 deg\"\n");
  const auto lessons = lessons_of({{}, {reference}}, reference.rig_file.value(), reference.motions);
  REQUIRE(lessons.size() == 1);
  const Eigen::MatrixXd inverse = lessons[0].rows.inverse();
  for (Eigen::Index i = 0; i < 8; ++i) CHECK(inverse(i, i) == Approx(0.05 * usual_size).epsilon(1e-6));
  const Eigen::VectorXd taught = inverse * lessons[0].values;
  CHECK(taught(0) == Approx(20.0));
  CHECK(taught(2) == Approx(4.0));
}

// Above the service speed a shaft shows what nobody asks of it, and beyond what has been spun the rig is not known.
TEST_CASE("no speed is advised above the shaft's service speed, nor above the fastest spin that taught of the rig") {
  const ReferenceShaft reference = qualified_at_1800_rpm("mass = \"1 %\"\nangle = \"1 deg\"\n");
  const auto model = taught_by({{}, {reference}}, reference.rig_file.value(), reference.motions);
  REQUIRE(model);
  Shaft shaft = reference.shaft_file.value();
  for (const auto& [service_rpm, highest_rpm] : {std::pair(1500.0, 1500.0), std::pair(3200.0, 1800.0)}) {
    CAPTURE(service_rpm);
    shaft.service_speed_rad_s = rad_per_s(service_rpm);
    const SpeedAdvice advice = advised_speed(*model, shaft);
    REQUIRE_FALSE(advice.speeds.empty());
    CHECK(rpm(advice.speeds.front().speed_rad_s) == Approx(400.0));
    CHECK(rpm(advice.speeds.back().speed_rad_s) == Approx(highest_rpm));
  }
}

// Two families of four, one answering 1.2 times as much as the other, and a shaft as unlike the one as the other by its
// mass: (m − 12)/m = (18 − m)/18. Its mean is half way, 1.1; along the line from one to the other the variance holds
// the half distance squared, d² = 4·(0.1/1.1)², an eighth of it once more in every direction, and each family's own,
// 8/12·u²·(1 + 1/4).
TEST_CASE("between two families the prior is unsure by how they differ, most of all in the way they differ") {
  std::vector<Job> past;
  for (int number = 1; number <= 4; ++number) {
    past.push_back(spun_job(job_of_mass("12 kg", number), {trial_a, trial_b}));
    past.push_back(spun_job(job_of_mass("18 kg", 10 + number), {trial_a, trial_b}, 1.2));
  }
  const auto prior = taught_by_shafts(past, spun_job(job_of_mass("14.697 kg", 99), {}));
  REQUIRE(prior);
  REQUIRE(prior->between);
  CHECK(prior->coefficients.degrees_of_freedom == 10.0);  // two families
  const Eigen::VectorXd mean = prior->coefficients.mean / (1.1 * usual_size);
  CHECK(prior->coefficients.mean(0) == Approx(1.1 * 20.0).epsilon(by_pencil));
  const Eigen::MatrixXd covariance = prior->coefficients.covariance / (1.1 * 1.1 * usual_size * usual_size);
  const Eigen::VectorXd along = mean.normalized();
  const double apart = 4.0 * (0.1 / 1.1) * (0.1 / 1.1);
  const double own = 8.0 / 12.0 * u * u * 1.25;
  CHECK(along.dot(covariance * along) == Approx(own + apart * (1.0 + 1.0 / 8.0)).epsilon(by_pencil));
  Eigen::VectorXd across = Eigen::VectorXd::Zero(8);
  across(1) = 1.0;  // the quadrature part of a coefficient, which is 0 in both
  CHECK(across.dot(covariance * across) == Approx(own + apart / 8.0).epsilon(by_pencil));
}

TEST_CASE("spins that contradict what earlier shafts taught are solved by themselves, and it is said") {
  const Job alike = spun_job(job_of_mass("14.6 kg", 1), {trial_a, trial_b});
  const Analysis agreed = analyse(alike, of_pencil_rig());
  REQUIRE(agreed.solution);
  CHECK(agreed.used_prior);
  CHECK_FALSE(says_out_of_band(agreed));
  const Job other = spun_job(job_of_mass("14.6 kg", 1), {trial_a, trial_b}, 1.5);  // 30 and 6 where 20 and 4 are usual
  const Analysis alone = analyse(other, of_pencil_rig());
  REQUIRE(alone.solution);
  CHECK_FALSE(alone.used_prior);
  CHECK(says_out_of_band(alone));
  CHECK(std::abs(alone.solution->influence.coefficients[0].value - 30.0) < 0.01);
}

// With the shaft turned half round against its adapters, what they weigh changes sign in the readings.
TEST_CASE("where the shaft was turned against its adapters, earlier shafts give no answer before its own spins do") {
  Job job = job_of_mass("14.6 kg", 1);
  for (const double turned_rad : {0.0, pi}) {
    Spun spun = PencilRig().spin({});
    spun.turned_rad = turned_rad;
    append(job, spun);
  }
  const Analysis analysis = analyse(job, of_pencil_rig());
  CHECK_FALSE(analysis.used_prior);
  CHECK_FALSE(analysis.solution);
}
