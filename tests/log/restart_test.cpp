#include <catch2/catch.hpp>

#include "counterspot/units/error.hpp"
#include "databases.hpp"

using namespace counterspot;
using namespace counterspot::test;

TEST_CASE("a log that is open goes on with a PostgreSQL server that was started again") {
  PostgresServer& server = PostgresServer::shared();
  Log log = Log::open(server.new_database(), true);
  const Job job = whole_job(log, opening_of());
  const std::string program = "counterspot 0.1.0";

  server.stop_at_once();
  server.start();  // while nobody asked
  REQUIRE(log.list().size() == 1);
  CHECK(log.job(job.name).events.size() == job.events.size());

  server.stop_at_once();
  for (int question = 0; question < 2; ++question) {
    try {
      log.list();
      FAIL("a server that is down answered");
    } catch (const Error& error) {
      CHECK(error.code() == "log_unreachable");
      CHECK(error.trouble() == Trouble::machine);
    }
  }
  server.start();
  const Job other = log.open_job(opening_of("PS-2000"));
  CHECK(log.append(other, spin_of("as found"), program, some_day + 60).events.size() == 1);
  CHECK(log.list().size() == 2);
  CHECK(log.rig_records("bay 2", "").empty());
  CHECK(log.check().faults.empty());
}

TEST_CASE("what was under way when the server fell is not done twice") {
  PostgresServer& server = PostgresServer::shared();
  Log log = Log::open(server.new_database(), true);
  Job job = log.open_job(opening_of());
  const std::string program = "counterspot 0.1.0";
  CHECK_THROWS_AS(log.at_once([&] {
    log.append(job, spin_of("as found"), program, some_day + 60);
    server.stop_at_once();
    server.start();
    log.append(job, Fitted{}, program, some_day + 120);
  }),
                  Error);
  CHECK(log.job(job.name).events.empty());
  CHECK(log.append(job, spin_of("as found"), program, some_day + 60).events.size() == 1);
}
