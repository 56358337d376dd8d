#pragma once

#include <string>
#include <vector>

namespace counterspot {

inline constexpr const char* archive_creator = "Counterspot";

/// What a PDF says of itself, beside what is drawn.
struct ArchiveFacts {
  std::string title;
  std::string description;           ///< empty: none
  std::string language;              ///< ISO 639-1; empty: not said
  std::string time;                  ///< "2026-11-29T13:05:00Z", of making and of the last change
  std::vector<std::string> figures;  ///< of every figure, in the order of the tags: what it shows
};

/// Adds to a PDF, as Cairo 1.16 or later writes it, what makes it one for the archive, PDF/A-2 of level U (ISO
/// 19005-2): metadata as XMP (6.6.2), the colour space of the output (6.2.3), an identifier (6.1.3); and the words of
/// figures and the language. As an incremental update (ISO 32000-1, 7.5.6), so that nothing that Cairo wrote is moved.
void make_archive(std::string& pdf, const ArchiveFacts& facts);

}  // namespace counterspot
