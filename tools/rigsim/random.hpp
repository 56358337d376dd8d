#pragma once

#include <cstdint>

namespace rigsim {

/// Random numbers that are the same on every machine: the standard library leaves its distributions to the implementer.
/// Generator: SplitMix64 (Steele, Lea & Flood, OOPSLA 2014). Normal deviates: Box & Muller 1958.
class Random {
 public:
  /// @param stream keeps the uses of one seed apart, so that a new use does not change the others.
  explicit Random(std::uint64_t seed, std::uint64_t stream = 0);

  double uniform();                               ///< in (0, 1)
  double uniform(double lowest, double highest);  ///< in (lowest, highest)
  double normal();                                ///< mean 0, standard deviation 1
  double direction_rad() { return uniform(0.0, 6.283185307179586); }

 private:
  std::uint64_t next();

  std::uint64_t state_;
  bool has_spare_ = false;
  double spare_ = 0.0;
};

}  // namespace rigsim
