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
      {.path = "source",
       .form = text,
       .absent = "recordings are named one by one",
       .example = "alsa:hw:1",
       .effect = "Where live samples come from, as 'record' takes it."},
      {.path = "source_rate",
       .form = quantity,
       .dimension = Dimension::frequency,
       .range = more_than_0,
       .absent = "what the source says",
       .example = "51.2 kHz",
       .effect = "Samples a second of a device or of raw samples."},
      {.path = "source_channels",
       .form = whole,
       .range = {1, 64},
       .absent = "3",
       .example = "3",
       .effect = "How many it has, the tach's among them."},
      {.path = "source_format",
       .form = choice,
       .choices = {"s16le", "s24le", "s32le", "f32le"},
       .absent = "s32le, or a device's best",
       .example = "s32le",
       .effect = "Of raw samples."},
      {.path = "seconds",
       .form = quantity,
       .dimension = Dimension::time,
       .range = more_than_0,
       .absent = "10 s",
       .example = "10 s",
       .effect = "How long a spin is recorded."},
  };
}

}  // namespace

std::vector<FileKey> shop_keys() {
  using enum Form;
  std::vector<FileKey> keys = {
      {.path = "language",
       .form = choice,
       .choices = {"en", "de"},
       .absent = "that of the locale",
       .example = "en",
       .effect = "Of what people read."},
      {.path = "units",
       .form = choice,
       .choices = {"metric", "inch"},
       .absent = "metric",
       .example = "metric",
       .effect = "Of tape, dial and scale."},
      {.path = "rig",
       .form = text,
       .absent = "it is named with --rig",
       .example = "rig.toml",
       .effect = "The rig's file, where a command needs one."},
      {.path = "stock",
       .form = text,
       .absent = "it is named with --stock",
       .example = "stock.toml",
       .effect = "The file of pieces to fit."},
      {.path = "shafts",
       .form = text,
       .absent = "a shaft's file is named by its path",
       .example = "shafts",
       .effect = "The folder of shaft files: 'job open PS-1042' finds the one with this id."},
      {.path = "recordings",
       .form = text,
       .absent = "it is named with --recordings",
       .example = "spins",
       .effect = "The folder where spins are kept."},
      {.path = "log",
       .form = text,
       .absent = "log.db in the user's data folder",
       .example = "log.db",
       .effect = "The quality log: a file, or postgresql://…"},
  };
  const auto more = source_keys();
  keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

}  // namespace counterspot
