#include "counterspot/recording/sound_devices.hpp"

#include <algorithm>
#include <cstdarg>
#include <cstdlib>

#include "recording/alsa_handles.hpp"

namespace counterspot {

namespace {

constexpr std::array usual_rates_Hz = {8000.0,  16000.0, 22050.0, 32000.0,  44100.0,
                                       48000.0, 88200.0, 96000.0, 176400.0, 192000.0};
constexpr std::array<std::string_view, 12> not_a_device_itself = {
    "plughw:", "sysdefault", "dsnoop:",    "dmix:", "front:",  "surround",
    "iec958:", "hdmi:",      "usbstream:", "null",  "lavrate", "samplerate"};

void say_nothing(const char* /*file*/, int /*line*/, const char* /*function*/, int /*code*/, const char* /*words*/,
                 ...) {}

/// What ALSA would print of names that lead nowhere is no fault of the person who asks what there is.
class QuietAlsa {
 public:
  QuietAlsa() { snd_lib_error_set_handler(say_nothing); }
  ~QuietAlsa() { snd_lib_error_set_handler(nullptr); }
  QuietAlsa(const QuietAlsa&) = delete;
  QuietAlsa& operator=(const QuietAlsa&) = delete;
};

struct FreeHints {
  void operator()(void** hints) const { snd_device_name_free_hint(hints); }
};
struct FreeText {
  void operator()(char* text) const { std::free(text); }
};

std::string hint_of(const void* hint, const char* key) {
  const std::unique_ptr<char, FreeText> text(snd_device_name_get_hint(hint, key));
  std::string line = text ? text.get() : "";
  std::replace(line.begin(), line.end(), '\n', ' ');
  return line;
}

bool can_be_listed(const std::string& name, const std::string& direction) {
  if (name.empty() || direction == "Output") return false;
  return std::none_of(not_a_device_itself.begin(), not_a_device_itself.end(),
                      [&](std::string_view other) { return name.starts_with(other); });
}

void read_offers(snd_pcm_t* pcm, snd_pcm_hw_params_t* offered, SoundDevice& device) {
  unsigned least = 0;
  unsigned most = 0;
  snd_pcm_hw_params_get_channels_min(offered, &least);
  snd_pcm_hw_params_get_channels_max(offered, &most);
  device.least_channels = static_cast<int>(least);
  device.most_channels = static_cast<int>(std::min(most, 64U));  // as many as open_live takes
  for (const double rate_Hz : usual_rates_Hz)
    if (snd_pcm_hw_params_test_rate(pcm, offered, static_cast<unsigned>(rate_Hz), 0) == 0)
      device.rates_Hz.push_back(rate_Hz);
  for (const AlsaOffer& offer : alsa_best_first)
    if (snd_pcm_hw_params_test_format(pcm, offered, offer.code) == 0) device.formats.push_back(offer.format);
}

void ask_device(const std::string& name, SoundDevice& device) {
  snd_pcm_t* opened = nullptr;
  int result = snd_pcm_open(&opened, name.c_str(), SND_PCM_STREAM_CAPTURE, SND_PCM_NONBLOCK);
  const Pcm pcm(result < 0 ? nullptr : opened);
  snd_pcm_hw_params_t* raw = nullptr;
  if (result >= 0) result = snd_pcm_hw_params_malloc(&raw);
  const HardwareParameters parameters(raw);
  if (result >= 0) result = snd_pcm_hw_params_any(pcm.get(), raw);
  if (result >= 0) result = snd_pcm_hw_params_set_rate_resample(pcm.get(), raw, 0);
  if (result < 0)
    device.trouble = snd_strerror(result);
  else
    read_offers(pcm.get(), raw, device);
}

}  // namespace

std::vector<SoundDevice> sound_devices() {
  const QuietAlsa quiet;
  std::vector<SoundDevice> devices;
  void** raw = nullptr;
  if (snd_device_name_hint(-1, "pcm", &raw) < 0) return devices;
  const std::unique_ptr<void*, FreeHints> hints(raw);
  for (void** hint = raw; *hint != nullptr; ++hint) {
    const std::string name = hint_of(*hint, "NAME");
    if (!can_be_listed(name, hint_of(*hint, "IOID"))) continue;
    SoundDevice device;
    device.source = "alsa:" + name;
    device.description = hint_of(*hint, "DESC");
    ask_device(name, device);
    devices.push_back(std::move(device));
  }
  return devices;
}

}  // namespace counterspot
