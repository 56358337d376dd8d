#pragma once

#include <string>

#include "rigsim/first_day.hpp"
#include "rigsim/scenario.hpp"

namespace rigsim {

/// The simulated rig as a process that runs in real time, or as many times as fast: it reads what the operator did from
/// a small text file, looked at twenty times a second, and writes what the recorder gives, 32-bit samples,
/// little-endian, interleaved.
///
///   drive on            (or off: the shaft coasts to a stop)
///   speed 1620 rpm      (optional; else the scenario's balancing speed)
///   fitted A: 15 g @ 0 deg
///   tach off             (optional: its supply is gone)
///   gain 40              (optional: of the sensors, before the converter)
///   loose A              (optional: the cable of that sensor is off)
///
/// Beside the control file it keeps another, "….truth": what is really out of balance at each plane now.
///
/// What is really on the shaft differs from what the file says as an operator's work does (1 % of mass and 1 deg, one
/// standard deviation; 0.2 % and 0.1 deg of the test masses of a reference shaft, which sit in holes drilled for them),
/// each piece always in the same way. Weights are changed only while the shaft stands.
struct LiveOptions {
  std::string control;    ///< the file; no file is a drive that is off and nothing fitted
  std::string out = "-";  ///< a file, a named pipe, or "-", standard output
  double run_up_s = 3.0;  ///< from rest to speed, and back
  double seconds = 0.0;   ///< stop after this long; 0: go on
  double pace = 1.0;      ///< of the rig's time against the clock
  bool drilled = false;   ///< what is fitted are test masses
  bool wav = false;       ///< with the header of a WAV of open length, 24 bit
  std::uint64_t seed = 1;
};

/// @throws std::runtime_error for a control file that cannot be understood or an output that cannot be written.
void run_live(const Scenario& scenario, const LiveOptions& options);

/// A rig on its first day as such a process. The control file's one line says what its owner does now: "rest",
/// "running", "knocks-a", "knocks-b", "hand", "slow", "bare", "at-a", "at-b", "known", "shaker-a", "shaker-b" as `rig
/// new` calls them; "top", a spin well over the first resonance, and "coast", the way down from it; "spin A: 15 g @ 0
/// deg; B: 9 g @ 84 deg", a balancing spin with these on. What is driven goes on until something else is done, and then
/// runs down; the rest is done once.
void run_first_day(const FirstDay& day, const LiveOptions& options);

}  // namespace rigsim
