#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cerrno>
#include <cmath>
#include <string_view>

#include "counterspot/units/error.hpp"
#include "recording/alsa_handles.hpp"
#include "recording/live_reader.hpp"

namespace counterspot {

namespace {

constexpr unsigned buffer_us = 500'000;  // what the device holds for us while the machine does something else

std::string rates_text(const std::vector<double>& rates_Hz) {
  std::string text;
  for (const double rate_Hz : rates_Hz) text += fmt::format("{}{:g} kHz", text.empty() ? "" : ", ", rate_Hz / 1e3);
  return text.empty() ? "none of the usual rates" : text;
}

class AlsaReader final : public LiveReader {
 public:
  AlsaReader(std::string device, const LiveOptions& options) : device_(std::move(device)) {
    const QuietAlsa quiet;
    pcm_ = open_pcm(device_);
    check(snd_pcm_nonblock(pcm_.get(), 0), "cannot be waited for");
    set_up(options);
    info_ = raw_info("alsa:" + device_, "ALSA", format_, options);
    frame_bytes_ = bytes_of(format_) * info_.channels.size();
  }

  const RecordingInfo& info() const override { return info_; }
  bool can_wait() const override { return false; }

  std::size_t read(std::span<double> interleaved, const std::stop_token& stop) override {
    lost_ = false;
    const std::size_t channels = info_.channels.size();
    bytes_.resize(interleaved.size() / channels * frame_bytes_);
    while (!stop.stop_requested()) {
      if (snd_pcm_wait(pcm_.get(), look_up_ms) == 0) continue;
      const snd_pcm_sframes_t got = snd_pcm_readi(pcm_.get(), bytes_.data(), interleaved.size() / channels);
      if (got == -EAGAIN) continue;
      if (got == 0 || got == -ENODATA) return 0;
      if (got < 0) {
        recover(static_cast<int>(got));
        continue;
      }
      const auto frames = static_cast<std::size_t>(got);
      decode_raw({bytes_.data(), frames * frame_bytes_}, format_, interleaved.first(frames * channels));
      return frames;
    }
    return 0;
  }

  bool lost_some(std::optional<std::int64_t>& frames) override {
    frames.reset();  // ALSA does not say
    return lost_;
  }

 private:
  void check(int result, const char* what) const {
    if (result < 0) throw device_refusal(device_, what, result);
  }

  void set_up(const LiveOptions& options) {
    snd_pcm_hw_params_t* raw = nullptr;
    check(snd_pcm_hw_params_malloc(&raw), "cannot be asked what it offers");
    const HardwareParameters parameters(raw);
    snd_pcm_t* pcm = pcm_.get();
    check(snd_pcm_hw_params_any(pcm, raw), "offers nothing");
    check(snd_pcm_hw_params_set_rate_resample(pcm, raw, 0), "cannot leave its rate as it is");
    check(snd_pcm_hw_params_set_access(pcm, raw, SND_PCM_ACCESS_RW_INTERLEAVED), "does not give interleaved samples");
    choose_format(raw, options);
    choose_channels(raw, options.channels);
    choose_rate(raw, options.sample_rate_Hz);
    unsigned longest_us = buffer_us;
    int direction = 0;
    snd_pcm_hw_params_set_buffer_time_near(pcm, raw, &longest_us, &direction);  // as near as it can: no matter if not
    check(snd_pcm_hw_params(pcm, raw), "cannot be set up");
    check(snd_pcm_start(pcm), "does not start");
  }

  void choose_format(snd_pcm_hw_params_t* raw, const LiveOptions& options) {
    for (const AlsaOffer& offer : alsa_best_first) {
      if (options.format && *options.format != offer.format) continue;
      if (snd_pcm_hw_params_test_format(pcm_.get(), raw, offer.code) != 0) continue;
      check(snd_pcm_hw_params_set_format(pcm_.get(), raw, offer.code), "does not give that format");
      format_ = offer.format;
      return;
    }
    throw device_refusal(device_, "has no format that can be used", -EINVAL);
  }

  void choose_channels(snd_pcm_hw_params_t* raw, int channels) const {
    const auto [least, most] = channels_left(raw);
    if (snd_pcm_hw_params_set_channels(pcm_.get(), raw, static_cast<unsigned>(channels)) >= 0) return;
    throw Error(Trouble::machine, "device_channels",
                least == most ? fmt::format("the sound device '{}' has {} channels, and '{}' were asked for", device_,
                                            most, channels)
                              : fmt::format("the sound device '{}' has {} to {} channels, and '{}' were asked for",
                                            device_, least, most, channels),
                fmt::format("record as many as it has, as in --channels {}; two sensors and the tach need 3", most));
  }

  void choose_rate(snd_pcm_hw_params_t* raw, double rate_Hz) const {
    const std::vector<double> rates_Hz = rates_left_Hz(pcm_.get(), raw);
    if (snd_pcm_hw_params_set_rate(pcm_.get(), raw, static_cast<unsigned>(std::lround(rate_Hz)), 0) >= 0) return;
    throw Error(Trouble::machine, "device_rate",
                fmt::format("the sound device '{}' offers {}, and '{:g} kHz' were asked for", device_,
                            rates_text(rates_Hz), rate_Hz / 1e3),
                "record at one of its rates, as in --rate \"48 kHz\"");
  }

  void recover(int result) {
    lost_ = true;
    check(snd_pcm_recover(pcm_.get(), result, 1), "failed while recording");
    snd_pcm_start(pcm_.get());
  }

  std::string device_;
  Pcm pcm_;
  RawFormat format_ = RawFormat::s32le;
  RecordingInfo info_;
  std::size_t frame_bytes_ = 1;
  std::vector<char> bytes_;
  bool lost_ = false;
};

}  // namespace

Error device_refusal(const std::string& device, const std::string& what, int result) {
  if (result == -EBUSY)
    return {Trouble::machine, "device_busy", fmt::format("the sound device '{}' is held by another program", device),
            "end what else records from it, and do the same again"};
  return {Trouble::machine, "no_device",
          fmt::format("the sound device '{}' {}: {}", device, what, snd_strerror(result)),
          "see that it is plugged in; 'counterspot rig new' lists what devices there are"};
}

namespace {

bool names_plugin(const std::string& device, const char* plugin) {
  for (auto at = device.find(plugin); at != std::string::npos; at = device.find(plugin, at + 1))
    if (at == 0 || std::isalnum(static_cast<unsigned char>(device[at - 1])) == 0) return true;
  return false;
}

/// ALSA also takes a definition in place of a name, which writes files and starts programs (its `file` and `tee`,
/// pcm_plugins of alsa-lib's documentation): whoever may name a device must not be able to do that.
void admit_name(const std::string& device) {
  const bool plain = std::ranges::all_of(device, [](unsigned char each) {
    return std::isalnum(each) != 0 ||
           std::string_view("_-.:,=+").find(static_cast<char>(each)) != std::string_view::npos;
  });
  const bool writes = names_plugin(device, "file:") || names_plugin(device, "tee:");
  if (plain && !writes) return;
  throw Error(Trouble::request, "bad_source",
              fmt::format("'{}' is no name of a sound device: what ALSA would make of it may write files", device),
              "name one that 'counterspot rig new' lists, or give it a plain name in ~/.asoundrc");
}

}  // namespace

Pcm open_pcm(const std::string& device) {
  admit_name(device);
  snd_pcm_t* opened = nullptr;
  const int result = snd_pcm_open(&opened, device.c_str(), SND_PCM_STREAM_CAPTURE, SND_PCM_NONBLOCK);
  if (result < 0) throw device_refusal(device, "cannot be opened", result);
  return Pcm(opened);
}

std::unique_ptr<LiveReader> open_alsa(const std::string& device, const LiveOptions& options) {
  return std::make_unique<AlsaReader>(device, options);
}

}  // namespace counterspot
