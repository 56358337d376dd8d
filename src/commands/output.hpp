#pragma once

#include <string>

#include "report/documents.hpp"
#include "report/text.hpp"

namespace counterspot::commands {

/// Results to standard output. @throws Error(machine, "write_failed").
void print(const std::string& text);
void print_json(const Json& document);  ///< one line, so that several documents are JSON Lines

/// Has every byte for standard output arrived, whoever wrote it? @throws Error(machine, "write_failed").
void finish_output();

/// Trouble to standard error: one line what and where, one line how to mend it.
void print_error(const Error& error);
void print_warning(const std::string& message);
void print_warnings(const Warnings& warnings);

/// What holds a verdict back, each with its remedy, to be said before anything else; empty if nothing does.
std::string held_back_text(const std::vector<SaidReason>& held_back);

}  // namespace counterspot::commands
