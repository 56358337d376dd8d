#include "files/key_lists.hpp"

namespace counterspot {

const FileAbout about_shop = {"shop-file", "shop.toml", "a shop's defaults: what need not be typed again",
                              R"(# An option goes before COUNTERSPOT_RIG and so on in the environment, that before the
# shop.toml of the folder one works in or of the nearest above it, and that before the
# user's own: $XDG_CONFIG_HOME/counterspot/shop.toml, else ~/.config/counterspot/shop.toml.
rig = "rig.toml"
)"};

namespace {

std::vector<FileKey> source_keys() {
  using enum Form;
  return {
      key("source", {text}, absent("recordings are named one by one"),
          "Where live samples come from, as 'record' takes it.", "alsa:hw:1"),
      key("source_rate", {quantity, Dimension::frequency, more_than_0}, absent("what the source says"),
          "Samples a second of a device or of raw samples.", "51.2 kHz"),
      key("source_channels", {.form = whole, .range = {1, 64}}, absent("3"), "How many it has, the tach's among them.",
          "3"),
      key("source_format", {.form = choice, .choices = {"s16le", "s24le", "s32le", "f32le"}},
          absent("s32le, or a device's best"), "Of raw samples.", "s32le"),
      key("seconds", {quantity, Dimension::time, more_than_0}, absent("10 s"), "How long a spin is recorded.", "10 s"),
  };
}

}  // namespace

std::vector<FileKey> shop_keys() {
  using enum Form;
  std::vector<FileKey> keys = {
      key("language", {.form = choice, .choices = {"en", "de"}}, absent("that of the locale"), "Of what people read.",
          "en"),
      key("units", {.form = choice, .choices = {"metric", "inch"}}, absent("metric"), "Of tape, dial and scale.",
          "metric"),
      key("rig", {text}, absent("it is named with --rig"), "The rig's file, where a command needs one.", "rig.toml"),
      key("stock", {text}, absent("it is named with --stock"), "The file of pieces to fit.", "stock.toml"),
      key("shafts", {text}, absent("a shaft's file is named by its path"),
          "The folder of shaft files: 'job open PS-1042' finds the one with this id.", "shafts"),
      key("recordings", {text}, absent("it is named with --recordings"), "The folder where spins are kept.", "spins"),
      key("log", {text}, absent("log.db in the user's data folder"), "The quality log: a file, or postgresql://…",
          "log.db"),
  };
  const auto more = source_keys();
  keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

}  // namespace counterspot
