#include <catch2/catch.hpp>

#include "counterspot/log/log.hpp"
#include "databases.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("a clock that is set back changes neither the order of what happened nor what it means") {
  const Kind kind = GENERATE(Kind::sqlite, Kind::postgresql);
  const Place place(kind);
  constexpr std::int64_t year = 365 * 86400;
  Log log = Log::open(place.text(), true);
  const Job before = whole_job(log, opening_of("PS-1"));
  Job job = log.open_job(opening_of("PS-1", some_day - year));  // after it, a year before it
  CHECK(job.name == "PS-1/2");
  job = log.append(job, spin_of("as found"), "counterspot 0.1.0", some_day);
  job = log.append(job, spin_of("once more"), "counterspot 0.1.0", some_day - 2 * year);
  const Job read = log.job("PS-1/2");
  REQUIRE(read.events.size() == 2);
  CHECK(std::get<Spun>(read.events[0].what).label == "as found");
  CHECK(std::get<Spun>(read.events[1].what).label == "once more");
  CHECK(read.events[1].at_unix_s == some_day - 2 * year);  // what the clock said, as it said it
  CHECK(log.check().faults.empty());
  CHECK(job_to_json_line(log.job(before.name)) == job_to_json_line(before));
}
