#include <algorithm>
#include <chrono>
#include <cmath>
#include <condition_variable>
#include <filesystem>
#include <mutex>
#include <thread>
#include <utility>

#include "counterspot/guide/doctor.hpp"
#include "counterspot/recording/inspection.hpp"

namespace counterspot {

namespace {

constexpr double at_the_end = 0.99;  // of full scale, as the checks of a recording have it
constexpr double no_signal = 1e-6;   // of full scale, likewise
constexpr double waits_s = 3.0;      // beyond the time that is listened, for a source that begins slowly

/// A source that gives nothing would be waited for without end.
class StopsAfter {
 public:
  StopsAfter(LiveRecording& live, double seconds)
      : thread_([this, &live, seconds](const std::stop_token& stop) {
          std::unique_lock lock(mutex_);
          if (!changed_.wait_for(lock, stop, std::chrono::duration<double>(seconds), [] { return false; }) &&
              !stop.stop_requested())
            live.stop();
        }) {}

 private:
  std::mutex mutex_;
  std::condition_variable_any changed_;
  std::jthread thread_;  // last: ends before what it uses
};

struct Heard {
  RecordingInfo info;
  std::vector<ChannelStatistics> channels;
  std::int64_t frames = 0;
  std::int64_t overruns = 0;
};

Heard listen(const std::string& source, const LiveOptions& options, double seconds) {
  auto opened = open_live(source, options);
  LiveRecording& live = *opened;
  InspectedRecording inspected(std::move(opened));
  {
    const StopsAfter watch(live, seconds + waits_s);
    const auto wanted = static_cast<std::int64_t>(seconds * live.info().sample_rate_Hz);
    while (inspected.frames() < wanted && !inspected.next(4096).empty()) {
    }
  }
  live.stop();
  return {live.info(), inspected.channels(), inspected.frames(), live.overrun_count()};
}

Said level_of(const ChannelStatistics& channel, bool full_scale) {
  const double most = std::max(std::abs(channel.min), std::abs(channel.max));
  return full_scale ? said({"{:.2g} % of full scale at most", "höchstens {:.2g} % der Vollaussteuerung"}, 100.0 * most)
                    : said({"from {:.4g} to {:.4g}", "von {:.4g} bis {:.4g}"}, channel.min, channel.max);
}

Examined sensor_as_heard(const Heard& heard, const Sensor& sensor) {
  const std::size_t index = find_channel(heard.info, sensor.channel, "sensor " + sensor.name);
  const ChannelStatistics& channel = heard.channels[index];
  const double most = std::max(std::abs(channel.min), std::abs(channel.max));
  const Said which = said({"sensor {}, channel {}", "Aufnehmer {}, Kanal {}"}, sensor.name, index + 1);
  if (channel.not_finite > 0)
    return {"source", Health::to_mend,
            said({"{}: what it gives is not a number", "{}: was er gibt, ist keine Zahl"}, which),
            said({"look at converter and driver, and at --format", "Wandler und Treiber ansehen, und --format"})};
  if (!(channel.max > channel.min) || (heard.info.full_scale && most < no_signal))
    return {"source", Health::to_mend, said({"{}: there is no signal", "{}: es kommt kein Signal"}, which),
            said({"check cable, supply and the channel number in the rig's file",
                  "Kabel, Versorgung und die Kanalnummer in der Datei der Auswuchtbank prüfen"})};
  if (heard.info.full_scale && most >= at_the_end)
    return {
        "source", Health::to_mend,
        said({"{}: it reaches the end of the converter's range", "{}: er erreicht das Ende des Messbereichs"}, which),
        said({"lower the gain, and look again", "Die Verstärkung verringern und nochmals nachsehen"})};
  return {"source", Health::well, said({"{}: {}", "{}: {}"}, which, level_of(channel, heard.info.full_scale)), {}};
}

std::vector<Examined> channels_as_heard(const Heard& heard, const std::optional<Rig>& rig) {
  std::vector<Examined> all;
  if (!rig) {
    for (std::size_t c = 0; c < heard.channels.size(); ++c)
      all.push_back(
          {"source",
           Health::well,
           said({"channel {}: {}", "Kanal {}: {}"}, c + 1, level_of(heard.channels[c], heard.info.full_scale)),
           {}});
    return all;
  }
  const auto examine = [&](const auto& look) {
    try {
      all.push_back(look());
    } catch (const Error& error) {
      all.push_back({"source", Health::to_mend, {}, {}, error});
    }
  };
  for (const Sensor& sensor : rig->sensors) examine([&] { return sensor_as_heard(heard, sensor); });
  // Where the shaft stands a tach shows no change, and its pulses may fill the range: neither is a fault.
  examine([&] {
    const auto index = find_tach_channel(heard.info, rig->tach);
    if (!index)
      return Examined{
          "source", Health::noted, said({"the tach is no channel", "der Drehzahlgeber ist kein Kanal"}), {}};
    return Examined{"source",
                    Health::well,
                    said({"tach, channel {}: {}", "Drehzahlgeber, Kanal {}: {}"}, *index + 1,
                         level_of(heard.channels[*index], heard.info.full_scale)),
                    {}};
  });
  return all;
}

}  // namespace

std::vector<Examined> examine_source(const std::string& source, const LiveOptions& options,
                                     const std::optional<Rig>& rig, double seconds) {
  std::error_code unseen;
  if (source == "-" || std::filesystem::is_fifo(source, unseen))
    return {{"source",
             Health::noted,
             said({"{}: a pipe is not listened to, for what is taken from it is gone",
                   "{}: in eine Pipe wird nicht hineingehört, denn was ihr entnommen wird, ist fort"},
                  source),
             {}}};
  try {
    const Heard heard = listen(source, options, seconds);
    if (heard.frames == 0)
      return {{"source", Health::to_mend, said({"{} gives no samples", "{} gibt keine Abtastwerte"}, source),
               said({"see that the recorder runs, and that its cable and supply are in",
                     "Nachsehen, ob der Rekorder läuft, und ob Kabel und Versorgung stecken"})}};
    std::vector<Examined> all = {{"source",
                                  Health::well,
                                  said({"{}: {} channels at {:.10g} Hz", "{}: {} Kanäle mit {:.10g} Hz"}, source,
                                       heard.channels.size(), heard.info.sample_rate_Hz),
                                  {}}};
    if (heard.overruns > 0)
      all.push_back(
          {"source", Health::to_mend,
           said({"samples were lost while it was listened to", "beim Hineinhören gingen Abtastwerte verloren"}),
           said({"end other work on this machine, and look again",
                 "Andere Arbeit auf diesem Rechner beenden und nochmals nachsehen"})});
    for (Examined& each : channels_as_heard(heard, rig)) all.push_back(std::move(each));
    return all;
  } catch (const Error& error) {
    return {{"source", Health::to_mend, {}, {}, error}};
  }
}

}  // namespace counterspot
