#include "drawing/random_pictures.hpp"

#include <cmath>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/drawing_live.hpp"
#include "counterspot/drawing/drawing_rig.hpp"
#include "counterspot/drawing/drawing_tap.hpp"
#include "counterspot/drawing/titled.hpp"
#include "examples.hpp"

namespace counterspot::test {

namespace {

/// Draws of a generator, so that every call reads as what it is for.
struct Draws {
  std::mt19937& random;

  int whole(int from, int to) { return std::uniform_int_distribution<int>(from, to)(random); }
  double real(double from, double to) { return std::uniform_real_distribution<double>(from, to)(random); }
  bool once_in(int times) { return whole(1, times) == 1; }

  std::string name() {
    static const std::vector<std::string> names = {
        "A",
        "B",
        "mitte",
        "Längsträgeranschlussflansch",
        "corrected at B once more after the clamp had slipped in the night shift",
        "PS-1042/1",
        "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW",
        "trial at A",
        "strip 20 x 3",
        "nach Umspannen",
        "Δ½μ"};
    return names[static_cast<std::size_t>(whole(0, static_cast<int>(names.size()) - 1))];
  }
  double angle() { return once_in(2) ? radians(whole(0, 3) + 0.5) : real(0.0, turn_rad); }
};

PictureOf some_of(Draws& draw) {
  PictureOf of;
  of.shaft = draw.name();
  of.rig = draw.name();
  if (draw.once_in(2)) of.job = draw.name();
  of.files_of = "2026-11-29";
  if (draw.once_in(2)) of.speed_rad_s = draw.real(10.0, 900.0);
  if (draw.once_in(2)) of.verdict = draw.once_in(2) ? Verdict::within : Verdict::unsure;
  of.units = draw.once_in(2) ? UnitSystem::inch : UnitSystem::metric;
  of.program = "counterspot 0.1.0";
  return of;
}

Picture track_drawn(Draws& draw, const Words& words) {
  OrderSpectra spectra = example_spectra();
  spectra.file = draw.name() + ".wav";
  std::vector<SensorTrack> beside;
  for (OrderSpectrum& spectrum : spectra.sensors) {
    spectrum.sensor = draw.name() + spectrum.sensor;
    const double size = std::pow(10.0, draw.real(-4.0, 3.0));
    for (double& amplitude : spectrum.amplitudes) amplitude *= size;
    SensorTrack sensor;
    sensor.name = spectrum.sensor;
    double frequency = draw.real(1.0, 60.0);
    for (int i = draw.whole(0, 12); i > 0; --i) {
      sensor.lines.push_back({frequency, 1e-4 * size, frequency / 30.0});
      frequency += draw.once_in(2) ? 0.7 : draw.real(1.0, 60.0);
    }
    for (double from = 10.0; from < 300.0; from *= 2.0) sensor.bands.push_back({from, 2.0 * from, 1e-5 * size, 0.1});
    beside.push_back(std::move(sensor));
  }
  return order_spectrum_picture(spectra, beside, words);
}

Picture sweep_drawn(Draws& draw, const Words& words) {
  Sweep sweep = example_sweep();
  sweep.file = draw.name();
  const double size = std::pow(10.0, draw.real(-4.0, 3.0));
  const bool twice = draw.once_in(2);
  if (twice) sweep.orders = {1, 2};
  for (std::string& sensor : sweep.sensors) sensor = draw.name() + sensor;
  const bool known = draw.once_in(2);
  for (SweepPoint& point : sweep.points) {
    for (auto& vectors : point.vectors) {
      vectors[0] *= size;
      if (twice) vectors.push_back(0.1 * vectors[0] * vectors[0] / std::abs(vectors[0]));
      if (known) point.u.emplace_back(vectors.size(), 1e-4 * size);
    }
  }
  const Resonance one = sweep.resonances.front();
  sweep.resonances.clear();
  double speed = draw.real(620.0, 2900.0);
  for (int i = draw.whole(0, 6); i > 0; --i) {
    Resonance resonance = one;
    resonance.sensor = sweep.sensors[static_cast<std::size_t>(i % 2)];
    resonance.speed_rad_s = rad_per_s(speed);
    sweep.resonances.push_back(resonance);
    speed += draw.once_in(2) ? 3.0 : 100.0;
  }
  return sweep_picture(sweep, words);
}

Picture map_drawn(Draws& draw, const Words& words) {
  SpeedFrequencyMaps maps = example_maps();
  maps.file = draw.name();
  SpeedFrequencyMap& map = maps.sensors.front();
  map.sensor = draw.name();
  map.frequency_step_Hz = draw.once_in(2) ? 1.0 : draw.real(0.1, 3.0);
  for (int i = draw.whole(0, 6); i > 0; --i) {
    const auto line = static_cast<std::size_t>(draw.whole(5, 190));
    for (std::size_t row = 0; row < map.rows(); ++row) map.amplitudes[row * map.lines + line] = 1e-3F;
  }
  return map_picture(maps, words);
}

ClockFace some_face(Draws& draw, bool stock) {
  ClockFace face = example_face();
  face.plane = draw.name();
  face.rotation = draw.once_in(2) ? Rotation::clockwise : Rotation::counter_clockwise;
  if (draw.once_in(4)) face.outside_diameter_m.reset();
  face.units = draw.once_in(2) ? UnitSystem::inch : UnitSystem::metric;
  face.pieces.clear();
  face.forbidden.clear();
  for (int i = draw.whole(0, 9); i > 0; --i) {
    const bool off = draw.once_in(4);
    const PieceState state = draw.once_in(2) ? PieceState::on_shaft : off ? PieceState::to_remove : PieceState::to_fit;
    face.pieces.push_back({state, draw.real(1e-4, 0.2), draw.angle(), off, i, stock ? draw.name() : ""});
  }
  for (int i = draw.whole(0, 3); i > 0; --i) {
    const double from = draw.angle();
    face.forbidden.push_back({from, from + radians(20.0), draw.name()});
  }
  return face;
}

std::vector<VectorDiagram> some_diagrams(Draws& draw) {
  std::vector<VectorDiagram> diagrams(static_cast<std::size_t>(draw.whole(1, 3)));
  const int spins = draw.whole(1, 14);
  for (VectorDiagram& diagram : diagrams) {
    diagram = example_vectors();
    diagram.plane = draw.name();
    diagram.spins.clear();
    for (int i = 0; i < spins; ++i) {
      SpinVector spin = example_vectors().spins.front();
      spin.label = draw.name();
      spin.unbalance_kg_m = phasor_at(std::pow(10.0, draw.real(-5.0, -2.5)), draw.angle());
      if (draw.once_in(4)) spin.covariance.setZero();
      diagram.spins.push_back(spin);
    }
    if (draw.once_in(5)) diagram.limit_kg_m.reset();
  }
  bring_to_one_scale(diagrams);
  return diagrams;
}

Picture solve_drawn(Draws& draw, const Words& words) {
  std::vector<Picture> pictures = {clock_picture(some_face(draw, false), words)};
  const auto diagrams = some_diagrams(draw);
  for (const VectorDiagram& diagram : diagrams) pictures.push_back(vector_picture(diagram, words));
  pictures.push_back(residuals_picture(diagrams, words));
  BudgetTable budget;
  for (int p = draw.whole(1, 5); p > 0; --p) budget.places.push_back(draw.name());
  for (const ErrorSource source :
       {ErrorSource::readings, ErrorSource::setting, ErrorSource::unseen, ErrorSource::rig}) {
    budget.rows.push_back({source, {}});
    for (std::size_t p = 0; p < budget.places.size(); ++p)
      budget.rows.back().u_kg_m.push_back(draw.once_in(5) ? 0.0 : draw.real(0.0, 1e-4));
  }
  pictures.push_back(budget_picture(budget, words));
  return side_by_side(pictures, 1);
}

Picture place_drawn(Draws& draw, const Words& words) {
  Rig rig;
  Shaft shaft;
  shaft.id = draw.name();
  shaft.tube = Tube{0.0762, 0.002, 1.4};
  Stock stock;
  for (int i = 0; i < 3; ++i) stock.kinds.emplace_back().name = draw.name();
  for (int p = draw.whole(1, 3); p > 0; --p) shaft.planes.push_back({draw.name(), 0.1 * p, 0.038});
  std::vector<PlacedChoice> choices(static_cast<std::size_t>(draw.whole(1, 2)));
  for (PlacedChoice& choice : choices) {
    choice.worst_ratio = draw.real(0.0, 3.0);
    for (int i = draw.whole(0, 7); i > 0; --i) {
      Placed placed;
      placed.plane = draw.whole(0, static_cast<int>(shaft.planes.size()) - 1);
      placed.piece.kind = draw.whole(0, 2);
      placed.piece.weighed_kg = draw.real(1e-3, 0.1);
      placed.piece.acting_kg = draw.once_in(5) ? -placed.piece.weighed_kg : placed.piece.weighed_kg;
      placed.piece.length_m = draw.once_in(2) ? draw.real(0.01, 0.2) : 0.0;
      placed.angle_rad = draw.angle();
      choice.placed.push_back(placed);
    }
  }
  return placing_picture(rig, shaft, stock, choices, {{0, 0.01, draw.angle()}}, "A",
                         draw.once_in(2) ? UnitSystem::inch : UnitSystem::metric, words);
}

Picture shaft_drawn(Draws& draw, const Words& words) {
  TubeView view = example_tube();
  view.straightness.stations.clear();
  double at = draw.real(0.0, 0.3);
  for (int i = draw.whole(1, 14); i > 0; --i) {
    StationFit station;
    station.position_m = at;
    station.indicator_total_m = draw.real(0.0, 2e-3);
    station.bow_m = phasor_at(0.5 * station.indicator_total_m, draw.angle());
    view.straightness.stations.push_back(station);
    at += draw.once_in(3) ? 0.005 : draw.real(0.01, 0.3);
  }
  view.to_m = at;
  view.units = draw.once_in(2) ? UnitSystem::inch : UnitSystem::metric;
  if (draw.once_in(2)) view.rotation.reset();
  if (draw.once_in(3)) view.straightness.straighten.reset();
  return straightness_picture(view, words);
}

Picture inspect_drawn(Draws& draw, const Words& words) {
  Trace trace = example_trace();
  trace.file = draw.name();
  for (TraceChannel& channel : trace.channels) channel.name = draw.name();
  const double size = std::pow(10.0, draw.real(-4.0, 4.0));
  for (double& sample : trace.channels[0].samples) sample *= size;
  return trace_picture(trace, words);
}

Picture rig_drawn(Draws& draw, const Words& words) {
  std::vector<CoefficientTrend> trends = example_coefficient_trends();
  for (CoefficientTrend& trend : trends) trend.rig = draw.name() + trend.rig;
  return side_by_side(
      {coefficients_picture(trends, words),
       rig_health_picture(example_checks(draw.whole(0, 40)), {draw.name(), "B"}, {"A", draw.name()}, words),
       rig_model_picture(example_rig_condition(draw.whole(1, 40)), {draw.name(), draw.name()}, words)},
      1);
}

/// Faces and curves of the page; the faces say by themselves what they are of.
Picture page_drawn(Draws& draw, const Words& words) {
  LiveFace live;
  live.shaft = draw.name();
  live.name = draw.name();
  live.rim = std::pow(10.0, draw.real(-6.0, 1.0));
  live.rotation = draw.once_in(2) ? Rotation::clockwise : Rotation::counter_clockwise;
  live.units = draw.once_in(2) ? UnitSystem::inch : UnitSystem::metric;
  if (draw.once_in(2)) live.motion = Motion::displacement;
  live.lens = live.rotation == Rotation::clockwise;
  if (draw.once_in(2)) live.limit_kg_m = 0.5 * live.rim;
  for (int i = draw.whole(0, 6); i > 0; --i)
    live.spins.push_back({phasor_at(live.rim * draw.real(0.0, 2.0), draw.angle()), Eigen::Matrix2d::Zero()});
  Sweep course = example_sweep();
  for (std::string& sensor : course.sensors) sensor = draw.name() + sensor;
  return side_by_side({face_to_touch(some_face(draw, draw.once_in(2)), some_of(draw), words),
                       live_face_picture(live, words), course_picture(course, 30.0, 60.0, draw.name(), words)},
                      1);
}

Picture drawn(Draws& draw, Drawn kind, const Words& words) {
  switch (kind) {
    case Drawn::track: return track_drawn(draw, words);
    case Drawn::sweep: return sweep_drawn(draw, words);
    case Drawn::map: return map_drawn(draw, words);
    case Drawn::solve: return solve_drawn(draw, words);
    case Drawn::place: return place_drawn(draw, words);
    case Drawn::shaft: return shaft_drawn(draw, words);
    case Drawn::inspect: return inspect_drawn(draw, words);
    case Drawn::rig: return rig_drawn(draw, words);
    case Drawn::page: return page_drawn(draw, words);
  }
  return {};
}

}  // namespace

Picture random_picture(std::mt19937& random, Drawn kind, const Words& words) {
  Draws draw{random};
  const Picture picture = drawn(draw, kind, words);
  return titled(picture, some_of(draw), words);
}

}  // namespace counterspot::test
