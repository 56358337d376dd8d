#include "log/chain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <map>
#include <optional>
#include <utility>

#include "counterspot/log/seal.hpp"
#include "counterspot/log/signature.hpp"
#include "log/columns.hpp"
#include "log/query.hpp"
#include "log/sha256.hpp"

namespace counterspot {

namespace {

using soci::into;
using soci::use;

/// A row of the chain. The first one says since when the log has a chain: `name` is the time, `entry` counts the rows
/// behind it that sealed what was there already.
struct Link {
  long long number = 0;
  std::string uid;   ///< of the job; empty: a record of a rig
  std::string name;  ///< of an opening the job's, of a record the rig's
  int entry = 0;     ///< 0: the opening
  std::string seal;
  std::string link;
  std::optional<long long> opening = {};  ///< the link of the job's opening

  std::string after(const std::string& before) const {
    return sha256_of(fmt::format("{}\n{}\n{}\n{}\n{}\n{}", before, number, uid, name, entry, seal));
  }
};

/// A job's uid stands once, at its opening.
void each_link(const Log::Database& database, const std::string& condition, const std::function<void(const Link&)>& row,
               const std::string& uid = {}) {
  Link link;
  each_row(
      database.sql,
      fmt::format("SELECT c.number, c.opening, c.uid || coalesce(o.uid, ''), c.name, c.entry, {}, {} FROM chain c LEFT "
                  "JOIN chain o ON o.number = c.opening AND o.number <> c.number {}",
                  database.unpacked("c.seal"), database.unpacked("c.link"), condition),
      [&](soci::statement& statement) {
        statement.exchange(into(link.number));
        statement.exchange(into(link.opening));
        for (std::string* text : {&link.uid, &link.name}) statement.exchange(into(*text));
        statement.exchange(into(link.entry));
        for (std::string* text : {&link.seal, &link.link}) statement.exchange(into(*text));
        if (!uid.empty()) statement.exchange(use(uid));
      },
      [&] { row(link); });
}

constexpr const char* of_job =
    "WHERE c.opening IN (SELECT number FROM chain WHERE uid = :uid AND uid <> '') ORDER BY c.entry, c.number";

/// The chain's end, to which links are added.
class End {
 public:
  explicit End(const Log::Database& database) : database_(database) {
    each_link(database, "ORDER BY c.number DESC LIMIT 1", [&](const Link& link) { last_ = link; });
  }
  long long number() const { return last_.number; }
  void add(const std::string& uid, const std::string& name, int entry, const std::string& seal) {
    Link next{last_.number + 1, uid, name, entry, seal, {}};
    if (!uid.empty()) next.opening = entry == 0 ? next.number : opening_;
    next.link = next.after(last_.link);
    add(next);
  }
  /// With the entries of that link's job.
  void go_on(const Link& of) { opening_ = of.opening; }
  void add(const Link& next) {
    Columns columns;
    const bool opens = !next.opening || *next.opening == next.number;
    columns.key("number", next.number);
    columns.key("opening", next.opening);
    columns.key("uid", opens ? next.uid : "");
    columns.key("name", next.name);
    columns.key("entry", next.entry);
    columns.key("seal", next.seal, database_.packed(":seal"));
    columns.key("link", next.link, database_.packed(":link"));
    columns.insert_into("chain", database_);
    last_ = next;
    opening_ = next.opening;
  }

 private:
  const Log::Database& database_;
  Link last_;
  std::optional<long long> opening_;  // of the job whose entries are added
};

std::string seal_entries(End& end, std::string seal, const Job& job, std::size_t first) {
  for (std::size_t i = first; i < job.events.size(); ++i) {
    seal = entry_seal(seal, job.events[i]);
    end.add(job.uid, "", job.events[i].number, seal);
  }
  return seal;
}

std::string seal_job(End& end, const Job& job) {
  const std::string seal = opening_seal(job);
  end.add(job.uid, job.name, 0, seal);
  return seal_entries(end, seal, job, 0);
}

void seal_record(End& end, const RigRecord& record) {
  end.add("", record.rig, 0, record_seal(record));
}

/// Many at a time; what cannot be read stays without seals, and a check says so.
void seal_stored(const Log::Database& database, End& end, const std::vector<RowId>& rows,
                 const std::function<void()>& sealed) {
  constexpr std::ptrdiff_t at_a_time = 200;
  for (auto begin = rows.begin(); begin != rows.end();) {
    const auto next = begin + std::min(at_a_time, rows.end() - begin);
    try {
      for (const Job& job : load_jobs(database, {begin, next})) seal_job(end, job);
    } catch (const Error&) {
      for (auto row = begin; row != next && rows.size() > 1; ++row) seal_stored(database, end, {*row}, sealed);
    }
    begin = next;
    sealed();
  }
}

Error altered(const std::string& what) {
  return {
      Trouble::machine, "log_altered", what,
      "run 'log check' to see all that was altered; the last backup has the job as it was ('log restore' into a new "
      "log). To go on, end it ('job close --job NAME --reason …') and spin the shaft again in a new job"};
}

}  // namespace

void begin_chain(const Log::Database& database, const SealingProgress& sealing) {
  long long all = 0;
  database.sql << "SELECT (SELECT count(*) FROM jobs) + (SELECT count(*) FROM entries) + (SELECT count(*) FROM "
                  "rig_records)",
      into(all);
  End end(database);
  end.add("", utc_text(now_unix_s()), static_cast<int>(all), "");
  const auto tell = [&] {
    if (sealing) sealing(end.number() - 1, all);  // the first link seals nothing
  };
  seal_stored(database, end, rows_of_jobs(database, {}), tell);
  for (const RigRecord& record : stored_records(database)) seal_record(end, record);
  tell();
}

std::string seal_job(const Log::Database& database, const Job& job) {
  End end(database);
  return seal_job(end, job);
}

std::string seal_entries(const Log::Database& database, const Job& job, std::size_t first) {
  std::optional<Link> before;
  each_link(
      database, of_job,
      [&](const Link& link) {
        if (link.entry == static_cast<int>(first)) before = link;
      },
      job.uid);
  if (!before) throw altered(fmt::format("job {}: what was sealed of entry {} is gone", job.name, first));
  End end(database);
  end.go_on(*before);
  return seal_entries(end, before->seal, job, first);
}

void seal_record(const Log::Database& database, const RigRecord& record) {
  End end(database);
  seal_record(end, record);
}

std::vector<std::string> faults_of_seals(const Log::Database& database, const Job& job) {
  std::vector<std::string> faults;
  std::vector<Link> links;
  each_link(
      database, of_job, [&](const Link& link) { links.push_back(link); }, job.uid);
  for (std::size_t i = 0; i < links.size() && links[i].entry == static_cast<int>(i); ++i) {
    if (i > job.events.size()) {
      faults.push_back(fmt::format("job {}: entry {} is gone", job.name, i));
    } else if (i > 0 && links[i].seal != entry_seal(links[i - 1].seal, job.events[i - 1])) {
      faults.push_back(fmt::format("job {}: entry {} is not what was kept: it was changed later", job.name, i));
    } else if (i == 0 && links[0].name != job.name) {
      faults.push_back(fmt::format("job {}: it was opened as {}", job.name, links[0].name));
    } else if (i == 0 && links[0].seal != opening_seal(job)) {
      faults.push_back(
          fmt::format("job {}: its opening (rig, shaft, time) is not what was kept: it was changed later", job.name));
    }
  }
  const bool in_order =
      std::all_of(links.begin(), links.end(), [&](const Link& link) { return link.entry == &link - links.data(); });
  for (const std::string& fault : faults_of_signatures(job))
    faults.push_back(fmt::format("job {}: {}", job.name, fault));
  if (!in_order || links.size() < job.events.size() + 1)
    faults.push_back(fmt::format("job {}: entries were put in, or seals taken out ({} entries, {} seals)", job.name,
                                 job.events.size() + 1, links.size()));
  return faults;
}

std::vector<std::string> faults_of_seals(const Log::Database& database, const std::vector<RigRecord>& all_records) {
  std::vector<std::string> faults;
  std::multimap<std::string, std::string> sealed;  // and of which rig
  each_link(database, "WHERE c.opening IS NULL AND c.uid = '' AND c.number > 1",
            [&](const Link& link) { sealed.emplace(link.seal, link.name); });
  for (const RigRecord& record : all_records) {
    const auto found = sealed.find(record_seal(record));
    if (found != sealed.end()) {
      sealed.erase(found);
    } else {
      faults.push_back(fmt::format("rig {}: its record '{}' of {} is not what was kept: it was changed or put in later",
                                   record.rig, record.kind, utc_minute(record.at_unix_s)));
    }
  }
  for (const auto& [seal, rig] : sealed)
    faults.push_back(fmt::format("rig {}: a record that was kept is gone, or is one of those that were changed", rig));
  return faults;
}

void check_chain(const Log::Database& database, CheckReport& report) {
  Link before;
  each_link(database, "ORDER BY c.number", [&](const Link& link) {
    const bool follows = link.number == before.number + 1 && link.link == link.after(before.link);
    if (follows && link.number == 1) {
      report.sealed_since_unix_s = unix_time_of(link.name);
      report.sealed_later = link.entry;
    }
    if (!follows)
      report.faults.push_back(fmt::format(
          "the log's chain is broken at link {}: links were changed, taken out or put in", before.number + 1));
    before = link;
  });
  if (before.number == 0) report.faults.emplace_back("the log's seals are gone");
  std::string name;
  long long entries = 0;
  each_row(
      database.sql,
      "SELECT c.name, (SELECT count(*) - 1 FROM chain e WHERE e.opening = c.number) FROM chain c LEFT JOIN (jobs j "
      "JOIN "
      "rigs r ON r.id = j.rig JOIN shafts s ON s.id = j.shaft) ON j.uid = c.uid WHERE c.uid <> '' AND j.id IS NULL",
      [&](soci::statement& statement) {
        statement.exchange(into(name));
        statement.exchange(into(entries));
      },
      [&] { report.faults.push_back(fmt::format("job {} is gone, with {} entries", name, entries)); });
}

std::vector<LogLink> links_of(const Log::Database& database, const Job& job) {
  std::vector<LogLink> links;
  each_link(
      database, of_job,
      [&](const Link& link) {
        links.push_back({link.number, link.link});
      },
      job.uid);
  return links;
}

Job unaltered(const Log::Database& database, Job job) {
  const auto faults = faults_of_seals(database, job);
  if (!faults.empty()) throw altered(faults.front());
  return job;
}

void copy_chain(const Log::Database& from, const Log::Database& to) {
  to.sql << "DELETE FROM chain";
  End end(to);
  each_link(from, "ORDER BY c.number", [&](const Link& link) { end.add(link); });
}

}  // namespace counterspot
