#pragma once

#include <string>
#include <vector>

#include "files/file_keys.hpp"
#include "report/json.hpp"

namespace counterspot {

/// A table of a file with the keys that are values, or that are written in one line.
struct KeySection {
  std::string head;                ///< "[tach]"; empty: keys above all tables
  const FileKey* table = nullptr;  ///< null if there is no head
  std::vector<const FileKey*> keys;
};
std::vector<KeySection> sections_of(FileKind kind);

/// "a length above 0 (mm, m, …); needed", "…; 1 V if left out", "…; if left out: found from the signal".
std::string terms_of(const FileKey& key, const Saying& said = in_english);

/// "The file of the rig: which way it turns, …."
std::string does_of(FileKind kind, const Saying& said);

/// All keys of a file in Markdown that reads well as it stands. What is typed stays as it is typed.
std::string reference_text(FileKind kind, const Saying& said = in_english);

/// The same for editors: JSON Schema, draft 2020-12, of the TOML file's values. It knows what each key takes; what goes
/// with what, as 'channel' or 'times', is left to the reader.
Json schema_of(FileKind kind);

}  // namespace counterspot
