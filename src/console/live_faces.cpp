#include "console/live_faces.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "counterspot/tolerance/held_text.hpp"
#include "counterspot/units/coverage.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/measured.hpp"

namespace counterspot {

namespace {

/// "38 ± 6 g·mm at 4:30", "1.2 ± 0.1 m/s2 at 7:00": where the vector points to on the clock.
std::string now_words(const LiveFace& face, const LiveVector& now, const Viewer& viewer) {
  const double expanded = coverage_factor * u_of_magnitude(now.value, now.covariance);
  const double unit = face.motion ? si_per_display_unit(*face.motion) : 1.0;
  const std::string size =
      face.motion
          ? fmt::format("{} {}", measured_text(std::abs(now.value) / unit, expanded / unit), display_unit(*face.motion))
          : unbalance_text(std::abs(now.value), expanded, viewer.units);
  if (expanded > std::abs(now.value)) return with_decimal_sign(size, viewer.words());  // it points nowhere
  return viewer.texts("at_the_clock", with_decimal_sign(size, viewer.words()),
                      clock_position(std::arg(now.value), face.rotation).text());
}

/// Why nothing is shown although the shaft turns; empty: it is not for a sensor.
std::string silence_words(const LiveReading& reading, const Viewer& viewer) {
  for (const LiveSignal signal : {LiveSignal::none, LiveSignal::doubted})
    for (const LiveReading::Sensor& sensor : reading.sensors)
      if (sensor.signal == signal)
        return viewer.texts(signal == LiveSignal::none ? "gives_nothing" : "shows_hardly", sensor.name);
  return "";
}

Json point_of(const Point& at) {
  return {std::round(100.0 * at.x) / 100.0, std::round(100.0 * at.y) / 100.0};
}

Json points_of(const std::vector<Point>& points) {
  Json list = Json::array();
  for (const Point& each : points) list.push_back(point_of(each));
  return list;
}

}  // namespace

LiveFaces::Shown LiveFaces::shown(const RecorderView& view) {
  const std::scoped_lock lock(mutex_);
  const SpinRequest& request = view.request;
  if (request.serial != serial_) {
    serial_ = request.serial;
    at_s_ = -1.0;
    shown_ = {live_faces(*request.job, UnitSystem::metric), {}};
  }
  if (view.reading.newest_s != at_s_) {
    at_s_ = view.reading.newest_s;
    shown_.now = live_vectors(*request.job, view.reading);
    if (!shown_.now.empty()) set_rim(shown_.faces, shown_.now);
  }
  return shown_;
}

Json LiveFaces::told(const RecorderView& view, const Viewer& viewer) {
  Json list = Json::array();
  if (!view.request.job || view.source.empty()) return list;
  const Shown seen = shown(view);
  const bool old = view.age_s(RecorderView::Clock::now()) > old_s;
  for (std::size_t i = 0; i < seen.faces.size(); ++i) {
    const LiveFace& face = seen.faces[i];
    const std::string picture = fmt::format("/live-face.svg?face={}&serial={}&rim={:.6g}&lens={:d}&units={}&", i,
                                            view.request.serial, face.rim, face.lens, viewer.units_name());
    Json told = {{"name", viewer.texts(face.motion ? "sensor" : "plane", face.name)},
                 {"size", live_face_mm},
                 {"centre", point_of(live_middle)},
                 {"picture", pictures_at(picture, viewer)},
                 {"words", ""},
                 {"tip", nullptr},
                 {"ellipse", Json::array()},
                 {"lens", nullptr}};
    if (!old && i < seen.now.size()) {
      const LiveMark mark = live_mark(face, seen.now[i]);
      told["words"] = now_words(face, seen.now[i], viewer);
      told["tip"] = point_of(mark.tip);
      told["ellipse"] = points_of(mark.ellipse);
      if (mark.in_lens)
        told["lens"] = {{"centre", point_of(lens_middle)},
                        {"tip", point_of(*mark.in_lens)},
                        {"ellipse", points_of(mark.lens_ellipse)}};
    } else if (!old) {
      told["words"] = silence_words(view.reading, viewer);
    }
    list.push_back(std::move(told));
  }
  return list;
}

Picture LiveFaces::ground(const RecorderView& view, int face, double rim, bool lens, const Viewer& viewer) const {
  std::vector<LiveFace> faces;
  if (view.request.job) faces = live_faces(*view.request.job, viewer.units);
  if (face < 0 || face >= static_cast<int>(faces.size()) || !std::isfinite(rim) || rim <= 0.0)
    throw Error(Trouble::request, "not_found", "there is no such face", "load the page again");
  LiveFace& asked = faces[static_cast<std::size_t>(face)];
  asked.rim = rim;
  asked.lens = lens;
  return live_face_picture(asked, viewer.words());
}

}  // namespace counterspot
