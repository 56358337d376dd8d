#pragma once

#include <string>
#include <vector>

namespace counterspot::test {

/// One line of a cases.txt: arguments | exit code | the sentence.
struct BrokenCase {
  std::vector<std::string> arguments;
  int exit_code = 0;
  std::string sentence;
};

/// The table of a folder of broken files.
std::vector<BrokenCase> broken_cases(const std::string& folder);

/// Runs the program in that folder and checks exit code, sentence, remedy, and that nothing is on standard output.
void check_broken(const BrokenCase& broken, const std::string& folder);

}  // namespace counterspot::test
