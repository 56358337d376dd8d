#include "algebra/rank.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

using namespace counterspot;

namespace {

enum class Shape { chance, ties, rising, falling, wave };

std::vector<double> values_of(Shape shape, std::size_t count, std::mt19937& random) {
  std::exponential_distribution<double> chance(1.0);
  std::vector<double> values(count);
  for (std::size_t i = 0; i < count; ++i) {
    const auto at = static_cast<double>(i);
    switch (shape) {
      case Shape::chance: values[i] = chance(random); break;
      case Shape::ties: values[i] = std::floor(3.0 * chance(random)); break;
      case Shape::rising: values[i] = at; break;
      case Shape::falling: values[i] = -at; break;
      case Shape::wave: values[i] = std::sin(0.01 * at); break;
    }
  }
  return values;
}

}  // namespace

TEST_CASE("The value at a rank is the one that stands there when all are sorted, and no value is lost") {
  std::mt19937 random(3);
  for (const Shape shape : {Shape::chance, Shape::ties, Shape::rising, Shape::falling, Shape::wave}) {
    for (const std::size_t count : {1U, 2U, 7U, 1999U, 2000U, 2001U, 5000U, 13000U}) {
      std::vector<double> values = values_of(shape, count, random);
      std::vector<double> sorted = values;
      std::sort(sorted.begin(), sorted.end());
      for (const std::size_t rank : {std::size_t{0}, count / 100, count / 4, count / 2, count - 1}) {
        INFO(count << " values, rank " << rank);
        CHECK(value_at_rank(values, rank) == sorted[rank]);
      }
      std::sort(values.begin(), values.end());
      CHECK(values == sorted);
    }
  }
}
