#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "counterspot/drawing/drawing_job.hpp"
#include "counterspot/drawing/words.hpp"
#include "counterspot/files/work_order.hpp"
#include "counterspot/job/job.hpp"
#include "counterspot/log/log.hpp"

namespace counterspot {

/// The balance sheet: for the customer and the file, to be signed. First what is on it, without a language or a layout;
/// then the same as pages, as HTML, as JSON.

/// What a place was out of balance by as found. `angle_rad`, here and below, is where the heavy spot is, a shaft angle;
/// empty where it is not known, or the unbalance is smaller than its ±.
struct SheetAsFound {
  double unbalance_kg_m = 0.0;
  double u_kg_m = 0.0;  ///< 0: not known
  std::optional<double> angle_rad;
};

/// One place that is held against a limit.
struct SheetPlace {
  Held held;  ///< an uncertainty of 0: not known
  std::optional<SheetAsFound> as_found = {};
  std::optional<double> angle_rad = {};
};

/// When the rig was last proved before the sheet's date, and what it reached then.
struct SheetQualification {
  std::int64_t at_unix_s = 0;
  std::string reference_shaft;
  std::array<double, 2> umar_kg_m{};  ///< smallest achievable residual unbalance at A and B
};

/// One weight that is on the shaft and was not there as found.
struct SheetPiece {
  int number = 0;  ///< its row, and its balloon on the face
  std::string plane;
  FittedWeight weight;
  Spot spot;
};

struct SheetSpin {
  int number = 0;  ///< 1, 2, 3, … of those that count
  std::string label;
  std::optional<double> speed_rad_s;
  std::string file;    ///< its name without folders; empty: typed in
  std::string sha256;  ///< empty: typed in, or from a pipe
};

/// A reason that a person gave, or a warning.
struct SheetNote {
  std::string said;    ///< as it was said then, warnings in English
  std::string code;    ///< of a warning; empty: a person's words
  std::string sensor;  ///< or "tach"; empty: of the whole spin
};

struct Sheet {
  std::string job;
  std::string program;  ///< that wrote the job's last entry
  std::int64_t opened_unix_s = 0;
  std::optional<std::int64_t> closed_unix_s;
  std::int64_t date_unix_s = 0;  ///< of the last entry
  WorkOrder order;
  Rig rig;
  Shaft shaft;
  std::optional<SheetQualification> qualification;  ///< empty also if no log was asked
  std::optional<double> balancing_speed_rad_s;
  Limits limits;
  std::optional<Verdict> verdict;  ///< of the close, or of the last spin of an open job; empty: no final residual
  bool used_prior = false;
  int rig_taught_by = 0;  ///< earlier shafts that had taught the rig what the weights fitted last were found with
  int brought_in = 0;     ///< of them, those that another log told of
  std::vector<SaidReason> held_back;  ///< what speaks against the readings that the verdict rests on
  std::vector<SheetPlace> places;
  std::vector<SheetPiece> pieces;
  std::vector<SheetPiece> trials;  ///< what some spin carried and is off again
  std::vector<SheetSpin> spins;
  bool trials_on = false;               ///< trial weights are on, so that there are two choices of what to fit next
  std::vector<SheetPiece> to_fit_bare;  ///< the first, with them off; of an open job that is not within its limits
  std::vector<SheetPiece> to_fit;       ///< the other, on top of `pieces`
  int taken_back = 0;
  std::vector<SheetNote> notes;
  int entries = 0;                ///< of the job
  std::string seal;               ///< of the last one; empty: the job is of no log
  std::vector<Event> signatures;  ///< of the closed job as it is
  std::vector<Event> ordered_after_close;
  std::optional<LogLink> link;  ///< of the last one, if the log was asked
  std::vector<ClockFace> faces;
  std::vector<VectorDiagram> diagrams;
};

/// What the log says of a job. Nothing is measured anew: residuals, uncertainties and verdicts are those that were
/// kept. What was found first is α⁺ Z_0 of the job's own spins, or, if only earlier shafts had coefficients, what was
/// kept then.
Sheet sheet_of(const Job& job, UnitSystem units = UnitSystem::metric);
/// The same, with the job's place in the log. @throws what `Log::job` does.
Sheet sheet_of(const Log& log, const std::string& job, UnitSystem units = UnitSystem::metric);
/// The rig's last qualification that it passed, at that time; empty if the log knows of none.
std::optional<SheetQualification> qualification_before(const Log& log, const std::string& rig, std::int64_t unix_s);

enum class Paper { a4, letter };

/// The pages, in millimetres, as many as it needs, each with the margins of a drawing (ISO 5457: 20 mm to file it, 10
/// mm elsewhere) and a title block at its foot (after ISO 7200) to be signed. Draw them with the sheet's date.
std::vector<Picture> sheet_pages(const Sheet& sheet, const Words& words = english(),
                                 UnitSystem units = UnitSystem::metric, Paper paper = Paper::a4);

/// The bytes of the pages as one file: a PDF has them one by one, an SVG or a PNG one below another.
std::string sheet_file(const Sheet& sheet, PictureFormat format, const Words& words = english(),
                       UnitSystem units = UnitSystem::metric, Paper paper = Paper::a4);

/// The same for a browser: one file, pictures within.
std::string sheet_html(const Sheet& sheet, const Words& words = english(), UnitSystem units = UnitSystem::metric);

/// What a sheet's JSON says of its own keys: a number that grows when one is added (sheet/verify.cpp).
inline constexpr int sheet_form = 4;

/// The same for a program: one document; keys end in their unit.
std::string sheet_json(const Sheet& sheet);

}  // namespace counterspot
