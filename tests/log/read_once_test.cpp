// Each kept file is read once for each time that its job is taken from the log, however many ask what it says.
#include <catch2/catch.hpp>

#include "counterspot/guide/guide.hpp"
#include "databases.hpp"

// The linker leads every call of the library to these counters (--wrap, in tests/CMakeLists.txt).
#define READS_SHAFT \
  "_ZN11counterspot10kept_shaftERKNSt7__cxx1112basic_stringIcSt11char_traitsIcESaIcEEERKNSt10filesystem7__cxx114pathE"
#define READS_RIG                                                                                              \
  "_ZN11counterspot13read_rig_textERKNSt7__cxx1112basic_stringIcSt11char_traitsIcESaIcEEERKNSt10filesystem7__" \
  "cxx114pathE"

namespace counterspot::test {

namespace {
int shafts_read = 0;
int rigs_read = 0;
}  // namespace

Shaft really_read_shaft(const std::string& text, const std::filesystem::path& path) asm("__real_" READS_SHAFT);
Rig really_read_rig(const std::string& text, const std::filesystem::path& path) asm("__real_" READS_RIG);
Shaft count_shaft(const std::string& text, const std::filesystem::path& path) asm("__wrap_" READS_SHAFT);
Rig count_rig(const std::string& text, const std::filesystem::path& path) asm("__wrap_" READS_RIG);

Shaft count_shaft(const std::string& text, const std::filesystem::path& path) {
  ++shafts_read;
  return really_read_shaft(text, path);
}

Rig count_rig(const std::string& text, const std::filesystem::path& path) {
  ++rigs_read;
  return really_read_rig(text, path);
}

TEST_CASE(
    "the next step of a job reads each shaft file once, its own and those of 25 earlier jobs, and the rig's once a "
    "load") {
  const Place place(Kind::sqlite);
  Log log = Log::open(place.text(), true);
  constexpr int earlier = 25;
  for (int number = 1; number <= earlier; ++number) whole_job(log, opening_of("PS-" + std::to_string(number)));
  Job job = log.open_job(opening_of("PS-99"));
  job = log.append(job, spin_of("as found"), "test", some_day);
  shafts_read = 0;
  rigs_read = 0;
  const KnownJob known = known_job(log, log.job(job.name));
  const NextStep step = known.next();
  CHECK(step.kind != StepKind::nothing);
  CHECK(shafts_read == earlier + 1);
  CHECK(rigs_read == 3);  // the job's own, that of the shafts like it, and that of the rig's newest jobs
}

}  // namespace counterspot::test
