#pragma once

#include <string>
#include <string_view>

namespace counterspot {

enum class Verdict;       // tolerance.hpp
struct InstructionWords;  // instruction_words.hpp
struct PictureWords;      // picture_words.hpp
struct RigWords;          // rig_words.hpp
struct CommandWords;      // command_words.hpp

/// Every text of pictures and sheet in one language. Another language is one more file like src/drawing/words_en.cpp,
/// and a line in `words_in`; a text that is left out does not compile. {} is where a number or name goes.
struct Words {
  const char* language;       ///< ISO 639-1
  const char* decimal_point;  ///< "." or ","
  const char* plane;
  const char* seen_from;  ///< "seen from end {}"
  const char* mark;
  const char* turns;  ///< at the arrow of rotation
  const char* with_rotation;
  const char* against_rotation;
  const char* on_shaft;
  const char* to_fit;
  const char* to_remove;
  const char* removed;
  const char* no_weight;
  const char* limit;
  const char* limit_of;  ///< "limit {}"
  const char* spin;
  const char* last_spin;
  const char* as_found;
  const char* larger;    ///< "{} times larger"
  const char* where_95;  ///< "dotted: holds it in 95 of 100 cases"
  const char* straightness;
  const char* along_tube;
  const char* indicator_total;
  const char* high_side;
  const char* press_here;
  const char* speed;
  const char* amplitude;
  const char* peak;
  const char* phase_lag;
  const char* resonance;
  const char* order;
  const char* sensor;
  const char* path_of_vector;
  const char* time;
  const char* tach_edges;
  const char* residual_over_limit;
  const char* job_after_job;
  const char* within;
  const char* outside;
  const char* unsure;
  const char* centre;
  const char* control_limits;
  const char* pedestal;  ///< "pedestal {}"
  const char* pedestals_stiffness;
  const char* spectrum;
  const char* frequency;
  // The sheet.
  const char* sheet_title;
  const char* shaft;
  const char* rig;
  const char* job;
  const char* opened;
  const char* closed;
  const char* not_closed;
  const char* balancing_speed;
  const char* service_speed;
  const char* mass;
  const char* tube;
  const char* grade;
  const char* place;
  const char* support;
  const char* mode;
  const char* as_found_column;
  const char* residual;
  const char* verdict;
  const char* verdict_by;       ///< the rule
  const char* limits_by_grade;  ///< where limits come from: "… {}", the grade
  const char* limits_set_by;    ///< the same of typed ones: "… {}", who set them
  const char* no_final;         ///< closed or open without a final residual
  const char* no_uncertainty;
  const char* pieces;
  const char* no_pieces;
  const char* piece_mass;
  const char* radius;
  const char* clock;
  const char* tape;
  const char* shaft_angle;
  const char* spins;
  const char* of_which_taken_back;  ///< "{} entries taken back"
  const char* said_after_close;     ///< when, the entry, what was said of the order
  const char* notes;
  /// What a warning's code means, in a short sentence; empty if the code is unknown. Null: as it was said (in English).
  std::string_view (*of_warning)(std::string_view code);
  std::string_view (*of_remedy)(std::string_view code);  ///< the same of what to do about it
  const char* remarks;                                   ///< over lines to write on by hand
  const char* recordings;
  const char* typed_in;
  const char* balanced_by;
  const char* inspected_by;
  const char* date_and_signature;
  const char* cautions;
  const char* signed_by;  ///< by whom, when, the code of the key
  const char* seal;       ///< "seal of entry {}: {}"
  const char* link;       ///< "link {} of the log: {}"
  const char* program;    ///< "written by {}"
  const char* page_of;    ///< "page {} of {}"
  const char* at;         ///< over a column of places on the shaft
  const char* customer;
  const char* order_number;
  const char* part;
  const char* serial;
  const char* shop;
  const char* planes_at;  ///< over "A 70 mm, B 1430 mm"
  const char* supports_at;
  const char* rotation;
  const char* clockwise;  ///< "clockwise, seen from end {}"
  const char* counter_clockwise;
  const char* qualified;      ///< over the rig's qualification
  const char* not_qualified;  ///< no qualification in the log
  const char* umar;           ///< "{}, smallest achievable residual", the day, and sizes behind it
  const char* permissible;    ///< over U_per in all
  const char* coefficients;
  const char* own_coefficients;  ///< of this job's trial spins
  const char* fixed_by;
  const char* set_by;     ///< over who set typed limits
  const char* off_again;  ///< over weights that some spin carried
  const char* rpm;        ///< " rpm", with its blank
  const char* degree;     ///< " deg", the same
  const char* used_prior;
  const char* corrected_from_rig;  ///< "… (earlier shafts: {})"
  const char* of_them_brought_in;  ///< "12, of them from another log: ", and the number
  const char* in_doubt;            ///< "in doubt: {}", what holds the verdict back
  const char* ninety_five;         ///< what ± means, and what it holds
  // The rig's qualification.
  const char* small_mass_readings;  ///< "readings of the small test mass over their mean"
  const char* reduction_ratio;
  const char* test_mass_at;
  const char* allowed;
  const char* claimed;
  const char* report_title;
  const char* passed;
  const char* failed;
  const char* passed_of;  ///< "{} of {} passed", where something was not judged
  const char* not_judged;
  const char* judged_item;
  const char* measured;
  const char* reference_shaft;
  const char* begun_and_judged;
  const char* qualify_again_by;
  const char* now_failed;
  const char* spread;  ///< "spread {}": of readings about their mean, of mountings
  const char* judged_by;
  const char* our_rules;
  const char* spins_recorded;                                ///< "{} spins, {} of them recorded; …"
  const char* taken_back_for;                                ///< "a spin was taken back: {}"
  std::string_view (*of_rig_place)(std::string_view place);  ///< an item's name; null: as it is
  std::string_view (*of_rig_fault)(std::string_view place);  ///< what to look at if it failed
  const char* first_qualification;                           ///< why an item was not judged
  const char* does_not_repeat;
  const char* pedestal_not_sensor;
  const char* qualified_by;
  // What is to be fitted next, on the sheet of a job that is open.
  const char* to_fit_bare;    ///< "… trial weights off: {}"
  const char* to_fit_on_top;  ///< "… trial weights left on: {}"
  const char* to_fit_next;    ///< where no trial weight is on: "{}"
  const InstructionWords& (*instruction)();
  const RigWords& (*rig_work)();
  const PictureWords& (*picture)();
  const CommandWords& (*commands)();
};

const Words& english();
const Words& german();

/// @throws Error(request, "no_such_language") that lists the languages there are.
const Words& words_in(std::string_view language);

/// "within".
const char* verdict_text(Verdict verdict, const Words& words);

/// The text with {} replaced.
std::string put_in(const char* text, std::string_view what);

/// "38,4 ± 1,4": as `measured_text` in units/measured.hpp, with the language's decimal sign.
std::string measured_text(double value, double expanded_uncertainty, const Words& words);

/// A text with numbers in English, with the language's decimal sign.
std::string with_decimal_sign(std::string text, const Words& words);

/// A number with the language's decimal sign.
std::string number_text(double value, int decimals, const Words& words);

}  // namespace counterspot
