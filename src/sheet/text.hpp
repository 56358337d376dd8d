#pragma once

#include <string>
#include <utility>
#include <vector>

#include "counterspot/sheet/sheet.hpp"

namespace counterspot {

/// What page and HTML say, in words; so that they say the same.

using Row = std::vector<std::string>;
/// A name and a value; an empty value is a line to write on.
using Fact = std::pair<std::string, std::string>;

/// For whom and by whom, then the shaft, then the rig and how it was balanced.
std::vector<Fact> facts_of(const Sheet& sheet, const Words& words, UnitSystem units);

/// The first row names the columns.
std::vector<Row> places_table(const Sheet& sheet, const Words& words, UnitSystem units);
std::vector<Row> pieces_table(const Sheet& sheet, const Words& words, UnitSystem units);

std::string verdict_words(const Sheet& sheet, const Words& words);
/// By which rule, and what is to be known of the numbers: a sentence each.
std::vector<std::string> rule_words(const Sheet& sheet, const Words& words);
/// The weights that some spin carried and that are off again; empty if there are none.
std::string off_again_words(const Sheet& sheet, const Words& words, UnitSystem units);
/// What is to be fitted next first.
std::vector<std::string> notes_of(const Sheet& sheet, const Words& words, UnitSystem units);
/// Cuts a text into lines of so many letters at blanks; a word that is longer is cut. Counts UTF-8 letters.
std::vector<std::string> wrapped(const std::string& text, std::size_t letters);
/// "3 as found  00-as-found.flac"
std::string spin_words(const SheetSpin& spin, const Words& words);
/// By what the job's record and the log before it can be told from altered ones; empty: the job is of no log.
std::string seal_words(const Sheet& sheet, const Words& words);
/// What the whole sheet says, in a sentence: for who cannot see it.
std::string sheet_in_a_sentence(const Sheet& sheet, const Words& words);

}  // namespace counterspot
