#include "rigsim/random.hpp"

#include <cmath>
#include <numbers>

namespace rigsim {

Random::Random(std::uint64_t seed, std::uint64_t stream) : state_(seed * 0x9E3779B97F4A7C15ULL) {
  state_ = next() ^ (stream * 0xD1B54A32D192ED03ULL);
  next();
}

std::uint64_t Random::next() {
  state_ += 0x9E3779B97F4A7C15ULL;
  std::uint64_t z = state_;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
  return z ^ (z >> 31);
}

double Random::uniform() {
  // 53 bits, shifted by half a step so that 0 and 1 are left out and the logarithm below is safe.
  return (static_cast<double>(next() >> 11) + 0.5) * 0x1.0p-53;
}

double Random::uniform(double lowest, double highest) {
  return lowest + (highest - lowest) * uniform();
}

double Random::normal() {
  if (has_spare_) {
    has_spare_ = false;
    return spare_;
  }
  double length = std::sqrt(-2.0 * std::log(uniform()));
  double direction = 2.0 * std::numbers::pi * uniform();
  spare_ = length * std::sin(direction);
  has_spare_ = true;
  return length * std::cos(direction);
}

}  // namespace rigsim
