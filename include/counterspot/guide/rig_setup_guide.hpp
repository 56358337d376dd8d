#pragma once

#include <filesystem>
#include <vector>

#include "counterspot/recording/capture.hpp"
#include "counterspot/rig_setup/setup.hpp"

namespace counterspot {

/// A rig that is being set up, on the disk: what was told lies beside the rig file that is to be, "rig.setup.json", and
/// its recordings beside it too. Command and page take this one way, so that either goes on where the other stopped.

/// Nothing told yet, if nothing is there. @throws Error(request, "bad_kept").
SetupTold setup_beside(const std::filesystem::path& rig_file);
void keep_setup(const std::filesystem::path& rig_file, const SetupTold& told,
                const std::vector<std::filesystem::path>& read = {});

/// What is typed takes the place of what was; an empty word leaves it. @throws Error(request, …) for what cannot be
/// read.
void add_typed(SetupTold& told, const SetupTold& typed);
/// These steps are asked for again.
void ask_again(SetupTold& told, const std::vector<SetupStep>& steps);
/// Takes an optional step back, asked for or recorded. @throws Error(request, "not_optional") for another.
void do_without(SetupTold& told, const std::vector<SetupStep>& steps);
/// How its source is opened. @throws Error(request, …) for what cannot be read.
LiveOptions live_options_of(const SetupTold& told);
/// Recordings are made from there now; what comes once, as from standard input, is not kept. @return whether another
/// source was kept before.
bool record_from(SetupTold& told, const std::string& source, const LiveOptions& options);
/// The shop's defaults beside a rig file that was written: the rig and its source, and, where nothing is stated of
/// them, folders for shafts and spins and a log. @throws Error(request, …) for a shop file that is wrong.
void keep_as_shops(const std::filesystem::path& rig_file, const SetupTold& told);
/// This recording shows that step. @throws Error(request, "not_asked") of the direction, which no recording shows.
void add_setup_recording(SetupTold& told, SetupStep step, const std::filesystem::path& file);
/// A name that is free, beside the rig file: "rig.knocks-a-2.w64".
std::filesystem::path next_setup_recording(const std::filesystem::path& rig_file, SetupStep step, bool full_scale);

SetupStanding standing_of(const SetupTold& told);

/// The rig file, if the proof held; what is there already and says the same, in either language, stays. One that is as
/// it was written last is written over, another only if `replace`. False: there is none to write.
/// @throws as write_output.
bool write_proved(const SetupStanding& standing, SetupTold& told, const std::filesystem::path& rig_file, bool replace,
                  const std::vector<std::filesystem::path>& read = {}, const std::string& language = "en");

}  // namespace counterspot
