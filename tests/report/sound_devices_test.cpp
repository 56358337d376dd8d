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

TEST_CASE("of a device is taken 48 kHz or the next rate above, all channels up to eight, and its best format") {
  SoundDevice device{"alsa:hw:1", "Desk", 2, 4, {44100.0, 48000.0, 96000.0}, {RawFormat::s24le, RawFormat::s16le}, {}};
  CHECK(best_of(device).sample_rate_Hz == 48000.0);
  CHECK(best_of(device).channels == 4);
  CHECK(best_of(device).format == RawFormat::s24le);
  CHECK(record_options_text(device) == "--source alsa:hw:1 --rate \"48 kHz\" --channels 4");
  device.rates_Hz = {44100.0, 96000.0};
  device.most_channels = 64;
  CHECK(best_of(device).sample_rate_Hz == 96000.0);
  CHECK(best_of(device).channels == 8);
  device.rates_Hz = {8000.0, 44100.0};
  device.least_channels = 16;  // it gives no fewer
  CHECK(best_of(device).sample_rate_Hz == 44100.0);
  CHECK(best_of(device).channels == 16);
}

TEST_CASE("a device says channels, rates and formats, and one that is busy says so") {
  SoundDevice device{"alsa:hw:1", "Desk", 3, 3, {44100.0, 192000.0}, {RawFormat::s24le, RawFormat::s16le}, {}};
  CHECK(sound_device_lines({device})[0].en == "alsa:hw:1  channels: 3; 44.1 192 kHz, s24le, s16le  (Desk)");
  CHECK(sound_device_lines({device})[0].de == "alsa:hw:1  Kanäle: 3; 44,1 192 kHz, s24le, s16le  (Desk)");
  device.trouble = Error(Trouble::machine, "device_busy", "the sound device 'hw:1' is held by another program",
                         "end what else records from it, and do the same again");
  CHECK(sound_device_lines({device})[0].en ==
        "alsa:hw:1  the sound device 'hw:1' is held by another program; end what else records from it, and do the same "
        "again  (Desk)");
  CHECK(sound_device_lines({device})[0].de.starts_with("alsa:hw:1  Ein anderes Programm hält das Tongerät ('hw:1'); "));
  CHECK(sound_device_lines({})[0].de.starts_with("kein Tongerät gefunden"));
}
