// Every picture is drawn and laid over one that is kept. Small, so that the repository stays small.
#include <cairo.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <fstream>
#include <memory>

#include "examples.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

constexpr double kept_pixels_per_mm = 1.6;
// What other releases of the font, FreeType and Cairo may make of edges: a share of the greatest difference there could
// be. A weight that moves by one hour on the face changes more (see below).
constexpr double most_mean_difference = 0.004;

struct Pixels {
  int width = 0;
  int height = 0;
  std::vector<unsigned char> bytes;
};

struct Source {
  const std::string& bytes;
  std::size_t at = 0;
};

cairo_status_t read_bytes(void* closure, unsigned char* data, unsigned length) {
  auto& source = *static_cast<Source*>(closure);
  if (source.at + length > source.bytes.size()) return CAIRO_STATUS_READ_ERROR;
  std::memcpy(data, source.bytes.data() + source.at, length);
  source.at += length;
  return CAIRO_STATUS_SUCCESS;
}

Pixels pixels_of(const std::string& png) {
  Source source{png};
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create_from_png_stream(read_bytes, &source), cairo_surface_destroy);
  REQUIRE(cairo_surface_status(surface.get()) == CAIRO_STATUS_SUCCESS);
  Pixels pixels{cairo_image_surface_get_width(surface.get()), cairo_image_surface_get_height(surface.get()), {}};
  const int stride = cairo_image_surface_get_stride(surface.get());
  for (int y = 0; y < pixels.height; ++y) {
    const unsigned char* row = cairo_image_surface_get_data(surface.get()) + static_cast<std::ptrdiff_t>(y) * stride;
    for (int x = 0; x < 4 * pixels.width; ++x)
      if (x % 4 != 3) pixels.bytes.push_back(row[x]);
  }
  return pixels;
}

double mean_difference(const std::string& png, const std::string& other) {
  const Pixels a = pixels_of(png);
  const Pixels b = pixels_of(other);
  REQUIRE(a.width == b.width);
  REQUIRE(a.height == b.height);
  double sum = 0.0;
  for (std::size_t i = 0; i < a.bytes.size(); ++i) sum += std::abs(a.bytes[i] - b.bytes[i]);
  return sum / 255.0 / static_cast<double>(a.bytes.size());
}

std::string png_of(const Picture& picture, Theme theme) {
  return draw(picture, {PictureFormat::png, theme, kept_pixels_per_mm, 0});
}

std::filesystem::path kept_file(const std::string& name) {
  return source_file("tests/drawing/kept/" + name + ".png");
}

}  // namespace

TEST_CASE("every picture looks as the one that is kept") {
  for (const auto& [name, picture] : example_pictures()) {
    CAPTURE(name);
    CHECK(mean_difference(png_of(picture, Theme::light), read_file(kept_file(name))) <= most_mean_difference);
  }
}

TEST_CASE("the face on dark looks as the one that is kept") {
  const std::string drawn = png_of(clock_picture(example_face()), Theme::dark);
  CHECK(mean_difference(drawn, read_file(kept_file("clock-dark"))) <= most_mean_difference);
}

TEST_CASE("a weight drawn an hour off would be noticed") {
  ClockFace face = example_face();
  face.pieces[1].angle_rad += radians(30.0);
  CHECK(mean_difference(png_of(clock_picture(face), Theme::light), read_file(kept_file("clock"))) >
        most_mean_difference);
}

// Draws the kept pictures anew: test_drawing "[keep]". Look at each before it is committed.
TEST_CASE("keep the pictures as they are drawn now", "[.][keep]") {
  const auto keep = [](const std::string& name, const std::string& png) {
    std::ofstream(kept_file(name), std::ios::binary) << png;
  };
  for (const auto& [name, picture] : example_pictures()) keep(name, png_of(picture, Theme::light));
  keep("clock-dark", png_of(clock_picture(example_face()), Theme::dark));
  SUCCEED();
}
