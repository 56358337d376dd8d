#include <fmt/format.h>
#include <fmt/ranges.h>

#include <array>
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "counterspot/files/files.hpp"
#include "log/database.hpp"
#include "log/query.hpp"

namespace counterspot {

namespace {

using Json = nlohmann::ordered_json;
using soci::into;
using soci::use;

/// A covariance as three columns.
struct Three {
  double re = 0.0, re_im = 0.0, im = 0.0;
  Three() = default;
  explicit Three(const Eigen::Matrix2d& matrix) : re(matrix(0, 0)), re_im(matrix(0, 1)), im(matrix(1, 1)) {}
  Eigen::Matrix2d matrix() const {
    Eigen::Matrix2d full;
    full << re, re_im, re_im, im;
    return full;
  }
};

Error strange(const char* what, const std::string& value) {
  return {Trouble::machine, "log_damaged", fmt::format("the log has '{}' where {} should stand", value, what),
          "run 'log check', and restore the last backup if it finds faults"};
}

Verdict verdict_named(const std::string& name) {
  for (Verdict verdict : {Verdict::within, Verdict::outside, Verdict::unsure}) {
    if (verdict_name(verdict) == name) return verdict;
  }
  throw strange("a verdict", name);
}

Motion motion_named(const std::string& name) {
  for (Motion motion : {Motion::acceleration, Motion::velocity, Motion::displacement}) {
    if (motion_name(motion) == name) return motion;
  }
  throw strange("a kind of motion", name);
}

std::vector<std::string> names_in(const std::string& list) {
  const Json names = Json::parse(list, nullptr, false);
  if (!names.is_array()) throw strange("a list of names", list);
  return names.get<std::vector<std::string>>();
}

/// The same definition is kept once.
RowId rig_row(soci::session& sql, const Job& job, const std::string& name) {
  RowId row = 0;
  sql << "SELECT id FROM rigs WHERE name = :name AND definition = :definition AND file = :file", into(row), use(name),
      use(job.rig_file.text()), use(job.rig_file.path());
  if (sql.got_data()) return row;
  sql << "INSERT INTO rigs (name, file, definition) VALUES (:name, :file, :definition) RETURNING id", into(row),
      use(name), use(job.rig_file.path()), use(job.rig_file.text());
  return row;
}

RowId shaft_row(soci::session& sql, const Job& job) {
  const Shaft& shaft = job.shaft();
  RowId row = 0;
  sql << "SELECT id FROM shafts WHERE shaft = :shaft AND definition = :definition AND file = :file", into(row),
      use(shaft.id), use(job.shaft_file.text()), use(job.shaft_file.path());
  if (sql.got_data()) return row;
  const std::string family = family_of(shaft);
  const int planes = static_cast<int>(shaft.planes.size());
  sql << "INSERT INTO shafts (shaft, family, planes, file, definition) VALUES (:shaft, :family, :planes, :file, "
         ":definition) RETURNING id",
      into(row), use(shaft.id), use(family), use(planes), use(job.shaft_file.path()), use(job.shaft_file.text());
  return row;
}

void insert_finding(soci::session& sql, RowId job, int number, const Finding& finding) {
  std::string verdict(verdict_name(finding.verdict));
  const int used_prior = finding.used_prior ? 1 : 0;
  sql << "INSERT INTO findings VALUES (:job, :number, :verdict, :used_prior)", use(job), use(number), use(verdict),
      use(used_prior);
  int n = 0;
  for (const PlaneFinding& plane : finding.planes) {
    const double re = plane.residual_kg_m.real();
    const double im = plane.residual_kg_m.imag();
    const Three covariance(plane.covariance);
    sql << "INSERT INTO corrections VALUES (:job, :number, :n, :plane, :re, :im, :c1, :c2, :c3, :m, :r, :a, :p)",
        use(job), use(number), use(n), use(plane.plane), use(re), use(im), use(covariance.re), use(covariance.re_im),
        use(covariance.im), use(plane.correction_kg), use(plane.radius_m), use(plane.angle_rad),
        use(plane.predicted_residual_kg_m);
    ++n;
  }
  n = 0;
  for (const Held& held : finding.held) {
    verdict = verdict_name(held.verdict);
    const std::string place = held.place.text();
    sql << "INSERT INTO verdicts VALUES (:job, :number, :n, :place, :residual, :u, :limit, :verdict)", use(job),
        use(number), use(n), use(place), use(held.residual_kg_m), use(held.u_residual_kg_m), use(held.limit_kg_m),
        use(verdict);
    ++n;
  }
  n = 0;
  for (const SaidReason& reason : finding.held_back) {
    const std::string spins = Json(reason.spins).dump();
    const std::string sensors = Json(reason.sensors).dump();
    sql << "INSERT INTO reasons VALUES (:job, :number, :n, :code, :message, :remedy, :spins, :sensors)", use(job),
        use(number), use(n), use(reason.code), use(reason.message), use(reason.remedy), use(spins), use(sensors);
    ++n;
  }
}

/// @param n of the reading in its spin.
void insert_bands(soci::session& sql, RowId job, int number, int n, const std::vector<NoiseBand>& bands) {
  int at = 0;
  for (const NoiseBand& band : bands) {
    sql << "INSERT INTO levels VALUES (:job, :number, :n, :band, :from, :to, :rms, :u)", use(job), use(number), use(n),
        use(at), use(band.from_Hz), use(band.to_Hz), use(band.rms), use(band.u_fraction);
    ++at;
  }
}

void insert_what(soci::session& sql, RowId job, int number, const Spun& spun) {
  const long long revolutions = spun.revolutions;
  sql << "INSERT INTO spins VALUES (:job, :number, :label, :speed, :drift, :turns, :duration, :recording, :sha, "
         ":turned)",
      use(job), use(number), use(spun.label), use(spun.speed_rad_s), use(spun.speed_drift_fraction), use(revolutions),
      use(spun.duration_s), use(spun.recording), use(spun.sha256), use(spun.turned_rad);
  int n = 0;
  for (const SensorReading& reading : spun.readings) {
    const std::string motion(motion_name(reading.motion));
    const double re = reading.value.real();
    const double im = reading.value.imag();
    const Three covariance(reading.covariance);
    const auto step = reading.level.step > 0.0 ? std::optional(reading.level.step) : std::nullopt;
    sql << "INSERT INTO readings VALUES (:job, :number, :n, :sensor, :motion, :re, :im, :c1, :c2, :c3, :step)",
        use(job), use(number), use(n), use(reading.sensor), use(motion), use(re), use(im), use(covariance.re),
        use(covariance.re_im), use(covariance.im), use(step);
    insert_bands(sql, job, number, n, reading.level.bands);
    ++n;
  }
  n = 0;
  for (const SaidWarning& warning : spun.warnings) {
    sql << "INSERT INTO warnings VALUES (:job, :number, :n, :code, :sensor, :message)", use(job), use(number), use(n),
        use(warning.code), use(warning.sensor), use(warning.message);
    ++n;
  }
  if (spun.finding) insert_finding(sql, job, number, *spun.finding);
}

void insert_what(soci::session& sql, RowId job, int number, const Fitted& fitted) {
  int n = 0;
  for (const FittedWeight& piece : fitted.pieces) {
    sql << "INSERT INTO pieces VALUES (:job, :number, :n, :plane, :mass, :radius, :angle)", use(job), use(number),
        use(n), use(piece.plane), use(piece.mass_kg), use(piece.radius_m), use(piece.angle_rad);
    ++n;
  }
}

void insert_what(soci::session& /*sql*/, RowId /*job*/, int /*number*/, const TakenBack& /*all in the entry*/) {}

void insert_what(soci::session& sql, RowId job, int number, const Closed& closed) {
  if (closed.finding) insert_finding(sql, job, number, *closed.finding);
}

/// Jobs that are read together: a question of the log costs a way to the server and back, so one is asked for all.
struct Wanted {
  std::string rows;  ///< "(3, 17, 18)"
  std::map<RowId, Job> jobs;
};

/// The rows of a table that belong to the wanted jobs, those of a job in order; `row` gets the job.
template <typename Bind, typename Row>
void each_row_of_jobs(soci::session& sql, const std::string& columns, const std::string& table,
                      const std::string& order, Wanted& wanted, Bind bind, Row row) {
  RowId job = 0;
  each_row(
      sql, fmt::format("SELECT job, {} FROM {} WHERE job IN {} ORDER BY {}", columns, table, wanted.rows, order),
      [&](soci::statement& statement) {
        statement.exchange(into(job));
        bind(statement);
      },
      [&] { row(wanted.jobs.at(job)); });
}

Spun& spun_of(Job& job, int number) {
  return std::get<Spun>(job.events.at(static_cast<std::size_t>(number - 1)).what);
}

std::optional<Finding>& finding_of_entry(Job& job, int number) {
  What& what = job.events.at(static_cast<std::size_t>(number - 1)).what;
  if (auto* closed = std::get_if<Closed>(&what)) return closed->finding;
  return std::get<Spun>(what).finding;
}

What what_of_kind(const std::string& kind, std::optional<int> other, const std::string& reason) {
  if (kind == "spin") return Spun{};
  if (kind == "fit") return Fitted{};
  if (kind == "take back") return TakenBack{other.value_or(0), reason};
  if (kind == "close") return Closed{other, std::nullopt, reason};
  throw strange("the kind of an entry", kind);
}

void load_entries(soci::session& sql, Wanted& wanted) {
  int number = 0;
  std::string kind;
  long long at = 0;
  std::string program;
  std::optional<int> other;
  std::string reason;
  each_row_of_jobs(
      sql, "number, kind, at_unix_s, program, other, reason", "entries", "job, number", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(kind));
        s.exchange(into(at));
        s.exchange(into(program));
        s.exchange(into(other));
        s.exchange(into(reason));
      },
      [&](Job& job) {
        if (number != static_cast<int>(job.events.size()) + 1)
          throw strange("a job's next entry", std::to_string(number));
        job.events.push_back({number, at, program, what_of_kind(kind, other, reason)});
      });
}

void load_spins(soci::session& sql, Wanted& wanted) {
  int number = 0;
  Spun spun;
  long long revolutions = 0;
  each_row_of_jobs(
      sql, "number, label, speed_rad_s, speed_drift_fraction, revolutions, duration_s, recording, sha256, turned_rad",
      "spins", "job", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(spun.label));
        s.exchange(into(spun.speed_rad_s));
        s.exchange(into(spun.speed_drift_fraction));
        s.exchange(into(revolutions));
        s.exchange(into(spun.duration_s));
        s.exchange(into(spun.recording));
        s.exchange(into(spun.sha256));
        s.exchange(into(spun.turned_rad));
      },
      [&](Job& job) {
        spun.revolutions = revolutions;
        spun_of(job, number) = spun;
      });
}

void load_readings(soci::session& sql, Wanted& wanted) {
  int number = 0;
  std::string sensor;
  std::string motion;
  double re = 0.0;
  double im = 0.0;
  Three c;
  std::optional<double> step;
  each_row_of_jobs(
      sql, "number, sensor, motion, value_re, value_im, var_re, cov_re_im, var_im, step", "readings", "job, number, n",
      wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(sensor));
        s.exchange(into(motion));
        for (double* part : {&re, &im, &c.re, &c.re_im, &c.im}) s.exchange(into(*part));
        s.exchange(into(step));
      },
      [&](Job& job) {
        spun_of(job, number)
            .readings.push_back({sensor, motion_named(motion), {re, im}, c.matrix(), {{}, step.value_or(0.0)}});
      });
}

void load_levels(soci::session& sql, Wanted& wanted) {
  int number = 0;
  int n = 0;
  NoiseBand band;
  each_row_of_jobs(
      sql, "number, n, from_Hz, to_Hz, rms, u_fraction", "levels", "job, number, n, band", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(n));
        for (double* part : {&band.from_Hz, &band.to_Hz, &band.rms, &band.u_fraction}) s.exchange(into(*part));
      },
      [&](Job& job) { spun_of(job, number).readings.at(static_cast<std::size_t>(n)).level.bands.push_back(band); });
}

void load_warnings(soci::session& sql, Wanted& wanted) {
  int number = 0;
  SaidWarning warning;
  each_row_of_jobs(
      sql, "number, code, sensor, message", "warnings", "job, number, n", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(warning.code));
        s.exchange(into(warning.sensor));
        s.exchange(into(warning.message));
      },
      [&](Job& job) { spun_of(job, number).warnings.push_back(warning); });
}

void load_pieces(soci::session& sql, Wanted& wanted) {
  int number = 0;
  FittedWeight piece;
  each_row_of_jobs(
      sql, "number, plane, mass_kg, radius_m, angle_rad", "pieces", "job, number, n", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(piece.plane));
        for (double* part : {&piece.mass_kg, &piece.radius_m, &piece.angle_rad}) s.exchange(into(*part));
      },
      [&](Job& job) {
        std::get<Fitted>(job.events.at(static_cast<std::size_t>(number - 1)).what).pieces.push_back(piece);
      });
}

void load_findings(soci::session& sql, Wanted& wanted) {
  int number = 0;
  std::string verdict;
  int used_prior = 0;
  each_row_of_jobs(
      sql, "number, verdict, used_prior", "findings", "job", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(verdict));
        s.exchange(into(used_prior));
      },
      [&](Job& job) {
        finding_of_entry(job, number) = Finding{verdict_named(verdict), {}, {}, used_prior != 0};
      });
}

void load_corrections(soci::session& sql, Wanted& wanted) {
  int number = 0;
  PlaneFinding plane;
  double re = 0.0;
  double im = 0.0;
  Three c;
  each_row_of_jobs(
      sql,
      "number, plane, residual_re_kg_m, residual_im_kg_m, var_re, cov_re_im, var_im, mass_kg, radius_m, angle_rad, "
      "predicted_residual_kg_m",
      "corrections", "job, number, n", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(plane.plane));
        for (double* part : {&re, &im, &c.re, &c.re_im, &c.im, &plane.correction_kg, &plane.radius_m, &plane.angle_rad,
                             &plane.predicted_residual_kg_m})
          s.exchange(into(*part));
      },
      [&](Job& job) {
        plane.residual_kg_m = {re, im};
        plane.covariance = c.matrix();
        finding_of_entry(job, number).value().planes.push_back(plane);
      });
}

void load_verdicts(soci::session& sql, Wanted& wanted) {
  int number = 0;
  std::string verdict;
  std::string place;
  Held held;
  each_row_of_jobs(
      sql, "number, place, residual_kg_m, u_residual_kg_m, limit_kg_m, verdict", "verdicts", "job, number, n", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        s.exchange(into(place));
        for (double* part : {&held.residual_kg_m, &held.u_residual_kg_m, &held.limit_kg_m}) s.exchange(into(*part));
        s.exchange(into(verdict));
      },
      [&](Job& job) {
        held.place = place_of(place);
        held.verdict = verdict_named(verdict);
        finding_of_entry(job, number).value().held.push_back(held);
      });
}

void load_reasons(soci::session& sql, Wanted& wanted) {
  int number = 0;
  SaidReason reason;
  std::string spins;
  std::string sensors;
  each_row_of_jobs(
      sql, "number, code, message, remedy, spins, sensors", "reasons", "job, number, n", wanted,
      [&](soci::statement& s) {
        s.exchange(into(number));
        for (std::string* text : {&reason.code, &reason.message, &reason.remedy, &spins, &sensors})
          s.exchange(into(*text));
      },
      [&](Job& job) {
        reason.spins = names_in(spins);
        reason.sensors = names_in(sensors);
        finding_of_entry(job, number).value().held_back.push_back(reason);
      });
}

}  // namespace

RowId insert_job_row(const Log::Database& database, const Job& job) {
  const RowId rig = rig_row(database.sql, job, job.rig().name);
  const RowId shaft = shaft_row(database.sql, job);
  const long long opened = job.opened_unix_s;
  RowId row = 0;
  database.sql << "INSERT INTO jobs (uid, name, rig, shaft, opened_unix_s, program) VALUES (:uid, :name, :rig, :shaft, "
                  ":opened, :program) RETURNING id",
      into(row), use(job.uid), use(job.name), use(rig), use(shaft), use(opened), use(job.program);
  return row;
}

void insert_event(const Log::Database& database, RowId job, const Event& event) {
  const std::string kind(kind_of(event.what));
  std::optional<int> other;
  std::string reason;
  if (const auto* back = std::get_if<TakenBack>(&event.what)) {
    other = back->number;
    reason = back->reason;
  } else if (const auto* closed = std::get_if<Closed>(&event.what)) {
    other = closed->final_spin;
    reason = closed->reason;
  }
  const long long at = event.at_unix_s;
  database.sql << "INSERT INTO entries VALUES (:job, :number, :kind, :at, :program, :other, :reason)", use(job),
      use(event.number), use(kind), use(at), use(event.program), use(other), use(reason);
  std::visit([&](const auto& what) { insert_what(database.sql, job, event.number, what); }, event.what);
}

std::optional<RowId> row_of_job(const Log::Database& database, const std::string& name) {
  RowId row = 0;
  database.sql << "SELECT id FROM jobs WHERE name = :name", into(row), use(name);
  return database.sql.got_data() ? std::optional(row) : std::nullopt;
}

std::vector<Job> load_jobs(const Log::Database& database, const std::vector<RowId>& rows) {
  if (rows.empty()) return {};
  Wanted wanted{fmt::format("({})", fmt::join(rows, ", ")), {}};
  soci::session& sql = database.sql;
  RowId row = 0;
  Job job;
  long long opened = 0;
  std::pair<std::string, std::string> rig;  // path and text
  std::pair<std::string, std::string> shaft;
  std::map<std::pair<std::string, std::string>, Kept<Rig>> rigs;  // jobs of one rig read its file once for all
  std::map<std::pair<std::string, std::string>, Kept<Shaft>> shafts;
  each_row(
      sql,
      fmt::format("SELECT j.id, uid, j.name, opened_unix_s, program, r.file, r.definition, s.file, s.definition FROM "
                  "jobs j JOIN rigs r ON r.id = j.rig JOIN shafts s ON s.id = j.shaft WHERE j.id IN {}",
                  wanted.rows),
      [&](soci::statement& s) {
        s.exchange(into(row));
        s.exchange(into(job.uid));
        s.exchange(into(job.name));
        s.exchange(into(opened));
        for (std::string* text : {&job.program, &rig.first, &rig.second, &shaft.first, &shaft.second})
          s.exchange(into(*text));
      },
      [&] {
        job.opened_unix_s = opened;
        job.rig_file = rigs.try_emplace(rig, rig.first, rig.second).first->second;
        job.shaft_file = shafts.try_emplace(shaft, shaft.first, shaft.second).first->second;
        wanted.jobs[row] = job;
      });
  for (const auto load : {load_entries, load_spins, load_readings, load_levels, load_warnings, load_pieces,
                          load_findings, load_corrections, load_verdicts, load_reasons})
    load(sql, wanted);
  std::vector<Job> jobs;
  for (const RowId each : rows) jobs.push_back(std::move(wanted.jobs.at(each)));
  return jobs;
}

Job load_job(const Log::Database& database, RowId row) {
  return std::move(load_jobs(database, {row}).front());
}

JobSummary summary_of(const Job& job) {
  const JobState state = state_of(job.events);
  JobSummary summary;
  summary.spins = static_cast<int>(state.spins.size());
  if (!state.closing) return summary;
  const Event& closing = job.events[static_cast<std::size_t>(*state.closing - 1)];
  summary.closed_unix_s = closing.at_unix_s;
  const auto& finding = std::get<Closed>(closing.what).finding;
  if (!finding) return summary;
  summary.verdict = verdict_name(finding->verdict);
  summary.worst_ratio = finding->worst_ratio();
  return summary;
}

void keep_summary(const Log::Database& database, RowId row, const JobSummary& summary) {
  database.sql << "UPDATE jobs SET closed_unix_s = :closed, verdict = :verdict, worst_ratio = :ratio, spins = :spins "
                  "WHERE id = :row",
      use(summary.closed_unix_s), use(summary.verdict), use(summary.worst_ratio), use(summary.spins), use(row);
}

}  // namespace counterspot
