// What a rig's jobs teach: which of them, and what was learnt.
#include <fmt/format.h>

#include <map>
#include <utility>

#include "counterspot/log/log.hpp"
#include "log/database.hpp"
#include "log/query.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

using soci::into;
using soci::use;

constexpr int shafts_looked_at = 600;  // jobs whose shafts are compared, of the newest
constexpr int states_kept = 4;         // of one rig: several shafts may be in work at once

std::string teaching_jobs(const char* columns, int planes, int limit) {
  return fmt::format(
      "SELECT {} FROM jobs j JOIN rigs r ON r.id = j.rig JOIN shafts s ON s.id = j.shaft WHERE r.name = :rig AND {} "
      "j.spins > 1 ORDER BY j.opened_unix_s DESC, j.id DESC LIMIT {}",
      columns, planes > 0 ? fmt::format("s.planes = {} AND", planes) : "", limit);
}

/// A state stands behind its hash. What bits have flipped in, or was kept before there were hashes, is learnt anew.
std::optional<std::string> unchanged(const std::string& kept) {
  const auto end = kept.find('\n');
  if (end == std::string::npos) return std::nullopt;
  std::string state = kept.substr(end + 1);
  return sha256_of(state) == kept.substr(0, end) ? std::optional(std::move(state)) : std::nullopt;
}

}  // namespace

std::vector<Job> Log::jobs_to_learn_from(const std::string& rig, int planes, int limit) const {
  return read_in(*database_, [&] {
    std::vector<RowId> rows;
    RowId row = 0;
    each_row(
        database_->sql, teaching_jobs("j.id", planes, limit),
        [&](soci::statement& statement) {
          statement.exchange(into(row));
          statement.exchange(use(rig));
        },
        [&] { rows.push_back(row); });
    return load_jobs(*database_, rows);
  });
}

std::vector<Job> Log::jobs_to_learn_from(const std::string& rig, int planes, int limit,
                                         const std::function<bool(const Shaft&)>& wanted) const {
  return read_in(*database_, [&] {
    std::vector<RowId> rows;
    RowId row = 0;
    RowId shaft = 0;
    std::string file;
    std::string definition;
    std::map<RowId, bool> known;
    KeptShafts shafts;
    each_row(
        database_->sql, teaching_jobs("j.id, s.id, s.file, s.definition", planes, shafts_looked_at),
        [&](soci::statement& statement) {
          statement.exchange(into(row));
          statement.exchange(into(shaft));
          statement.exchange(into(file));
          statement.exchange(into(definition));
          statement.exchange(use(rig));
        },
        [&] {
          if (static_cast<int>(rows.size()) == limit) return;
          if (!known.contains(shaft)) {
            const auto& kept = shafts.try_emplace({file, definition}, file, definition).first->second;
            known[shaft] = wanted(kept.value());
          }
          if (known.at(shaft)) rows.push_back(row);
        });
    return load_jobs(*database_, rows, std::move(shafts));
  });
}

std::vector<JobStamp> Log::stamps_to_learn_from(const std::string& rig, int limit) const {
  return read_in(*database_, [&] {
    std::vector<JobStamp> stamps;
    JobStamp stamp;
    each_row(
        database_->sql,
        teaching_jobs("j.uid, j.name, (SELECT max(e.number) FROM entries e WHERE e.job = j.id)", 0, limit),
        [&](soci::statement& statement) {
          statement.exchange(into(stamp.uid));
          statement.exchange(into(stamp.name));
          statement.exchange(into(stamp.entries));
          statement.exchange(use(rig));
        },
        [&] { stamps.push_back(stamp); });
    return stamps;
  });
}

std::optional<std::string> Log::learnt(const std::string& rig, const std::string& learnt_from) const {
  return read_in(*database_, [&]() -> std::optional<std::string> {
    std::string text;
    database_->sql << "SELECT state FROM learnt WHERE rig = :rig AND learnt_from = :learnt_from", into(text), use(rig),
        use(learnt_from);
    if (!database_->sql.got_data()) return std::nullopt;
    return unchanged(text);
  });
}

void Log::keep_learnt(const std::string& rig, const std::string& learnt_from, const std::string& state) const {
  guarded(database_->place, [&] {
    database_->writing([&] {
      long long last = 0;
      database_->sql << "SELECT coalesce(max(kept), 0) FROM learnt WHERE rig = :rig", into(last), use(rig);
      const long long kept = last + 1;
      const std::string hashed = sha256_of(state) + "\n" + state;
      const long long oldest = kept - states_kept;
      database_->sql << "INSERT INTO learnt (rig, learnt_from, kept, state) VALUES (:rig, :learnt_from, :kept, :state) "
                        "ON CONFLICT (rig, learnt_from) DO UPDATE SET kept = excluded.kept, state = excluded.state",
          use(rig), use(learnt_from), use(kept), use(hashed);
      database_->sql << "DELETE FROM learnt WHERE rig = :rig AND kept <= :oldest", use(rig), use(oldest);
    });
  });
}

void Log::forget_learnt(const std::string& rig) {
  guarded(database_->place,
          [&] { database_->writing([&] { database_->sql << "DELETE FROM learnt WHERE rig = :rig", use(rig); }); });
}

}  // namespace counterspot
