#pragma once

#include <optional>
#include <string>
#include <vector>

#include "console/job_session.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "report/rig_model.hpp"

namespace counterspot {

/// What the page shows, in words. Nothing here decides anything.

/// Adds to `screen` what an operator reads: the instruction, the one number, pieces to fit with mass, clock position
/// and tape, the band of speed, the residual against its limit, cautions.
void add_words(Json& screen, const KnownJob& known, const SpinRequest& request, const Viewer& viewer);

/// A piece that is to be fitted or is on: mass, place, and where its face is drawn. @param way of the stock, as
/// `ways_of` names it; empty: of the step.
Json piece_words(const FittedWeight& piece, const KnownJob& known, Base base, const Viewer& viewer,
                 const std::string& way = "");

/// The same without its picture. @param speed_rad_s at which it pulls; empty: not known.
Json piece_at(const FittedWeight& piece, const Rig& rig, const Shaft& shaft, const std::optional<double>& speed_rad_s,
              const Viewer& viewer);
/// The speed that is wanted, and the one that is safe.
Json band_words(const SpinRequest& request, const Viewer& viewer);
std::string caution_words(const Viewer& viewer);
/// What was noticed in a spin and asks for something, the gravest first.
Json noticed_words(const std::vector<SaidWarning>& said, const Viewer& viewer);

Json words_of(const JobOverview& line, const Viewer& viewer);
Json words_of(const Job& job, const Viewer& viewer);
Json words_of(const std::vector<TrendGroup>& trend, const Viewer& viewer);
/// @param advice which speed suits the shaft of the open job, if there is one.
Json words_of(const RigShown& shown, const std::optional<RigPart>& advice, const Viewer& viewer);
Json words_of(const SpinInspection& inspection, const std::string& name, const Viewer& viewer);
Json words_of_health(const RecorderView& live, const Rig& rig, const std::vector<Repeatability>& repeated,
                     const Viewer& viewer);

}  // namespace counterspot
