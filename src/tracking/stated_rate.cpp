#include "tracking/stated_rate.hpp"

#include <fmt/format.h>

#include <cmath>

#include "counterspot/units/error.hpp"

namespace counterspot {

void refuse_other_rate(const RecordingInfo& info, double stated_Hz) {
  constexpr double let_pass = 1e-3;
  if (std::abs(info.sample_rate_Hz / stated_Hz - 1.0) <= let_pass) return;
  throw Error(Trouble::request, "other_sample_rate",
              fmt::format("{} has a sample rate of its own, {:.10g} Hz, and {:.10g} Hz is stated", info.name,
                          info.sample_rate_Hz, stated_Hz),
              "leave --sample-rate out, or, if the times of a table are wrong, write time = \"none\" under [recording] "
              "in the rig file");
}

}  // namespace counterspot
