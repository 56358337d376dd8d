#include <catch2/catch.hpp>
#include <cmath>

#include "counterspot/recording/recording.hpp"
#include "drawing/chart.hpp"
#include "examples.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("numbers on an axis are round, within it, and no more than asked for") {
  for (const auto& [from, to] : {std::pair{0.0, 1.0}, {415.0, 3202.0}, {-0.37, 0.11}, {1e-9, 7e-9}}) {
    const auto steps = round_steps(from, to, 6);
    CAPTURE(from, to);
    REQUIRE(steps.size() >= 2);
    CHECK(steps.size() <= 8);
    const double step = steps[1] - steps[0];
    const double mantissa = step / std::pow(10.0, std::floor(std::log10(step) + 1e-9));
    CHECK((std::abs(mantissa - 1.0) < 1e-6 || std::abs(mantissa - 2.0) < 1e-6 || std::abs(mantissa - 5.0) < 1e-6));
    CHECK(steps.front() >= from - 1e-9 * (to - from));
    CHECK(steps.back() <= to + 1e-9 * (to - from));
  }
}

TEST_CASE("a resonance is marked where the amplitude passes it") {
  const Sweep sweep = example_sweep();
  const Picture picture = speed_picture(sweep);
  const auto mark = std::get<Path>(shapes_meaning(picture, "resonance A").at(0).form).points;
  const auto curve = std::get<Path>(shapes_meaning(picture, "amplitude sensor A").at(0).form).points;
  const std::size_t at = 112;  // 600 rpm + 112.5 · 8 rpm = 1500 rpm lies between points 112 and 113
  CHECK(mark[0].x > curve[at].x);
  CHECK(mark[0].x < curve[at + 1].x);
}

TEST_CASE("the phase lag of a single resonance goes from 0 to 180 deg, and is drawn through 90 at the resonance") {
  const Picture picture = speed_picture(example_sweep());
  const auto phase = std::get<Path>(shapes_meaning(picture, "phase sensor A").at(0).form).points;
  // By pencil: at Ω = ω_n the lag is 90 deg (rotating unbalance, any vibrations textbook), a quarter of the axis of
  // 360.
  const auto frame = std::get<Path>(shapes_meaning(picture, "resonance A").at(0).form).points;
  REQUIRE(frame.size() == 2);
  CHECK(phase.front().y > phase.back().y);  // lag grows upwards
  const double full = 360.0 * (phase.front().y - phase.back().y) /
                      (direction_deg(example_sweep().points.back().vectors[0][0]) -
                       direction_deg(example_sweep().points.front().vectors[0][0]));
  const double middle = 0.5 * (phase[112].y + phase[113].y);
  const double bottom = phase.front().y + full * direction_deg(example_sweep().points.front().vectors[0][0]) / 360.0;
  CHECK((bottom - middle) / full == Approx(0.25).margin(0.002));
}

TEST_CASE("a phase that passes 360 deg does not draw a line across the chart") {
  Sweep sweep = example_sweep();
  for (std::size_t i = 0; i < sweep.points.size(); ++i) {
    sweep.points[i].vectors[0][0] = phasor_at(1e-3, radians(350.0 + 0.1 * static_cast<double>(i)));
  }
  CHECK(shapes_meaning(speed_picture(sweep), "phase sensor A").size() == 2);
}

TEST_CASE("order lines of a map lie where k times the speed is") {
  const Picture picture = map_picture(example_maps());
  const auto map = std::get<Shades>(shapes_meaning(picture, "map A").at(0).form);
  for (int order = 1; order <= 3; ++order) {
    const auto line = std::get<Path>(shapes_meaning(picture, "order " + std::to_string(order)).at(0).form).points;
    // The ridge of the map at the lower end of the line: the cell with the most ink near it.
    const auto column = static_cast<int>((line[0].x - map.corner.x) / map.width_mm * map.columns);
    const std::size_t bottom = static_cast<std::size_t>(map.rows - 1) * map.columns;
    const float there = map.ink[bottom + static_cast<std::size_t>(column)];
    CHECK(there > map.ink[bottom + static_cast<std::size_t>(column) + 5]);
    CHECK(there > map.ink[bottom + static_cast<std::size_t>(column) - 5]);
  }
}

TEST_CASE("a spectrum's highest line stands at its order") {
  const Picture picture = order_spectrum_picture(example_spectra());
  const auto curve = std::get<Path>(shapes_meaning(picture, "spectrum A").at(0).form).points;
  const auto highest = std::min_element(curve.begin(), curve.end(), [](Point a, Point b) { return a.y < b.y; });
  const double share = (highest->x - curve.front().x) / (curve.back().x - curve.front().x);
  CHECK(0.1 + share * 9.9 == Approx(1.0));  // lines 1 to 100 stand at orders 0.1 to 10
}

TEST_CASE("every verdict has its own shape on the trend, and every job is on it once") {
  const auto points = example_trend();
  const Picture picture = trend_picture(points, std::nullopt);
  for (const TrendPoint& point : points) {
    const auto shapes = shapes_meaning(picture, "job " + point.job);
    REQUIRE(shapes.size() == 1);
    if (point.verdict == Verdict::within) CHECK(std::holds_alternative<Disc>(shapes[0].form));
    if (point.verdict == Verdict::unsure) CHECK(shapes[0].fill == Fill::paper);
    if (point.verdict == Verdict::outside) CHECK(shapes[0].role == Role::limit);
  }
}

TEST_CASE(
    "readings of a qualification stand at the angle of the test mass, and those beyond are hollow and crossed out") {
  const Picture picture = qualification_picture(example_qualification(), {}, {"A", "B"});
  const Point at_0 = middle_of(shapes_meaning(picture, "reading 1 0").front());
  const Point at_210 = middle_of(shapes_meaning(picture, "reading 1 210").front());
  const Point at_330 = middle_of(shapes_meaning(picture, "reading 1 330").front());
  CHECK((at_210.x - at_0.x) / (at_330.x - at_0.x) == Approx(210.0 / 330.0).epsilon(1e-6));
  int hollow = 0;
  for (const char* kind : {"reading ", "reduction "}) {
    for (const Shape& shape : shapes_meaning(picture, kind)) hollow += shape.fill == Fill::paper ? 1 : 0;
  }
  CHECK(hollow == 2);  // one reading and one reduction of the example
  CHECK(shapes_meaning(picture, "reading 1 210").front().fill == Fill::paper);
  CHECK(shapes_meaning(picture, "reduction 1 120").front().fill == Fill::paper);
}

TEST_CASE("pictures of nothing, of one point and of a standstill are drawn all the same") {
  CHECK_FALSE(trend_picture({}, std::nullopt).shapes.empty());
  Sweep one = example_sweep();
  one.points.resize(1);
  CHECK_FALSE(speed_picture(one).shapes.empty());
  CHECK_FALSE(path_picture(one).shapes.empty());
  CHECK_FALSE(trace_picture({"empty", 1.0, 0.0, {{"A", "", {}, false}}, {}}).shapes.empty());
  CHECK_FALSE(vector_picture({"A", "A", Rotation::clockwise, {}, {}}).shapes.empty());
  ClockFace bare;
  CHECK_FALSE(clock_picture(bare).shapes.empty());
}

TEST_CASE("the first turns of a recording begin and end at tach edges") {
  RecordingOptions options;
  const auto recording = open_recording(source_file("data/00-as-found.flac"), options);
  Rig rig;
  rig.tach.channel = 3;
  Sensor sensor;
  sensor.name = "A";
  sensor.channel = 1;
  sensor.sensitivity = parse_sensitivity("100 mV/g");
  sensor.full_scale_V = 10.0;
  rig.sensors = {sensor};
  const Trace trace = trace_of_turns(*recording, rig, 3);
  REQUIRE(trace.edges_s.size() == 4);
  REQUIRE(trace.channels.size() == 2);
  const double turns_s = 1622.0 / 60.0;  // as `solve` prints of this recording
  CHECK((trace.edges_s.back() - trace.edges_s.front()) * turns_s == Approx(3.0).epsilon(0.005));
  CHECK(static_cast<double>(trace.channels[0].samples.size()) / trace.sample_rate_Hz ==
        Approx(trace.edges_s.back() - trace.edges_s.front()).margin(1.5 / trace.sample_rate_Hz));
}

TEST_CASE("jobs are counted in whole numbers on the picture of a rig, however few there are") {
  for (const int jobs : {1, 2, 3, 5, 9, 14, 40}) {
    CAPTURE(jobs);
    const Picture picture = rig_model_picture(example_rig_condition(jobs), {"A", "B"});
    const auto markers = shapes_meaning(picture, "reading A");
    CHECK(markers.size() == static_cast<std::size_t>(jobs));
    double numbers_y = 0.0;  // those of the jobs stand lowest, all at one height, but for the axis's name
    std::vector<Lettering> all;
    for (const Shape& shape : picture.shapes)
      if (const auto* words = std::get_if<Lettering>(&shape.form)) all.push_back(*words);
    for (const Lettering& words : all)
      if (words.words == "0" || words.words == "1") numbers_y = std::max(numbers_y, words.at.y);
    int numbers = 0;
    double last = -1.0;
    for (const Lettering& words : all) {
      if (words.at.y != numbers_y) continue;
      CHECK(words.words.find('.') == std::string::npos);
      CHECK(std::stod(words.words) > last);
      last = std::stod(words.words);
      ++numbers;
    }
    CHECK(numbers >= 2);
    CHECK(numbers <= 11);
    CHECK(last >= jobs);
  }
}

TEST_CASE(
    "a job that was set aside is open on the picture of a rig, and a pedestal beyond its limits lies beyond them") {
  const Picture picture = rig_model_picture(example_rig_condition(14), {"A", "B"});
  CHECK(shapes_meaning(picture, "reading A 5").at(0).fill != shapes_meaning(picture, "reading A 6").at(0).fill);
  const double height = middle_of(shapes_meaning(picture, "reading B 13").at(0)).y;
  CHECK(height > middle_of(shapes_meaning(picture, "reading B 2").at(0)).y);  // softer: lower on the page
}
