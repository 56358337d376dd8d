#pragma once

#include <string>
#include <vector>

#include "log/database.hpp"

namespace counterspot {

/// The chain of a log: a link for each opening of a job, each entry and each record of a rig, in the order in which
/// they were kept, added in the transaction that keeps the thing itself. A link is the SHA-256 of the link before it
/// and of what it links, so that nothing can be taken out, put in or put elsewhere (Crosby and Wallach (2009),
/// "Efficient Data Structures for Tamper-Evident Logging", section 2: the hash chain).

/// A log whose chain begins now: what it holds already is sealed as it stands.
void begin_chain(const Log::Database& database, const SealingProgress& sealing);

/// The opening and all entries. / The entries from `first` (0, 1, …) on. @return the seal of the last one.
std::string seal_job(const Log::Database& database, const Job& job);
std::string seal_entries(const Log::Database& database, const Job& job, std::size_t first);
void seal_record(const Log::Database& database, const RigRecord& record);

/// What is not as it was sealed, one sentence each: of a job, of the records of rigs.
std::vector<std::string> faults_of_seals(const Log::Database& database, const Job& job);
std::vector<std::string> faults_of_seals(const Log::Database& database, const std::vector<RigRecord>& all_records);
/// The chain itself, and since when there is one.
void check_chain(const Log::Database& database, CheckReport& report);

/// Of the job's opening and of each entry.
std::vector<LogLink> links_of(const Log::Database& database, const Job& job);

/// The job, if it is as it was sealed. @throws Error(machine, "log_altered").
Job unaltered(const Log::Database& database, Job job);

/// All links as they are, to a log whose chain has none but the first.
void copy_chain(const Log::Database& from, const Log::Database& to);

}  // namespace counterspot
