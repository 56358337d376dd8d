// What is examined of a shop, and in which order; commands/doctor_command_test.cpp has the faults as a person meets
// them.
#include "counterspot/guide/doctor.hpp"

#include <algorithm>
#include <catch2/catch.hpp>

#include "support.hpp"

using namespace counterspot;
using namespace counterspot::test;

namespace {

const Examined& part_of(const std::vector<Examined>& all, const std::string& part) {
  const auto found = std::ranges::find(all, part, &Examined::part);
  REQUIRE(found != all.end());
  return *found;
}

DoctorAsked asked_in(const TemporaryFolder& folder) {
  DoctorAsked asked;
  asked.log = (folder / "log.db").string();
  asked.now_unix_s = 4'000'000'000;  // after whatever was written
  asked.lettering = "osifont";
  return asked;
}

}  // namespace

TEST_CASE("a clock is behind where something was written later than clocks of machines may differ") {
  const std::int64_t now = 1'780'000'000;
  CHECK(clock_as_found(now, {{"MC-0417/1", now + 299}}).health == Health::well);
  CHECK(clock_as_found(now, {{"MC-0417/1", now - 9}, {"MC-0417/2", now + 301}}).health == Health::to_mend);
}

TEST_CASE("the doctor says how much room there is, and when it is too little for a day") {
  CHECK(disk_as_found("spins", least_free_bytes).health == Health::well);
  const Examined full = disk_as_found("spins", least_free_bytes / 2);
  CHECK(full.health == Health::to_mend);
  CHECK(full.found.en == "spins: 0.5 GiB are free");
  CHECK(full.found.de == "spins: 0,5 GiB sind frei");
}

TEST_CASE("where nothing is stated only the rig is to be mended, and what is missing is noted, not blamed") {
  const TemporaryFolder folder;
  const auto all = examine(asked_in(folder));
  CHECK(has_to_mend(all));
  for (const Examined& each : all) CHECK((each.health == Health::to_mend) == (each.part == "rig"));
  CHECK(part_of(all, "shop").health == Health::noted);
  CHECK(part_of(all, "stock").health == Health::noted);
  CHECK(part_of(all, "shafts").health == Health::noted);
}

TEST_CASE("an error in one part is told as that part's, and the parts behind it are looked at all the same") {
  const TemporaryFolder folder;
  DoctorAsked asked = asked_in(folder);
  asked.shop = {{"rig", (folder / "gone.toml").string(), {}, 0},
                {"stock", source_file("data/stock.toml").string(), {}, 0}};
  asked.no_lettering = Error(Trouble::machine, "no_font", "there is no font", "install one");
  const auto all = examine(asked);
  CHECK(part_of(all, "rig").health == Health::to_mend);
  CHECK(part_of(all, "rig").trouble.has_value());
  CHECK(part_of(all, "stock").health == Health::well);
  CHECK(part_of(all, "lettering").trouble.value().code() == "no_font");
  std::vector<std::string> order;
  for (const Examined& each : all)
    if (order.empty() || order.back() != each.part) order.push_back(each.part);
  const auto place = [&](const char* part) { return std::ranges::find(order, part) - order.begin(); };
  CHECK(place("shop") < place("rig"));
  CHECK(place("rig") < place("stock"));
  CHECK(place("stock") < place("disk"));
  CHECK(place("disk") < place("lettering"));
}

TEST_CASE("how a part is has one name for programs") {
  CHECK(health_name(Health::well) == "well");
  CHECK(health_name(Health::noted) == "noted");
  CHECK(health_name(Health::to_mend) == "to_mend");
}
