#pragma once

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cstdlib>

#include "counterspot/guide/guide.hpp"
#include "counterspot/log/log.hpp"
#include "support.hpp"

namespace counterspot::test {

inline constexpr std::int64_t opened = 1764162000;  // 2025-11-26 13:00 UTC

inline std::string story_rig_text() {
  return "[rig]\nname = \"bay 2\"\nrotation = \"counter-clockwise\"\nviewing_end = \"A\"\n[tach]\nchannel = 4\n"
         "[[sensor]]\nname = \"A\"\nchannel = 1\nsensitivity = \"20 mV/(mm/s)\"\n"
         "[[sensor]]\nname = \"M\"\nchannel = 2\nsensitivity = \"20 mV/(mm/s)\"\n"
         "[[sensor]]\nname = \"B\"\nchannel = 3\nsensitivity = \"20 mV/(mm/s)\"\n";
}

inline std::string story_shaft_text(const std::string& id, int planes, const std::string& more = "") {
  std::string text = fmt::format(
      "[shaft]\nid = \"{}\"\nmass = \"14.6 kg\"\nservice_speed = \"3200 rpm\"\ngrade = "
      "\"G16\"\n[tube]\noutside_diameter = "
      "\"76.2 mm\"\nwall = \"2.1 mm\"\nlength = \"1.42 m\"\n[supports]\nA = \"0 mm\"\nB = \"1500 mm\"\n",
      id);
  for (int p = 0; p < planes; ++p) {
    text += fmt::format("[[plane]]\nname = \"{}\"\nposition = \"{} mm\"\nradius = \"39 mm\"\n",
                        planes == 2 ? "AB"[p] : "AMB"[p], 70 + 1360 * p / (planes - 1));
  }
  return text + more;
}

/// A shaft that is spun on a rig of known coefficients, in the log.
struct Story {
  TemporaryFolder folder;
  Log log = Log::open((folder / "shop.db").string(), true);
  Job job;
  std::vector<Phasor> unbalance;
  double u = 2e-5;  // of a reading, m/s; 0: not known
  std::int64_t now = opened;

  Story(const std::string& id, int planes, double u_reading = 2e-5, const std::string& more = "")
      : job(log.open_job({"rig.toml", story_rig_text(), "shaft.toml", story_shaft_text(id, planes, more),
                          "counterspot 0.1.0", opened})),
        u(u_reading) {
    for (int p = 0; p < planes; ++p)
      unbalance.push_back(phasor_at((900.0 - 250.0 * p) * 1e-6, radians(40.0 + 110.0 * p)));
  }

  void spin(const std::string& label, bool recorded = true, std::vector<SaidWarning> warnings = {}) {
    const JobState state = state_of(job.events);
    std::vector<Phasor> now_on = unbalance;
    for (const FittedWeight& weight : state.on_shaft)
      now_on[static_cast<std::size_t>(weight.plane)] += weight.unbalance_kg_m();
    Spun spun;
    spun.label = label;
    spun.warnings = std::move(warnings);
    spun.speed_rad_s = rad_per_s(1622.0 + 0.1 * static_cast<double>(state.spins.size()));
    for (int s = 0; s < 3; ++s) {
      Phasor z = 0.0;
      for (std::size_t p = 0; p < now_on.size(); ++p)
        z += phasor_at(p == static_cast<std::size_t>(s) ? 20.0 : 3.0 + s, 0.3 * s + 0.2) * now_on[p];
      z += phasor_at(0.3 * u, 1.7 * static_cast<double>(state.spins.size() + 3U * s));
      spun.readings.push_back({std::string(1, "AMB"[s]), Motion::velocity, z, u * u * Eigen::Matrix2d::Identity()});
    }
    if (recorded) {
      spun.recording = fmt::format("/shop/runs/{:02}-{}.wav", state.spins.size(), label);
      spun.sha256 =
          fmt::format("{0:016x}{0:016x}{0:016x}{0:016x}", 0x0123456789abcdefULL * (2 * state.spins.size() + 1));
    }
    spun.finding = finding_with(log, job, spun);
    job = log.append(job, spun, "counterspot 0.1.0", now += 60);
  }
  void fit(std::vector<FittedWeight> pieces) {
    job = log.append(job, Fitted{std::move(pieces)}, "counterspot 0.1.0", now += 60);
  }
  void close() { job = log.append(job, closing_of(known_job(log, job), ""), "counterspot 0.1.0", now += 60); }

  /// As found, a trial weight in each plane, the correction set a little off, verified.
  void usual() {
    spin("as found");
    for (int p = 0; p < static_cast<int>(unbalance.size()); ++p) {
      fit({{p, 0.015, 0.039, 0.0}});
      spin("trial " + std::to_string(p + 1));
    }
    std::vector<FittedWeight> pieces;
    for (int p = 0; p < static_cast<int>(unbalance.size()); ++p) {
      const Phasor wanted = -0.95 * unbalance[static_cast<std::size_t>(p)] / 0.039;
      pieces.push_back({p, std::abs(wanted), 0.039, wrap_positive(std::arg(wanted))});
    }
    fit(pieces);
    spin("corrected");
    close();
  }

  Ran sheet(const std::string& file, std::vector<std::string> more = {}) const {
    more.insert(more.begin(),
                {"sheet", job.name, "--log", (folder / "shop.db").string(), "--out", (folder / file).string()});
    return run_program(more, "/dev/null", folder.path());
  }
  std::string out_of(const std::string& command) const {
    REQUIRE(std::system(fmt::format("cd '{}' && {} > said 2> trouble", folder.path().string(), command).c_str()) == 0);
    return read_file(folder / "said");
  }
  std::string text_of_sheet(std::vector<std::string> more = {}) const {
    const Ran ran = sheet("sheet.pdf", std::move(more));
    CAPTURE(ran.err);
    REQUIRE(ran.exit_code == 0);
    return out_of("pdftotext -layout sheet.pdf -");
  }
};

}  // namespace counterspot::test
