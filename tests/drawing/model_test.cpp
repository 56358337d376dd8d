// What pictures say, asked of the picture and not of its pixels.
#include <rapidcheck.h>

#include <Eigen/Dense>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>

#include "counterspot/units/error.hpp"
#include "examples.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double drawn_exactly_deg = 1e-6;  // the model is not rounded

Point centre_of_tube(const Picture& picture) {
  return std::get<Disc>(shapes_meaning(picture, "tube").at(0).form).centre;
}

/// Where the one piece of a face is drawn, in degrees clockwise from the top.
double drawn_at_deg(Rotation rotation, double shaft_angle_rad) {
  ClockFace face;
  face.plane = "A";
  face.rotation = rotation;
  face.pieces = {{PieceState::to_fit, 0.01, shaft_angle_rad}};
  const Picture picture = clock_picture(face);
  return clock_deg_of(centre_of_tube(picture), middle_of(shapes_meaning(picture, "to fit").at(0)));
}

/// WCAG 2.2, relative luminance and contrast ratio (recommendation of the W3C, 2023).
double luminance(const std::array<double, 3>& colour) {
  const auto linear = [](double c) { return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4); };
  return 0.2126 * linear(colour[0]) + 0.7152 * linear(colour[1]) + 0.0722 * linear(colour[2]);
}
double contrast(const std::array<double, 3>& a, const std::array<double, 3>& b) {
  const auto [low, high] = std::minmax({luminance(a), luminance(b)});
  return (high + 0.05) / (low + 0.05);
}

}  // namespace

TEST_CASE("a weight at 4:30 is drawn 135 deg clockwise from the top") {
  const double angle = shaft_angle_of_clock({4 * 60 + 30}, Rotation::counter_clockwise);
  CHECK(drawn_at_deg(Rotation::counter_clockwise, angle) == Approx(135.0).margin(drawn_exactly_deg));
}

TEST_CASE("wherever a weight is and whichever way the shaft turns, it is drawn where the clock says") {
  CHECK(rc::check("drawn where the clock says", [](bool clockwise) {
    const double angle = radians(*rc::gen::inRange(0, 3600) / 10.0);
    const Rotation rotation = clockwise ? Rotation::clockwise : Rotation::counter_clockwise;
    const double minutes = 2.0 * drawn_at_deg(rotation, angle);
    const double clock = clock_position(angle, rotation).minutes;
    RC_ASSERT(std::abs(std::remainder(minutes - clock, 720.0)) <= 0.5 + 1e-6);  // the clock is rounded to a minute
  }));
}

TEST_CASE("the end that is looked from and the way the shaft turns stand on the face") {
  ClockFace face = example_face();
  CHECK(shapes_meaning(clock_picture(face), "turns counter-clockwise").size() == 1);
  CHECK(shapes_meaning(clock_picture(face), "view from A").size() == 1);
  face.rotation = Rotation::clockwise;
  face.end = "B";
  CHECK(shapes_meaning(clock_picture(face), "turns clockwise").size() == 1);
  CHECK(shapes_meaning(clock_picture(face), "view from B").size() == 1);
}

TEST_CASE("hour and mass are lettered for reading at two metres, also with several pieces at one side") {
  ClockFace face = example_face();
  face.pieces = {{PieceState::to_fit, 0.0262, radians(100.0)}, {PieceState::to_fit, 0.0079, radians(150.0)}};
  const auto numerals = words_meaning(clock_picture(face), "numeral");
  REQUIRE(numerals.size() == 4);
  for (const Lettering& numeral : numerals) {
    // ISO 9241-303: 16 minutes of arc is the least height for reading (from memory).
    CHECK(degrees(std::atan(numeral.height_mm / 2000.0)) * 60.0 >= 15.9);
  }
  CHECK(numerals[0].words == "3:20");
  CHECK(numerals[1].words == "26.2 g");
}

TEST_CASE("the tape goes the shorter way round and says what a tape measure reads") {
  ClockFace face = example_face();
  face.pieces = {{PieceState::to_fit, 0.01, radians(270.0)}};
  const auto tapes = shapes_meaning(clock_picture(face), "tape");
  REQUIRE(tapes.size() == 1);
  const auto& arc = std::get<Arc>(tapes[0].form);
  CHECK(arc.to_deg - arc.from_deg == Approx(90.0));
  CHECK(tapes[0].meaning == "tape 59.8 mm");  // a quarter of π · 76.2 mm, by pencil
}

TEST_CASE("a forbidden arc is drawn from its first to its last degree, whichever way the shaft turns") {
  ClockFace face = example_face();
  face.forbidden = {{radians(350.0), radians(20.0), "seam"}};
  CHECK(shapes_meaning(clock_picture(face), "forbidden 350.0 380.0").size() == 1);
  face.rotation = Rotation::clockwise;
  CHECK(shapes_meaning(clock_picture(face), "forbidden 340.0 370.0").size() == 1);
}

TEST_CASE("vectors are as long against the limit circle as unbalance is against the limit") {
  const VectorDiagram diagram = example_vectors();
  const Picture picture = vector_picture(diagram);
  const auto limit = std::get<Disc>(shapes_meaning(picture, "limit").at(0).form);
  for (const SpinVector& spin : diagram.spins) {
    auto lines = shapes_meaning(picture, "earlier " + spin.label);
    if (lines.empty()) lines = shapes_meaning(picture, "last " + spin.label);
    const auto& line = std::get<Path>(lines.at(0).form).points;
    const double length = std::hypot(line[1].x - line[0].x, line[1].y - line[0].y);
    CHECK(length / limit.radius_mm == Approx(std::abs(spin.unbalance_kg_m) / *diagram.limit_kg_m));
    CHECK(clock_deg_of(line[0], line[1]) ==
          Approx(direction_deg(spin.unbalance_kg_m)));  // seen turning against the clock
  }
}

TEST_CASE("the ellipse of the last spin is that of k = 2.45, JCGM 102:2011, 6.5.2.3") {
  const VectorDiagram diagram = example_vectors();
  const Picture picture = vector_picture(diagram);
  const auto limit = std::get<Disc>(shapes_meaning(picture, "limit").at(0).form);
  const double mm_per_kg_m = limit.radius_mm / *diagram.limit_kg_m;
  const SpinVector& last = diagram.spins.back();
  const auto ellipse = shapes_meaning(picture, "uncertainty");
  REQUIRE_FALSE(ellipse.empty());
  for (const Point& point : std::get<Path>(ellipse[0].form).points) {
    const double length = std::hypot(point.x - limit.centre.x, point.y - limit.centre.y) / mm_per_kg_m;
    const Phasor off = phasor_at(length, radians(clock_deg_of(limit.centre, point))) - last.unbalance_kg_m;
    const Eigen::Vector2d d(off.real(), off.imag());
    CHECK(std::sqrt(d.dot(last.covariance.inverse() * d)) == Approx(2.45).epsilon(1e-6));
  }
}

TEST_CASE("spins of Rao's turbine rotor come out at the unbalance of the book") {
  // S. S. Rao, Mechanical Vibrations, two-plane balancing; as found U_L 10.0561 at 145.5548 deg, U_R 5.8774 at 248.2559
  // deg.
  const auto at = [](double size, double deg) { return phasor_at(size, radians(deg)); };
  const SpinReading as_found{
      "as found", {}, {at(8.5, 60.0), at(6.5, 205.0)}, {Eigen::Matrix2d::Zero(), Eigen::Matrix2d::Zero()}, {}};
  std::vector<CoefficientEstimate> alpha(4);
  alpha[0].value = at(0.807112, 287.6435);
  alpha[1].value = at(0.331313, 99.6275);
  alpha[2].value = at(0.307912, 76.8562);
  alpha[3].value = at(0.623498, 302.0988);
  const auto vectors = unbalance_of_spins({as_found}, alpha);
  constexpr double printed_digits = 5e-4;
  CHECK(std::abs(vectors[0][0].unbalance_kg_m - at(10.0561, 145.5548)) < printed_digits);
  CHECK(std::abs(vectors[1][0].unbalance_kg_m - at(5.8774, 248.2559)) < printed_digits);
}

TEST_CASE("every role stands out from its paper, light and dark") {
  for (const Theme theme : {Theme::light, Theme::dark}) {
    for (std::size_t i = 0; i < role_count; ++i) {
      const Role role = static_cast<Role>(i);
      if (role == Role::paper || role == Role::grid) continue;
      CAPTURE(i);
      CHECK(contrast(ink_of(role, theme).colour, paper_of(theme)) >= 4.5);  // WCAG 2.2, 1.4.3, for words
    }
  }
}

TEST_CASE("curves, and the last spin and earlier ones, differ without their colours") {
  const auto line = [](Role role) {
    return std::pair(ink_of(role, Theme::light).line_mm, ink_of(role, Theme::light).dashes_mm);
  };
  const std::vector<Role> apart = {Role::series_1, Role::series_2, Role::series_3, Role::series_4,
                                   Role::limit,    Role::latest,   Role::earlier};
  for (const Role one : apart)
    for (const Role other : apart)
      if (one != other) CHECK(line(one) != line(other));
}

TEST_CASE("a picture put into another keeps its proportions") {
  Picture page{"", 100.0, 100.0, {}};
  put(page, clock_picture(example_face()), {10.0, 20.0}, 0.5);
  const Picture face = clock_picture(example_face());
  const auto before = std::get<Disc>(shapes_meaning(face, "tube").at(0).form);
  const auto after = std::get<Disc>(shapes_meaning(page, "tube").at(0).form);
  CHECK(after.radius_mm == 0.5 * before.radius_mm);
  CHECK(after.centre == Point{10.0 + 0.5 * before.centre.x, 20.0 + 0.5 * before.centre.y});
}

TEST_CASE("an ending that is no picture's is refused, and the endings that are taken are named") {
  for (const char* file : {"a.gif", "picture", "png", "a.svg.txt", ""}) {
    CAPTURE(file);
    try {
      picture_format(file);
      FAIL("taken");
    } catch (const Error& error) {
      CHECK(error.code() == "bad_ending");
      CHECK(error.remedy() == "end the name in .svg, .png or .pdf");
    }
  }
  CHECK(picture_format("A.SVG") == PictureFormat::svg);
}

TEST_CASE("every text of a picture is there in every language that is named") {
  CHECK(&words_in("en") == &english());
  CHECK(&words_in("de") == &german());
  CHECK_THROWS_AS(words_in("xx"), Error);
  CHECK(measured_text(38.071, 0.963, german()) == "38,07 ± 0,96");
  CHECK(with_decimal_sign("12.5 g at 4.", german()) == "12,5 g at 4.");
}

TEST_CASE("the program refuses a bad ending before it works, and says so") {
  const auto data = source_file("data");
  const Ran ran = run_program({"solve", "spins.toml", "--picture", "fit.bmp"}, "/dev/null", data);
  CHECK(ran.exit_code == 2);
  CHECK(ran.out.empty());
  CHECK(ran.err.find("fit.bmp") != std::string::npos);
  CHECK(ran.err.find(".svg, .png or .pdf") != std::string::npos);
  CHECK(run_program({"inspect", "-", "--picture", "a.png"}, "/dev/null", data).exit_code == 2);
  CHECK(run_program({"shaft", "shaft.toml", "--picture", "a.png"}, "/dev/null", data).err.find("dial readings") !=
        std::string::npos);
  CHECK(
      run_program({"solve", "spins-verify.toml", "--picture", "/no/such/folder/a.png"}, "/dev/null", data).exit_code ==
      4);
}

TEST_CASE("inspect draws the signals, place where the pieces go") {
  const TemporaryFolder folder;
  const auto data = source_file("data");
  const auto drawn = [&](std::vector<std::string> ask) {
    const auto file = folder / "drawn.svg";
    ask.insert(ask.end(), {"--picture", file.string()});
    CHECK(run_program(ask, "/dev/null", data).exit_code == 0);
    const std::string bytes = read_file(file);
    CHECK(bytes.starts_with("<?xml"));
    std::filesystem::remove(file);
    return bytes;
  };
  const std::string signals = drawn({"inspect", "00-as-found.flac", "--rig", "rig.toml"});
  const std::string places = drawn({"place", "spins.toml", "--stock", "stock.toml"});
  CHECK(places != drawn({"place", "spins-verify.toml", "--stock", "stock.toml"}));
  CHECK(signals != drawn({"inspect", "03-verify.flac", "--rig", "rig.toml"}));
}

TEST_CASE("the program writes the same picture in each format, byte for byte each time") {
  const TemporaryFolder folder;
  for (const auto& [ending, magic] : {std::pair{"svg", "<?xml"}, {"png", "\x89PNG"}, {"pdf", "%PDF"}}) {
    std::string first;
    for (const char* name : {"one.", "two."}) {
      const auto file = folder / (std::string(name) + ending);
      REQUIRE(run_program({"solve", "spins-verify.toml", "--picture", file.string()}, "/dev/null", source_file("data"))
                  .exit_code == 0);
      const std::string bytes = read_file(file);
      CHECK(bytes.starts_with(magic));
      if (!first.empty()) CHECK(bytes == first);
      first = bytes;
    }
  }
}
