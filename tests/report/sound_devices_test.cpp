// What `rig new` shows of sound devices and levels.
#include "report/sound_devices.hpp"

#include <array>
#include <catch2/catch.hpp>

using namespace counterspot;

TEST_CASE("a bar goes by the logarithm: full at full scale, two thirds at a tenth, none at a thousandth and below") {
  // 20 lg 0.1 = -20 dB, of 60 dB that are shown.
  CHECK(level_bars(std::array{1.0, 0.1, 0.0}) == "  1 ##########    0 dB  2 #######---  -20 dB  3 ---------- <-60 dB");
  CHECK(level_bars(std::array{1e-3}).find('#') == std::string::npos);
}

TEST_CASE("a device says channels, rates and formats, and one that is busy says so") {
  SoundDevice device{"alsa:hw:1", "Desk", 3, 3, {44100.0, 192000.0}, {RawFormat::s24le, RawFormat::s16le}, ""};
  CHECK(sound_device_lines({device})[0].en == "alsa:hw:1  channels: 3; 44.1 192 kHz, s24le, s16le  (Desk)");
  CHECK(sound_device_lines({device})[0].de == "alsa:hw:1  Kanäle: 3; 44,1 192 kHz, s24le, s16le  (Desk)");
  device.trouble = "Device or resource busy";
  CHECK(sound_device_lines({device})[0].en == "alsa:hw:1  cannot be asked: Device or resource busy  (Desk)");
  CHECK(sound_device_lines({})[0].de.starts_with("kein Tongerät gefunden"));
}
