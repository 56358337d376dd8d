// The table that readers, manuals, schemas and refusals go by: files made of its own examples.
#include "files/file_keys.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "counterspot/files/amplitude_file.hpp"
#include "counterspot/files/files.hpp"
#include "counterspot/files/shop.hpp"
#include "counterspot/placement/stock.hpp"
#include "counterspot/units/error.hpp"
#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

using Paths = std::set<std::string, std::less<>>;

/// A file with the example of every key, but for some that do not go together with others.
struct Composed {
  FileKind kind;
  Paths left_out;
  std::string misspelt = {};  ///< the path of a key that gets a letter too much

  Paths written = {};
  std::string text = {};

  Composed(FileKind which, Paths without, std::string wrong = {})
      : kind(which), left_out(std::move(without)), misspelt(std::move(wrong)) {
    write("", "");
  }

 private:
  static bool is_table(const FileKey& key) { return key.form == Form::table || key.form == Form::tables; }
  void write(std::string_view within, const std::string& head) {
    for (const FileKey* key : keys_within(kind, within)) {
      if (is_table(*key) || left_out.contains(key->path)) continue;
      const std::string line = key->written();
      const auto end = line.find(' ');
      text += line.substr(0, end) + (key->path == misspelt ? "_" : "") + line.substr(end) + "\n";
      written.emplace(key->path);
    }
    for (const FileKey* key : keys_within(kind, within))
      if (is_table(*key) && !left_out.contains(key->path)) write_tables(*key, head);
  }
  void write_tables(const FileKey& key, const std::string& head) {
    written.emplace(key.path);
    const auto names = key.choices.empty() ? std::vector<std::string_view>{key.name()} : key.choices;
    for (const std::string_view name : names) {
      const std::string full = head + std::string(name);
      text += key.form == Form::table ? "[" + full + "]\n" : "[[" + full + "]]\n";
      write(key.path, full + ".");
    }
  }
};

/// Of one kind, files that have every key between them.
std::vector<Paths> left_out_of(FileKind kind) {
  switch (kind) {
    case FileKind::rig:
      return {{"tach.times", "tach.mark", "tach.speed_channel", "tach.speed_scale"},
              {"tach.channel", "tach.second_channel", "tach.a_leads", "tach.index_channel", "tach.speed_channel",
               "tach.speed_scale"},
              {"tach.channel", "tach.second_channel", "tach.a_leads", "tach.index_channel", "tach.times", "tach.mark",
               "tach.pulses_per_revolution", "tach.edge", "tach.level", "tach.hysteresis"}};
    case FileKind::shaft: return {{"shaft.limit"}, {"shaft.grade"}};
    case FileKind::spins:
      return {{"spin.vector", "spin.amplitude", "spin.speed", "spin.fitted.arc", "spin.fitted.clock"},
              {"spin.recording", "spin.amplitude", "spin.fitted.angle", "spin.fitted.clock"},
              {"spin.recording", "spin.amplitude", "spin.fitted.angle", "spin.fitted.arc"},
              {"spin.recording", "spin.vector", "spin.turned", "spin.fitted.arc", "spin.fitted.clock"}};
    case FileKind::stock: return {{"plane.equal_positions", "plane.first"}, {"plane.positions"}};
    case FileKind::shop: return {{}};
  }
  return {};
}

struct Reader {
  TemporaryFolder folder;
  Reader() {
    write_file(folder / "rig.toml", Composed(FileKind::rig, left_out_of(FileKind::rig)[0]).text);
    write_file(folder / "shaft.toml", Composed(FileKind::shaft, left_out_of(FileKind::shaft)[0]).text);
  }
  void read(FileKind kind, const std::string& text) const {
    const auto path = write_file(folder / "read.toml", text);
    if (kind == FileKind::rig) read_rig(path);
    if (kind == FileKind::shaft) read_shaft(path);
    if (kind == FileKind::stock) read_stock(path, read_shaft(folder / "shaft.toml"));
    if (kind == FileKind::shop) read_shop(path);
    if (kind != FileKind::spins) return;
    if (text.find("[spin.amplitude]") != std::string::npos)
      read_amplitude_spins(path);
    else
      read_spins(path);
  }
};

}  // namespace

TEST_CASE("every key that stands in the table is asked for by a reader, and takes the example that stands there") {
  // A reader refuses each key that it did not ask for, and cannot ask for one that does not stand in the table.
  const auto kind = GENERATE(from_range(std::begin(file_kinds), std::end(file_kinds)));
  const Reader reader;
  Paths written;
  for (const Paths& left_out : left_out_of(kind)) {
    const Composed file(kind, left_out);
    CAPTURE(file.text);
    REQUIRE_NOTHROW(reader.read(kind, file.text));
    written.insert(file.written.begin(), file.written.end());
  }
  for (const FileKey& key : keys_of(kind)) {
    CAPTURE(key.path);
    CHECK(written.contains(key.path));
    CHECK_FALSE(key.effect.empty());
  }
}

TEST_CASE("a key that is misspelt is refused, and the refusal names the command that has every key") {
  const auto kind = GENERATE(from_range(std::begin(file_kinds), std::end(file_kinds)));
  const Reader reader;
  for (const Paths& left_out : left_out_of(kind)) {
    for (const std::string& path : Composed(kind, left_out).written) {
      const FileKey& key = *std::find_if(keys_of(kind).begin(), keys_of(kind).end(),
                                         [&](const FileKey& each) { return each.path == path; });
      if (key.form == Form::table || key.form == Form::tables || key.name() == "*") continue;
      CAPTURE(path);
      try {
        reader.read(kind, Composed(kind, left_out, path).text);
        FAIL("it passed");
      } catch (const Error& error) {
        const std::string for_want_of_it =
            path == "plane.equal_positions" ? "bad_value" : "missing_key";  // 'first' of none
        CHECK((error.code() == "unknown_key" || error.code() == for_want_of_it));
        CHECK(error.remedy().find("counterspot manual " + std::string(about(kind).page)) != std::string::npos);
      }
    }
  }
}

TEST_CASE("the shortest file of each kind is read") {
  const Reader reader;
  write_file(reader.folder / "rig.toml", std::string(about(FileKind::rig).shortest));
  write_file(reader.folder / "shaft.toml", std::string(about(FileKind::shaft).shortest));
  for (const FileKind kind : file_kinds) REQUIRE_NOTHROW(reader.read(kind, std::string(about(kind).shortest)));
}

TEST_CASE("what a file leaves out is what a program gets that states nothing") {
  const Reader reader;
  const Rig rig = read_rig_text(
      std::string(about(FileKind::rig).shortest) + "[setting]\n[qualification]\nsmallest_residual = \"80 g·mm\"\n", "");
  const SettingUncertainty setting;
  CHECK(rig.setting.mass_fraction == Approx(setting.mass_fraction));
  CHECK(rig.setting.angle_rad == Approx(setting.angle_rad));
  CHECK(rig.setting.turned_rad == Approx(setting.turned_rad));
  CHECK(rig.setting.repeat_fraction == Approx(setting.repeat_fraction));
  const RigClaims claims;
  CHECK(rig.claims->reduction == Approx(claims.reduction));
  CHECK(rig.claims->sensor_change == Approx(claims.sensor_change));
  CHECK(rig.claims->cross_talk == Approx(claims.cross_talk));
  CHECK(rig.claims->speed_effect == Approx(claims.speed_effect));
  CHECK(rig.claims->adapters_over_umar == Approx(claims.adapters_over_umar));
  CHECK(rig.claims->every_s == Approx(claims.every_s));
  CHECK(rig.sensors[0].full_scale_V == Approx(Sensor().full_scale_V));
  CHECK(rig.sensors[0].ac_coupling_uncertainty == Approx(Sensor().ac_coupling_uncertainty));
  CHECK(rig.sensors[0].mounting_uncertainty_rad == Approx(Sensor().mounting_uncertainty_rad).margin(1e-12));
  CHECK(rig.tach.pulses_per_revolution == TachSetup().pulses_per_revolution);
  CHECK(rig.tach.edge == TachSetup().edge);
  const Stock stock = read_stock(
      write_file(reader.folder / "stock.toml", "[[piece]]\nname = \"w\"\nmass = \"5 g\"\n[[plane]]\nname = \"A\"\n"),
      read_shaft_text(std::string(about(FileKind::shaft).shortest), ""));
  CHECK(stock.rules.at("A").most_pieces == PlaneRules().most_pieces);
  CHECK(stock.rules.at("A").closed == PlaneRules().closed);
  CHECK(stock.kinds[0].radius_offset_m == Approx(StockKind().radius_offset_m).margin(1e-12));
}
