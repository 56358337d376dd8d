#pragma once

#include "console/job_session.hpp"

namespace counterspot {

/// What the page shows of work on the rig, in words. Nothing here decides anything.

/// One instruction, in the form that a job's has at the page. @param on the masses for its spin are on.
Json words_of(const RigWork& work, const SpinRequest& request, bool on, const Viewer& viewer);

/// The daily check by knocks in the same form. @param recorded pedestals, 0 to 2; @param found once both were.
Json words_of_knocks(std::size_t recorded, bool recording, const std::optional<FoundOrAgain<TapCheck>>& found,
                     const Rig& rig, const Viewer& viewer);

/// What writing the sensitivities that a recalibration found would change in the rig's file, from one text to the
/// other; `written`: nothing any more.
Json words_of_writing(const RigWork& work, const Rig& rig, const std::string& before, const std::string& after,
                      const Viewer& viewer);
/// Why they cannot be written.
Json words_of_unwritten(const RigWork& work, const Error& error, const Viewer& viewer);

/// How the rig stands: sentences, and what keeps its shafts from being within.
Json words_of(const Log& log, const Rig& rig, const Viewer& viewer);

}  // namespace counterspot
