#pragma once

#include "counterspot/guide/guide.hpp"
#include "counterspot/guide/rig_guide.hpp"
#include "counterspot/log/quality.hpp"
#include "counterspot/log/recordings.hpp"
#include "counterspot/recording/capture.hpp"
#include "counterspot/rig_setup/setup.hpp"
#include "counterspot/solve/assessment.hpp"
#include "counterspot/solve/no_phase.hpp"
#include "counterspot/solve/solution.hpp"
#include "counterspot/tracking/amplitude_track.hpp"
#include "counterspot/tracking/order_spectrum.hpp"
#include "counterspot/tracking/spin_inspection.hpp"
#include "counterspot/tracking/sweep.hpp"
#include "report/json.hpp"
#include "report/shown.hpp"

namespace counterspot {

/// Results as programs are given them: the same documents for `--json`, the page and the C interface.
Json document_of(const SpinInspection& found);
Json document_of(const Track& track, const Shown& how = {}, bool budget = false);
/// @param file the recording's name.
Json document_of(const AmplitudeTrack& track, const Rig& rig, const std::string& file, const Shown& how = {});
Json document_of(const Sweep& sweep);
Json document_of(const OrderSpectra& spectra);
Json document_of(const SpeedFrequencyMaps& maps);
Json document_of(const Solution& solution, const SpinSet& set);
Json document_of(const AmplitudeSolution& solution, const AmplitudeSet& set);
Json document_of(const Limits& limits);
Json document_of(const Assessment& assessment, const Shaft& shaft);

Json document_of(const KnownJob& known);  ///< the next step of a job
Json document_of_close(const Job& job);   ///< what it was closed with
Json document_of_order(const Job& job);   ///< what is stated of its order now
Json document_of(const RigWork& work);    ///< the next step of work on a rig, or what all spins came to
Json document_of(const RigStanding& standing, const Rig& rig);
/// @param written the rig file, empty while none is.
/// What hands do, what is recorded, and what is typed with it, as far as there is something.
std::string act_of(const SetupInstruction& next, const std::string& language);
Json document_of(const SetupStanding& standing, const SetupTold& told, const std::string& written);

Json document_of(const JobOverview& line);
Json document_of(const TrendGroup& line);
Json document_of(const ControlChart& chart, const std::vector<std::string>& jobs);
Json document_of(const Repeatability& sensor);
Json document_of(const GaugeStudy& study, const std::string& plane);
Json document_of(const CoefficientTrend& trend);

/// What an import brought into a log.
Json document_of(const Imported& imported);

/// @param seen recordings that were compared; @param gone that are no longer there.
Json document_of(const CheckReport& report, const RecordingsCheck& recordings);

/// What is kept beside a recording.
struct RecordingNotes {
  std::string file, source, format;
  double sample_rate_Hz = 0.0;
  std::int64_t frames = 0;
  std::vector<double> channel_peaks;  ///< largest of each channel, as the file has it
  std::vector<Overrun> gaps;
  std::int64_t overruns = 0;
  Warnings warnings;
  std::int64_t ended_unix_s = 0;
  std::string program;

  double duration_s() const { return static_cast<double>(frames) / sample_rate_Hz; }
};
Json document_of(const RecordingNotes& notes);

/// One of many files that cannot be used.
Json document_of(const std::string& file, const Error& error);

/// "well below", "near", "above".
const char* standing_name(SpeedStanding standing);

/// "within", …; "no final spin" of a closed job without one, "open".
std::string outcome_of(const JobOverview& line);

}  // namespace counterspot
