#pragma once

#include <stdexcept>
#include <string>

namespace counterspot {

/// Whose trouble it is. The value is the exit code of the program.
enum class Trouble {
  request = 2,    ///< the command line or a file a person wrote is wrong
  recording = 3,  ///< a recording cannot be used
  machine = 4,    ///< the machine failed: disk, database, device
};

/// The one exception of the library, for what people, files and machines do; our own bugs are assertions.
/// `what()` is one sentence that says where (file, line or sample, channel) and what; `remedy()` is one sentence that
/// says how to mend it. Numerical trouble (a singular set of spins) is not an exception but a status in a summary.
class Error : public std::runtime_error {
 public:
  Error(Trouble trouble, std::string code, const std::string& sentence, std::string remedy)
      : std::runtime_error(sentence), trouble_(trouble), code_(std::move(code)), remedy_(std::move(remedy)) {}

  Trouble trouble() const noexcept { return trouble_; }
  const std::string& code() const noexcept { return code_; }      ///< snake_case, stable, for programs
  const std::string& remedy() const noexcept { return remedy_; }  ///< for the person

 private:
  Trouble trouble_;
  std::string code_;
  std::string remedy_;
};

}  // namespace counterspot
