#include "examples.hpp"

#include <cmath>
#include <tuple>

#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/drawing_live.hpp"
#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/drawing/drawing_tap.hpp"

namespace counterspot::test {

namespace {

/// Cables in any order, one sensor turned over, the clock read from end B.
Rig example_rig_as_understood() {
  Rig rig;
  rig.name = "bay 7";
  rig.viewing_end = "B";
  rig.rotation = Rotation::clockwise;
  rig.tach.channel = 1;
  rig.tach.edge = Edge::falling;
  for (const auto& [name, channel, volts_per_si] : {std::tuple{"A", 3, -0.01}, std::tuple{"B", 2, 0.01}}) {
    Sensor& sensor = rig.sensors.emplace_back();
    sensor.name = name;
    sensor.channel = channel;
    sensor.sensitivity.volts_per_si = volts_per_si;
  }
  return rig;
}

LiveFace example_live_face() {
  LiveFace face;
  face.shaft = "PS-1042";
  face.name = "B";
  face.rotation = Rotation::counter_clockwise;
  face.limit_kg_m = 343e-6;
  face.rim = 500e-6;
  face.lens = true;
  for (const double angle_deg : {40.0, 87.0, 200.0})
    face.spins.push_back({phasor_at(2e-6 * angle_deg, radians(angle_deg)), Eigen::Matrix2d::Zero()});
  return face;
}

}  // namespace

ClockFace example_face() {
  ClockFace face;
  face.plane = "B";
  face.end = "A";
  face.rotation = Rotation::counter_clockwise;
  face.outside_diameter_m = 0.0762;
  face.along = 0.95;
  face.pieces = {{PieceState::on_shaft, 0.015, 0.0},
                 {PieceState::to_fit, 0.0262, radians(135.0)},
                 {PieceState::to_remove, 0.0021, radians(300.0), true}};
  face.forbidden = {{radians(250.0), radians(285.0), "yoke ear"}};
  return face;
}

VectorDiagram example_vectors() {
  Eigen::Matrix2d covariance;
  covariance << 4e-10, 1e-10, 1e-10, 2e-10;
  return {"A",
          "A",
          Rotation::counter_clockwise,
          343e-6,
          {{"as found", phasor_at(1800e-6, radians(40.0)), covariance},
           {"trial at A", phasor_at(1400e-6, radians(87.0)), covariance},
           {"trial at B", phasor_at(1300e-6, radians(140.0)), covariance},
           {"corrected", phasor_at(120e-6, radians(200.0)), covariance}}};
}

Sweep example_sweep() {
  Sweep sweep;
  sweep.file = "run-up.wav";
  sweep.sensors = {"A", "B"};
  sweep.motions = {Motion::velocity, Motion::velocity};
  sweep.orders = {1};
  for (int i = 0; i <= 300; ++i) {
    const double speed = rad_per_s(600.0 + 8.0 * i);
    SweepPoint point{0.1 * i, speed, {}};
    for (const double natural_rpm : {1500.0, 2100.0}) {
      const double r = speed / rad_per_s(natural_rpm);
      point.vectors.push_back({2e-3 * std::conj(r * r / Phasor(1.0 - r * r, 0.1 * r))});
    }
    sweep.points.push_back(point);
  }
  Resonance resonance;
  resonance.sensor = "A";
  resonance.speed_rad_s = rad_per_s(1500.0);
  sweep.resonances = {resonance};
  return sweep;
}

Trace example_trace() {
  Trace trace{"as-found.wav", 5000.0, 0.010, {{"A", "m/s2", {}, false}, {"tach", "V", {}, true}}, {}};
  for (int i = 0; i < 800; ++i) {
    const double turn = i / 200.0;
    trace.channels[0].samples.push_back(2.0 * std::cos(turn_rad * turn - 0.8));
    trace.channels[1].samples.push_back(std::fmod(turn, 1.0) < 0.05 ? 5.0 : 0.0);
  }
  for (int k = 0; k <= 4; ++k) trace.edges_s.push_back(0.010 + 0.040 * k);
  return trace;
}

OrderSpectra example_spectra() {
  OrderSpectra spectra;
  spectra.file = "as-found.wav";
  spectra.slowest_rad_s = rad_per_s(1799.0);
  spectra.fastest_rad_s = rad_per_s(1801.0);
  for (const char* name : {"A", "B"}) {
    OrderSpectrum spectrum{name, Motion::velocity, 0.1, 0.15, {}};
    for (int i = 0; i <= 100; ++i) {
      const double order = 0.1 * i;
      const double line = order == 1.0 || i == 10 ? 6e-3 : i == 20 ? 1.2e-3 : i == 40 ? 2e-4 : 0.0;
      spectrum.amplitudes.push_back(line + 4e-6 * (1.0 + std::sin(7.0 * i) * 0.5));
    }
    spectra.sensors.push_back(spectrum);
  }
  return spectra;
}

SpeedFrequencyMaps example_maps() {
  SpeedFrequencyMaps maps;
  maps.file = "run-up.wav";
  SpeedFrequencyMap map;
  map.sensor = "A";
  map.motion = Motion::velocity;
  map.frequency_step_Hz = 1.0;
  map.lines = 200;
  for (int r = 0; r < 120; ++r) {
    const double turns_s = 10.0 + 0.4 * r;
    map.times_s.push_back(0.5 * r);
    map.speeds_rad_s.push_back(turn_rad * turns_s);
    for (std::size_t line = 0; line < map.lines; ++line) {
      double value = 2e-6;
      for (int order = 1; order <= 3; ++order)
        value += 4e-3 / (order * order) * std::exp(-std::pow(static_cast<double>(line) - order * turns_s, 2) / 4.0);
      value += 1e-3 * std::exp(-std::pow(static_cast<double>(line) - 100.0, 2) / 2.0);
      map.amplitudes.push_back(static_cast<float>(value));
    }
  }
  maps.sensors = {map};
  return maps;
}

TubeView example_tube() {
  TubeView view;
  for (int i = 0; i < 5; ++i) {
    StationFit station;
    station.position_m = 0.1 + 0.3 * i;
    station.indicator_total_m = 1e-4 * (1.0 + 0.6 * i * (4 - i));
    station.bow_m = phasor_at(0.5 * station.indicator_total_m, radians(100.0 + 10.0 * i));
    view.straightness.stations.push_back(station);
  }
  view.straightness.straighten = Straightening{0.7, radians(120.0), 1.7e-4};
  view.to_m = 1.42;
  view.rotation = Rotation::counter_clockwise;
  return view;
}

std::vector<TrendPoint> example_trend() {
  std::vector<TrendPoint> points;
  for (int i = 0; i < 24; ++i) {
    const double ratio = 0.45 + 0.3 * std::sin(1.7 * i) + (i == 17 ? 0.9 : 0.0);
    points.push_back({"PS-" + std::to_string(1000 + i), ratio,
                      ratio > 1.0   ? Verdict::outside
                      : ratio > 0.7 ? Verdict::unsure
                                    : Verdict::within});
  }
  return points;
}

/// One reading of plane B beyond its band, and one reduction short of what is claimed.
Qualification example_qualification() {
  Qualification result;
  for (int i = 0; i < 12; ++i) {
    result.small_over_mean[0].push_back(1.0 + 0.05 * std::sin(2.3 * i));
    result.small_over_mean[1].push_back(i == 7 ? 1.16 : 1.0 + 0.04 * std::cos(1.9 * i));
  }
  for (int i = 0; i < 11; ++i) {
    result.reductions[0].push_back(0.985 + 0.01 * std::sin(1.1 * i));
    result.reductions[1].push_back(i == 3 ? 0.93 : 0.97 + 0.01 * std::cos(1.3 * i));
  }
  return result;
}

/// Pedestal B becomes softer from the ninth job on; the fifth was set aside.
RigCondition example_rig_condition(int jobs) {
  RigCondition condition;
  for (int i = 0; i < jobs; ++i) {
    const double after = i < 8 ? 0.0 : -0.12;
    condition.readings.push_back(
        {std::to_string(i),
         86400 * i,
         {Estimate{0.02 * std::sin(2.1 * i), 0.02}, Estimate{0.03 * std::cos(1.7 * i) + after, 0.02}},
         i == 4});
  }
  if (jobs >= 8) condition.drift = {PedestalDrift{{0.01, 0.02}, 0.09, false}, PedestalDrift{{-0.12, 0.02}, 0.09, true}};
  return condition;
}

/// Sensor B reads less from the eleventh job on.
std::vector<CoefficientTrend> example_coefficient_trends() {
  std::vector<CoefficientTrend> trends;
  for (const char* sensor : {"A", "B"}) {
    CoefficientTrend trend{"bay 2", "PS-10", sensor, {}, {}, 0.12, {}, {}};
    for (int i = 0; i < 12; ++i) {
      const bool left = i >= 10 && trend.sensor == "B";
      trend.jobs.push_back("PS-" + std::to_string(1000 + i));
      trend.ratios.push_back(phasor_at((left ? 0.8 : 1.0) + 0.03 * std::sin(1.9 * i), 0.03 * std::cos(2.3 * i)));
      if (left) trend.beyond.push_back(static_cast<std::size_t>(i));
    }
    trends.push_back(std::move(trend));
  }
  return trends;
}

/// Every fifth failed.
std::vector<RigCheck> example_checks(int count) {
  std::vector<RigCheck> checks;
  for (int i = 0; i < count; ++i) {
    RigCheck check;
    check.within = i % 5 != 4;
    check.findings = {{RigPlace::sensors, RigVerdict::passed, 0.03, 0.10, ""},
                      {RigPlace::adapters, RigVerdict::passed, 20.0, 60.0, ""}};
    check.change = {phasor_at(check.within ? 1.02 : 1.14, 0.02 * std::sin(1.3 * i)),
                    phasor_at(0.98 + 0.02 * std::sin(0.7 * i), 0.01)};
    check.moved_kg_m = {Phasor(2e-5 + 1e-5 * std::sin(2.1 * i), 0.0), Phasor(0.0, 3e-5)};
    checks.push_back(check);
  }
  return checks;
}

/// Labels that want the same place: pieces side by side, spins at one spot, long names, steady lines close together.
std::vector<std::pair<std::string, Picture>> crowded_pictures() {
  ClockFace face = example_face();
  face.plane = "Längsträgeranschlussflansch B";
  face.pieces.clear();
  for (int i = 0; i < 7; ++i)
    face.pieces.push_back({i < 3 ? PieceState::on_shaft : PieceState::to_fit, 0.010 + 0.001 * i, radians(0.5 * i),
                           false, i + 1, i < 3 ? "" : "washer of the second drawer from above, 38 mm"});
  VectorDiagram diagram = example_vectors();
  for (SpinVector& spin : diagram.spins) {
    spin.label = "corrected once more after the clamp had slipped";
    spin.unbalance_kg_m = phasor_at(std::abs(spin.unbalance_kg_m), radians(40.0));
  }
  SensorTrack sensor;
  sensor.name = "A";
  for (const double frequency : {44.0, 45.0, 46.0, 100.0}) sensor.lines.push_back({frequency, 1e-4, frequency / 30.0});
  sensor.bands = {{10.0, 20.0, 2e-5, 0.1}, {20.0, 40.0, 1e-5, 0.1}, {40.0, 300.0, 3e-5, 0.1}};
  TubeView tube = example_tube();
  for (std::size_t i = 0; i < tube.straightness.stations.size(); ++i)
    tube.straightness.stations[i].position_m = 0.2 + 0.03 * static_cast<double>(i);
  tube.units = UnitSystem::inch;
  PictureOf of;
  of.shaft = "PS-1042";
  of.rig = "the large rig at the north wall of the second hall";
  of.files_of = "2026-11-29";
  of.speed_rad_s = rad_per_s(1622.0);
  of.verdict = Verdict::unsure;
  of.program = "counterspot 0.1.0";
  PictureOf of_tube = of;
  of_tube.units = UnitSystem::inch;
  PictureOf of_face = of;
  of_face.job = "PS-1042/12";
  of_face.files_of.clear();
  of_face.as_of = "2026-11-29";
  return {{"face-to-touch", face_to_touch(face, of_face, german())},
          {"crowded-clock", titled(clock_picture(face, german()), of, german())},
          {"crowded-clock-small", clock_picture(face, english(), Detail::small)},
          {"crowded-vectors", titled(vector_picture(diagram), of)},
          {"crowded-orders", titled(order_spectrum_picture(example_spectra(), {sensor}, german()), of, german())},
          {"crowded-tube", titled(straightness_picture(tube), of_tube)}};
}

std::vector<std::pair<std::string, Picture>> example_pictures() {
  std::vector<double> ratios;
  for (const TrendPoint& point : example_trend()) ratios.push_back(point.ratio);
  std::vector<std::pair<std::string, Picture>> pictures = {
      {"clock", clock_picture(example_face())},
      {"live-face", live_face_picture(example_live_face())},
      {"course", course_picture(example_sweep(), 30.0, 60.0, "Ordnung 1 der letzten Minute, 14:03:22", german())},
      {"vectors", vector_picture(example_vectors())},
      {"speed", speed_picture(example_sweep())},
      {"path", path_picture(example_sweep())},
      {"trace", trace_picture(example_trace())},
      {"orders", order_spectrum_picture(example_spectra())},
      {"map", map_picture(example_maps())},
      {"tube", straightness_picture(example_tube())},
      {"trend", trend_picture(example_trend(), control_chart(ratios))},
      {"qualification", qualification_picture(example_qualification(), {}, {"A", "B"})},
      {"rig-model", rig_model_picture(example_rig_condition(14), {"A", "B"})},
      {"rig-as-understood", rig_picture(example_rig_as_understood(), true)},
      {"top-goes-left", top_goes_picture(true)},
      {"residuals", residuals_picture({example_vectors()})},
      {"budget", budget_picture({{"A", "support B"},
                                 {{ErrorSource::readings, {3e-6, 2e-6}}, {ErrorSource::setting, {4e-6, 9e-6}}}})},
      {"coefficients", coefficients_picture(example_coefficient_trends())},
      {"rig-health", rig_health_picture(example_checks(12), {"A", "B"}, {"A", "B"})}};
  for (auto& crowded : crowded_pictures()) pictures.push_back(std::move(crowded));
  return pictures;
}

std::vector<Shape> shapes_meaning(const Picture& picture, const std::string& begin) {
  std::vector<Shape> found;
  for (const Shape& shape : picture.shapes)
    if (shape.meaning.starts_with(begin)) found.push_back(shape);
  return found;
}

std::vector<Lettering> words_meaning(const Picture& picture, const std::string& meaning) {
  std::vector<Lettering> found;
  for (const Shape& shape : picture.shapes) {
    const auto* words = std::get_if<Lettering>(&shape.form);
    if (words != nullptr && shape.meaning == meaning) found.push_back(*words);
  }
  return found;
}

Point middle_of(const Shape& shape) {
  const auto& points = std::get<Path>(shape.form).points;
  Point sum;
  for (const Point& point : points) sum = {sum.x + point.x, sum.y + point.y};
  return {sum.x / static_cast<double>(points.size()), sum.y / static_cast<double>(points.size())};
}

}  // namespace counterspot::test
