#include <fmt/format.h>

#include "counterspot/drawing/drawing_rig_setup.hpp"
#include "counterspot/units/said.hpp"
#include "drawing/sketch.hpp"

namespace counterspot {

namespace {

constexpr double bed_y_mm = 96.0;
constexpr double axis_y_mm = 58.0;
constexpr double end_a_mm = 36.0;
constexpr double end_b_mm = 126.0;
constexpr double half_tube_mm = 6.0;  // half of it
constexpr Point rig_clock_middle = {196.0, 58.0};
constexpr double rig_clock_mm = 26.0;
constexpr double rig_letters_mm = 4.6;

std::string channel_words(const ChannelRef& channel, const Words& words) {
  const SaidWords numbered = {"channel {}", "Kanal {}"};
  if (const auto* number = std::get_if<int>(&channel)) return said(numbered, *number).in(words.language);
  return said(numbered, std::get<std::string>(channel)).in(words.language);
}

void draw_rig_pedestal(Sketch& sketch, double x, const std::string& end, const Words& words) {
  sketch.polygon(Role::outline,
                 {{x - 12.0, bed_y_mm}, {x - 5.0, axis_y_mm}, {x + 5.0, axis_y_mm}, {x + 12.0, bed_y_mm}}, Fill::paper,
                 "pedestal " + end);
  sketch.disc(Role::outline, {x, axis_y_mm}, 7.5, Fill::paper);
  sketch.text(Role::text, {{x, bed_y_mm + 9.0}, put_in(words.pedestal, end), rig_letters_mm, Anchor::middle, true});
}

/// On the pedestal, with what is known of its cable.
void draw_rig_sensor(Sketch& sketch, double x, const Sensor& sensor, const Words& words) {
  sketch.polygon(Role::series_1, {{x - 4.0, 77.0}, {x - 4.0, 85.0}, {x + 4.0, 85.0}, {x + 4.0, 77.0}}, Fill::solid,
                 fmt::format("sensor {}", sensor.name));
  const bool left = x < 0.5 * (end_a_mm + end_b_mm);
  const double beside = left ? x + 13.0 : x - 13.0;
  const Anchor anchor = left ? Anchor::left : Anchor::right;
  sketch.name(Role::text, {{beside, 78.0}, put_in(words.sensor, sensor.name), rig_letters_mm, anchor, false, 31.0});
  sketch.name(Role::text, {{beside, 84.5}, channel_words(sensor.channel, words), rig_letters_mm, anchor, false, 31.0});
  if (sensor.sensitivity.volts_per_si < 0.0) {
    sketch.name(Role::text,
                {{beside, 91.0}, said({"inverted", "umgepolt"}).in(words.language), rig_letters_mm, anchor, true, 31.0},
                fmt::format("sensor {} inverted", sensor.name));
  }
}

void draw_rig_tach(Sketch& sketch, const TachSetup& tach, const Words& words) {
  const double x = 0.5 * (end_a_mm + end_b_mm);
  sketch.polygon(Role::outline, {{x - 5.0, 28.0}, {x - 5.0, 37.0}, {x + 5.0, 37.0}, {x + 5.0, 28.0}}, Fill::paper,
                 "tach");
  sketch.line(Role::centre_line, {x, 37.0}, {x, axis_y_mm - half_tube_mm});
  sketch.polygon(Role::mark,
                 {{x - 2.0, axis_y_mm - half_tube_mm},
                  {x - 2.0, axis_y_mm - 1.0},
                  {x + 2.0, axis_y_mm - 1.0},
                  {x + 2.0, axis_y_mm - half_tube_mm}},
                 Fill::solid, "mark");
  const std::string name = said({"tach", "Drehzahlgeber"}).in(words.language);
  sketch.name(Role::text, {{x + 9.0, 31.0}, name, rig_letters_mm, Anchor::left, false, 50.0});
  const Said edge = tach.edge == Edge::rising ? said({"rising", "steigend"}) : said({"falling", "fallend"});
  if (tach.channel)
    sketch.name(Role::text, {{x + 9.0, 37.5},
                             channel_words(*tach.channel, words) + ", " + edge.in(words.language),
                             rig_letters_mm,
                             Anchor::left,
                             false,
                             50.0});
}

/// Over the top of a circle, the way it turns.
void draw_rotation(Sketch& sketch, Point middle, double radius_mm, Rotation rotation) {
  const bool clockwise = rotation == Rotation::clockwise;
  sketch.arc(Role::rotation, {middle, radius_mm, 310.0, 50.0}, std::string("turns ") + rotation_name(rotation));
  sketch.arrow_head(Role::rotation, on_clock(middle, radius_mm, clockwise ? 54.0 : 306.0), clockwise ? 140.0 : 220.0,
                    7.0);
}

void draw_rig_clock(Sketch& sketch, const Rig& rig, bool rotation_known, const Words& words) {
  sketch.disc(Role::outline, rig_clock_middle, rig_clock_mm, Fill::none, "clock");
  for (const int hour : {3, 6, 9, 12}) {
    const double direction = 30.0 * hour;
    sketch.line(Role::outline, on_clock(rig_clock_middle, rig_clock_mm - 3.0, direction),
                on_clock(rig_clock_middle, rig_clock_mm, direction));
    const Point at = on_clock(rig_clock_middle, rig_clock_mm - 7.5, direction);
    sketch.text(Role::quiet, {{at.x, at.y + 2.0}, std::to_string(hour), rig_letters_mm, Anchor::middle});
  }
  sketch.polygon(
      Role::mark,
      {on_clock(rig_clock_middle, rig_clock_mm + 3.5, 354.0), on_clock(rig_clock_middle, rig_clock_mm + 3.5, 6.0),
       on_clock(rig_clock_middle, rig_clock_mm - 1.5, 0.0)},
      Fill::solid, "mark");
  sketch.name(Role::text, {{rig_clock_middle.x, bed_y_mm + 9.0},
                           put_in(words.seen_from, rig.viewing_end),
                           rig_letters_mm,
                           Anchor::middle,
                           true,
                           80.0});
  if (rotation_known) {
    draw_rotation(sketch, rig_clock_middle, rig_clock_mm + 8.0, rig.rotation);
  } else {
    sketch.text(Role::rotation, {{rig_clock_middle.x, rig_clock_middle.y + 6.0}, "?", 14.0, Anchor::middle, true},
                "rotation not known");
  }
}

}  // namespace

Picture rig_picture(const Rig& rig, bool rotation_known, const Words& words) {
  Sketch sketch(words.rig, 240.0, 120.0);
  sketch.name(Role::text, {{6.0, 12.0}, rig.name, 7.0, Anchor::left, true, 228.0});
  sketch.line(Role::outline, {12.0, bed_y_mm}, {150.0, bed_y_mm}, "bed");
  sketch.polygon(Role::outline,
                 {{end_a_mm, axis_y_mm - half_tube_mm},
                  {end_b_mm, axis_y_mm - half_tube_mm},
                  {end_b_mm, axis_y_mm + half_tube_mm},
                  {end_a_mm, axis_y_mm + half_tube_mm}},
                 Fill::paper, "shaft");
  sketch.line(Role::centre_line, {20.0, axis_y_mm}, {142.0, axis_y_mm});
  for (const std::size_t end : {0U, 1U}) {
    const double x = end == 0 ? end_a_mm : end_b_mm;
    draw_rig_pedestal(sketch, x, end == 0 ? "A" : "B", words);
    if (end < rig.sensors.size()) draw_rig_sensor(sketch, x, rig.sensors[end], words);
  }
  draw_rig_tach(sketch, rig.tach, words);
  draw_rig_clock(sketch, rig, rotation_known, words);
  return std::move(sketch.picture());
}

Picture top_goes_picture(bool left, const Words& words) {
  const std::string title = (left ? said({"top goes to the left", "Oberseite geht nach links"})
                                  : said({"top goes to the right", "Oberseite geht nach rechts"}))
                                .in(words.language);
  Sketch sketch(title, 110.0, 90.0);
  const Point middle = {55.0, 54.0};
  sketch.disc(Role::outline, middle, 22.0, Fill::paper, "shaft");
  sketch.disc(Role::outline, middle, 17.0);
  sketch.line(Role::centre_line, {middle.x - 28.0, middle.y}, {middle.x + 28.0, middle.y});
  sketch.line(Role::centre_line, {middle.x, middle.y - 26.0}, {middle.x, middle.y + 28.0});
  draw_rotation(sketch, middle, 30.0, left ? Rotation::counter_clockwise : Rotation::clockwise);
  sketch.name(Role::text, {{middle.x, 13.0}, title, 6.5, Anchor::middle, true, 104.0});
  sketch.name(Role::quiet, {{middle.x, 87.0}, put_in(words.seen_from, "A"), 4.6, Anchor::middle, false, 100.0});
  return std::move(sketch.picture());
}

}  // namespace counterspot
