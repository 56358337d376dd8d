#pragma once

#include <string>

#include "files/file_keys.hpp"

namespace counterspot::commands {

/// Manual pages in the macros of man(7).

/// Text as roff takes it: backslashes and hyphens as they are, no line that could be taken for a request.
std::string escaped(std::string_view text);

/// Lines as they stand, such as examples.
std::string as_it_stands(const std::string& text);

/// The head of a page of a section of the manual, and its name with what it does.
std::string heading(const std::string& page, int section, std::string_view does, const Saying& said);

}  // namespace counterspot::commands
