#include "console/live_curves.hpp"

#include <fmt/chrono.h>

#include <cmath>
#include <ctime>

#include "console/replies.hpp"
#include "counterspot/drawing/drawing_charts.hpp"
#include "counterspot/drawing/drawing_live.hpp"
#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

namespace {

constexpr std::chrono::milliseconds drawn_every{300};

std::string clock_now() {
  return fmt::format("{:%H:%M:%S}", fmt::localtime(std::time(nullptr)));
}

/// What stands over a picture: of when it is, or since when there is nothing.
std::string said_over(bool over_speed, const RecorderView& view, const Viewer& viewer) {
  const double age_s = view.age_s(RecorderView::Clock::now());
  if (age_s > old_s) return viewer.texts("no_rig_news", viewer.number(std::floor(age_s), 0));
  return viewer.texts(over_speed ? "course_of_speed" : "course_of_time", clock_now());
}

}  // namespace

Picture LiveCurves::picture(Kind kind, const Viewer& viewer) const {
  if (kind == Kind::orders) return orders(viewer);
  const RecorderView view = recorder_.view();
  if (kind == Kind::speed) {
    Sweep run = recorder_.course().last_run();
    run.file = said_over(true, view, viewer);
    return speed_picture(run, viewer.words());
  }
  const double now_s = view.reading.newest_s + view.age_s(RecorderView::Clock::now());
  return course_picture(recorder_.course().all(), now_s, LiveCourse::kept_s, said_over(false, view, viewer),
                        viewer.words());
}

/// What is drawn, as far as it does not move: speed and clock stand in the picture.
PictureOf LiveCurves::of_now() const {
  PictureOf of;
  if (const auto job = recorder_.view().request.job) of.shaft = job->shaft.id;
  of.as_of = fmt::format("{:%Y-%m-%d}", fmt::localtime(std::time(nullptr)));
  of.rig = rig_.name;
  of.program = program_;
  return of;
}

Picture LiveCurves::orders(const Viewer& viewer) const {
  const RecorderView view = recorder_.view();
  const std::unique_ptr<Recording> newest = recorder_.newest().recording();
  OrderSpectra none;
  none.file = said_over(false, view, viewer);
  if (!newest || view.age_s(RecorderView::Clock::now()) > old_s)
    return order_spectrum_picture(none, {}, viewer.words());
  OrderSpectrumOptions options;
  options.order_step =
      order_step_of(static_cast<std::int64_t>(NewestSamples::kept_s * view.reading.speed_rad_s / turn_rad));
  OrderSpectra spectra = order_spectra(*newest, view.request.job ? view.request.job->rig : rig_, options);
  spectra.file = viewer.texts("orders_of", viewer.number(NewestSamples::kept_s, 0), clock_now());
  return order_spectrum_picture(spectra, {}, viewer.words());
}

std::string LiveCurves::drawn(Kind kind, const Viewer& viewer, Theme theme) {
  if (recorder_.view().source.empty())
    throw Error(Trouble::request, "not_found", "there is no live source", "load the page again");
  const std::string name =
      fmt::format("{} {} {}", static_cast<int>(kind), theme == Theme::dark, viewer.words().language);
  const std::scoped_lock lock(mutex_);
  Drawn& drawn = drawn_[name];
  if (!drawn.svg.empty() && Clock::now() - drawn.at < drawn_every) return drawn.svg;
  drawn.svg.clear();
  drawn.svg = counterspot::drawn(titled(picture(kind, viewer), of_now(), viewer.words()), theme);
  drawn.at = Clock::now();
  return drawn.svg;
}

}  // namespace counterspot
