#pragma once

#include <functional>
#include <limits>
#include <string>
#include <string_view>
#include <vector>

#include "counterspot/units/units.hpp"

namespace counterspot {

/// The files a person writes.
enum class FileKind { rig, shaft, spins, stock, shop };
inline constexpr FileKind file_kinds[] = {FileKind::rig, FileKind::shaft, FileKind::spins, FileKind::stock,
                                          FileKind::shop};

/// How a value is written.
enum class Form {
  table,        ///< `[key]`, or `key = { … }`
  tables,       ///< `[[key]]`, or `key = [ { … }, … ]`
  text,         ///< in quotes
  choice,       ///< one of a few words, in quotes
  whole,        ///< a whole number, without quotes
  yes_or_no,    ///< true or false
  quantity,     ///< a number with its unit, in quotes
  place,        ///< an angle with its unit, or a clock position: "3:00"
  quantities,   ///< a list of them
  known_size,   ///< a quantity with what it is unsure by: "4.5 kg ± 0.5 kg"
  bead,         ///< a mass, or a share in percent
  level,        ///< a voltage, or a number in a column's own unit
  channel,      ///< a number from 1, or a column's name
  sensitivity,  ///< "100 mV/g"
  vector,       ///< "6.0 mm/s @ 35 deg ± 0.1 mm/s"
  amplitude,    ///< "6.0 mm/s ± 0.1 mm/s"
};

/// Of a number, or of a quantity in SI.
struct Range {
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
  bool open = false;  ///< the ends do not belong to it
  bool holds(double value) const;
};

/// One key of a file. The readers ask by this table, and manuals, schemas and refusals are made from it.
struct FileKey {
  std::string_view path;  ///< "tach.edge"; "*" stands for names that people give: "shaft.limit.*"
  Form form = Form::text;
  Dimension dimension = Dimension::fraction;  ///< of what is a quantity
  Range range = {};
  std::vector<std::string_view> choices = {};  ///< of a choice; of "*": the names there are, if they are fixed
  bool needed = false;
  std::string_view standard = {};  ///< what is taken where the key is left out, as it would be typed
  std::string_view absent = {};    ///< or what is done then, in words
  std::string_view example = {};   ///< as typed, without the quotes of a text
  std::string_view effect = {};

  std::string_view name() const;  ///< the last part of the path
  std::string value() const;      ///< the example as it stands behind `=`
  std::string written() const;    ///< and with its key: `edge = "rising"`, `[tach]`
};

/// What a file is called, what it is for, and the shortest that is any use.
struct FileAbout {
  std::string_view page;  ///< "rig-file": what `counterspot manual` takes
  std::string_view file;  ///< "rig.toml": what it is called in every example
  std::string_view does;
  std::string_view shortest;
};
const FileAbout& about(FileKind kind);

/// All keys of a file, tables before what is in them.
const std::vector<FileKey>& keys_of(FileKind kind);
/// The line of `name` in the table `within` ("" for the file itself); null if there is none.
const FileKey* find_key(FileKind kind, std::string_view within, std::string_view name);
/// The keys right in a table, and of these the needed ones by name: "name, rotation, viewing_end".
std::vector<const FileKey*> keys_within(FileKind kind, std::string_view within);
std::string needed_within(FileKind kind, std::string_view within);

/// What is said for a phrase of a file's manual in the language of who reads it; {} in a phrase is filled afterwards.
using Saying = std::function<std::string_view(std::string_view phrase)>;
std::string_view in_english(std::string_view phrase);  ///< as it stands

/// "a length above 0 (mm, m, …)".
std::string form_text(const FileKey& key, const Saying& said);
std::string range_text(const FileKey& key);  ///< "must be more than 0"; empty if all is taken

}  // namespace counterspot
