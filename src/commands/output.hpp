#pragma once

#include <functional>
#include <string>
#include <vector>

#include "report/documents.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

/// Results to standard output. @throws Error(machine, "write_failed").
void print(const std::string& text);
void print_json(const Json& document);  ///< one line, so that several documents are JSON Lines

/// Has every byte for standard output arrived, whoever wrote it? @throws Error(machine, "write_failed").
void finish_output();

/// Trouble to standard error: one line what and where, one line how to mend it.
void print_error(const Error& error, const Words& words);
/// What is going on, while it takes long.
void print_progress(const std::string& message);
void print_warning(const std::string& message);
/// What was noticed, gathered, to standard error. What was printed before stands before it.
void print_warnings(const Warnings& warnings, const Words& words = english(),
                    const std::vector<std::string>& spins = {});
void print_warnings(const std::vector<SaidWarning>& warnings, const Words& words);

/// The files one after the other. Of several, the trouble of one is told in its place, and the others go on.
/// @return the highest exit code. @throws Error of the only file.
int for_each_file(const std::vector<std::string>& files, bool json, const Words& words,
                  const std::function<void(const std::string& file)>& work);

}  // namespace counterspot::commands
