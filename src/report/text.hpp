#pragma once

#include <fmt/format.h>

#include <exception>
#include <string>
#include <vector>

#include "counterspot/drawing/words.hpp"
#include "counterspot/job/job.hpp"
#include "counterspot/placement/shop_words.hpp"
#include "counterspot/shaft/trial.hpp"
#include "counterspot/units/error.hpp"
#include "counterspot/units/said.hpp"

namespace counterspot {

/// The sentences that commands and page share.

/// A text of a language's tables with numbers, names and other texts put in for each {}.
template <typename... Parts>
std::string say(const char* text, const Parts&... parts) {
  return fmt::format(fmt::runtime(text), parts...);
}

/// What is wrong and how to mend it, where there is only one line.
Said sentence_of(const Error& error);
Said sentence_of(const std::exception& fault);  ///< of what is no Error: a fault of the program

/// "4.82 mm/s at 52.9 deg".
std::string text_of(const SensorReading& reading, const Words& words = english());

/// "37 mm by tape against rotation from the mark, shaft angle 138.4 deg"; "at the mark" where the tape reads nothing.
std::string tape_and_angle_text(const Spot& spot, UnitSystem units, const Words& words = english());
/// The same after the clock: "4:37, 37 mm by tape …".
std::string spot_text(const Spot& spot, UnitSystem units);

/// Why a trial weight has its mass, on its own: "changes the reading by 30 %".
std::string rule_text(TrialRule rule, const Words& words);

/// A warning, or what to do about it: English as it was said; another language says what is meant by its code, of which
/// sensors (the tach is none), and with which figures. What has no code that is known stays as it was said.
std::string meaning_text(std::string_view code, const std::string& said, const std::vector<std::string>& sensors,
                         const Words& words);
std::string meaning_text(const Warning& warning, const Words& words);
std::string remedy_text(std::string_view code, const std::string& said, const Words& words);
/// A warning as a whole: what it means for the answer, what was noticed, what to do. A note is only what was noticed.
std::string warning_text(const Warning& warning, const Words& words);

/// The figures of a sentence, "24.2 and 50.0 Hz; 1622 rpm", in the words of a language.
std::string figures_text(const std::string& said, const Words& words);

/// What is refused: English as it was said; another language says by its code what is meant, and where, with the names
/// and figures.
std::string refusal_text(const Error& error, const Words& words);

/// "spins 'as found', 'trial at A': "; empty if it is of none in particular.
std::string spins_text(const std::vector<std::string>& spins, const Words& words);

/// What was noticed, gathered, a line each: "warning: …" what asks for something, the gravest first, and at the end
/// "note: …" in short what does not.
/// @param spins the labels of all spins, where it is known which there are.
std::vector<std::string> lines_of(const Warnings& warnings, const Words& words,
                                  const std::vector<std::string>& spins = {});
/// Of what was said when a spin was kept; a code of another version of the program stays as it was said.
std::vector<std::string> lines_of(const std::vector<SaidWarning>& warnings, const Words& words);
Warnings warnings_of(const std::vector<SaidWarning>& said);

/// What was noticed at spins, gathered over all of them.
struct NoticedAt {
  std::string spin;
  std::vector<SaidWarning> warnings;
};
std::vector<std::string> lines_of(const std::vector<NoticedAt>& spins, const Words& words);

/// Shown once wherever a weight or a spin is asked for.
std::string cautions(const Words& words = english());

}  // namespace counterspot
