#include <algorithm>
#include <cstring>
#include <span>

#include "counterspot/files/files.hpp"
#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "counterspot/tracking/tracking.hpp"
#include "fuzz.hpp"

using namespace counterspot;

namespace {

/// The bytes as samples of 32-bit float in three channels: anything a converter or a broken driver can give.
class Samples : public Recording {
 public:
  Samples(const std::uint8_t* bytes, std::size_t count) : bytes_(bytes, count) {
    info_.name = "samples";
    info_.full_scale = true;
    info_.sample_rate_Hz = 640.0;
    info_.channels = {{"1", ""}, {"2", ""}, {"3", ""}};
  }
  const RecordingInfo& info() const override { return info_; }
  std::size_t read(std::span<double> interleaved) override {
    const std::size_t frames = std::min(interleaved.size() / 3, bytes_.size() / (3 * sizeof(float)));
    for (std::size_t i = 0; i < 3 * frames; ++i) {
      float value = 0.0F;
      std::memcpy(&value, bytes_.data() + i * sizeof value, sizeof value);
      interleaved[i] = static_cast<double>(value);
    }
    bytes_ = bytes_.subspan(3 * frames * sizeof(float));
    return frames;
  }

 private:
  std::span<const std::uint8_t> bytes_;
  RecordingInfo info_;
};

}  // namespace

/// What is done with samples, whatever they are.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  static const Rig rig = read_rig(fuzz::demo_folder() / "rig.toml");
  TrackOptions options;
  options.orders = {1, 2};
  fuzz::let_refuse([&] {
    Samples samples(bytes, count);
    track(samples, rig, options);
  });
  fuzz::let_refuse([&] {
    Samples samples(bytes, count);
    sweep(samples, rig);
  });
  fuzz::let_refuse([&] {
    Samples samples(bytes, count);
    order_spectra(samples, rig);
  });
  return 0;
}
