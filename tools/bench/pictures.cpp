// How long pictures take: all that a job has (two faces, two vector diagrams, the sheet as PDF), and the map of a
// run-up of ten minutes. The first picture of a program also loads Cairo, Pango and the font; that is in the first
// number. Processor time, so that a busy machine does not matter much. Prints what it measured; exit code 1 if a target
// is missed.
#include <fmt/format.h>

#include <cmath>
#include <ctime>

#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/sheet/sheet.hpp"

using namespace counterspot;

namespace {

constexpr double job_target_s = 0.300;
constexpr double map_target_s = 2.0;

template <typename Work>
double seconds(Work work) {
  const std::clock_t begin = std::clock();
  work();
  return static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
}

Sheet some_sheet() {
  Sheet sheet;
  sheet.job = "PS-1042/1";
  sheet.shaft.id = "PS-1042";
  sheet.shaft.planes = {{"A", 0.07, 0.039}, {"B", 1.43, 0.039}};
  sheet.limits.grade = "G16";
  sheet.verdict = Verdict::within;
  for (int p = 0; p < 2; ++p) {
    const std::string name(1, "AB"[p]);
    sheet.places.push_back(
        {{HeldPlace{name}, 38e-6, 1e-6, 343e-6, Verdict::within}, SheetAsFound{900e-6, 1e-6, 1.0}, 2.0});
    const FittedWeight weight{p, 0.036, 0.039, 1.0 + p};
    sheet.pieces.push_back({p + 1, name, weight, spot_at(weight.angle_rad, Rotation::counter_clockwise, 0.0762)});
    ClockFace face;
    face.plane = name;
    face.outside_diameter_m = 0.0762;
    face.pieces = {{PieceState::on_shaft, 0.036, 1.0 + p, false, p + 1}, {PieceState::to_fit, 0.002, 4.0}};
    sheet.faces.push_back(face);
    VectorDiagram diagram{name, "A", Rotation::counter_clockwise, 343e-6, {}};
    for (int k = 0; k < 5; ++k)
      diagram.spins.push_back({"spin", phasor_at(1e-3 / (1 + k * k), 1.0 + k), 1e-11 * Eigen::Matrix2d::Identity()});
    sheet.diagrams.push_back(diagram);
    sheet.spins.push_back({p + 1, "as found", {}, "00.wav", std::string(64, 'a')});
  }
  return sheet;
}

std::size_t draw_job(const Sheet& sheet) {
  std::size_t bytes = draw(sheet_pages(sheet), {PictureFormat::pdf}).size();
  for (const ClockFace& face : sheet.faces) bytes += draw(clock_picture(face), {PictureFormat::png}).size();
  for (const VectorDiagram& diagram : sheet.diagrams)
    bytes += draw(vector_picture(diagram), {PictureFormat::png}).size();
  return bytes;
}

/// As speed_frequency_maps gives it of ten minutes: at most 600 rows of 500 lines, two sensors.
SpeedFrequencyMaps some_maps() {
  SpeedFrequencyMaps maps;
  maps.file = "run-up.wav";
  for (const char* name : {"A", "B"}) {
    SpeedFrequencyMap map;
    map.sensor = name;
    map.frequency_step_Hz = 1.0;
    map.lines = 500;
    for (int r = 0; r < 600; ++r) {
      map.times_s.push_back(r);
      map.speeds_rad_s.push_back(60.0 + 0.5 * r);
      for (int line = 0; line < 500; ++line)
        map.amplitudes.push_back(static_cast<float>(1e-3 + std::fabs(std::sin(0.01 * r * line))));
    }
    maps.sensors.push_back(map);
  }
  return maps;
}

}  // namespace

int main() {
  const Sheet sheet = some_sheet();
  std::size_t bytes = 0;
  const double first = seconds([&] { bytes += draw_job(sheet); });
  const double again = seconds([&] { bytes += draw_job(sheet); });
  const SpeedFrequencyMaps maps = some_maps();
  const double map = seconds([&] { bytes += draw(map_picture(maps), {PictureFormat::png}).size(); });
  fmt::print(
      "all pictures of a job {:.0f} ms, once loaded {:.0f} ms (under {:.0f}); map of ten minutes {:.2f} s (under {}); "
      "{} bytes\n",
      1e3 * first, 1e3 * again, 1e3 * job_target_s, map, map_target_s, bytes);
  return first < job_target_s && map < map_target_s ? 0 : 1;
}
