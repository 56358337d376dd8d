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

struct FreeHints {
  void operator()(void** hints) const { snd_device_name_free_hint(hints); }
};
struct FreeText {
  void operator()(char* text) const { std::free(text); }  // NOLINT(cppcoreguidelines-owning-memory): ALSA made it
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
  const auto [least, most] = channels_left(offered);
  device.least_channels = least;
  device.most_channels = std::min(most, 64);  // as many as open_live takes
  device.rates_Hz = rates_left_Hz(pcm, offered);
  for (const AlsaOffer& offer : alsa_best_first)
    if (snd_pcm_hw_params_test_format(pcm, offered, offer.code) == 0) device.formats.push_back(offer.format);
}

void ask_device(const std::string& name, SoundDevice& device) {
  try {
    const Pcm pcm = open_pcm(name);
    snd_pcm_hw_params_t* raw = nullptr;
    int result = snd_pcm_hw_params_malloc(&raw);
    const HardwareParameters parameters(raw);
    if (result >= 0) result = snd_pcm_hw_params_any(pcm.get(), raw);
    if (result >= 0) result = snd_pcm_hw_params_set_rate_resample(pcm.get(), raw, 0);
    if (result < 0) throw device_refusal(name, "cannot be asked what it offers", result);
    read_offers(pcm.get(), raw, device);
  } catch (const Error& error) {
    device.trouble = error;
  }
}

}  // namespace

std::array<int, 2> channels_left(snd_pcm_hw_params_t* offered) {
  unsigned least = 0;
  unsigned most = 0;
  snd_pcm_hw_params_get_channels_min(offered, &least);
  snd_pcm_hw_params_get_channels_max(offered, &most);
  return {static_cast<int>(least), static_cast<int>(std::min(most, 10000U))};
}

std::vector<double> rates_left_Hz(snd_pcm_t* pcm, snd_pcm_hw_params_t* offered) {
  std::vector<double> rates_Hz;
  for (const double rate_Hz : usual_rates_Hz)
    if (snd_pcm_hw_params_test_rate(pcm, offered, static_cast<unsigned>(rate_Hz), 0) == 0) rates_Hz.push_back(rate_Hz);
  return rates_Hz;
}

LiveOptions best_of(const SoundDevice& device) {
  constexpr double enough_Hz = 48000.0;
  constexpr int usual_most_channels = 8;
  LiveOptions best;
  const auto enough = std::ranges::find_if(device.rates_Hz, [](double rate_Hz) { return rate_Hz >= enough_Hz; });
  if (enough != device.rates_Hz.end())
    best.sample_rate_Hz = *enough;
  else if (!device.rates_Hz.empty())
    best.sample_rate_Hz = device.rates_Hz.back();
  best.channels = std::max(device.least_channels, std::min(device.most_channels, usual_most_channels));
  if (!device.formats.empty()) best.format = device.formats.front();
  return best;
}

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
