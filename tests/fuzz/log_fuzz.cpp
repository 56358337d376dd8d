#include <cstdlib>

#include "counterspot/log/log.hpp"
#include "counterspot/sheet/sheet.hpp"
#include "fuzz.hpp"

using namespace counterspot;

/// What a log takes in from another: a line of JSON, or a table. What was taken is exported and taken again the same.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t count) {
  const std::string text(fuzz::text_of(bytes, count));
  fuzz::let_refuse([&] {
    const Job job = job_of_json_line(text);
    const std::string line = job_to_json_line(job);
    if (job_to_json_line(job_of_json_line(line)) != line) std::abort();
    Log::open((fuzz::demo_folder() / "log.db").string(), true).import_job(job);
  });
  fuzz::let_refuse([&] { jobs_of_csv(text); });
  return 0;
}
