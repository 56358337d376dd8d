#pragma once

#include <span>
#include <string_view>

#include "drawing/help_words_de.hpp"

namespace counterspot {

/// What `counterspot manual` says beside the sentences of `--help`: its heads, and of the files people write the form,
/// the default and the effect of each key. One row for each phrase there is; a test holds it against all pages.
std::span<const HelpWords> german_manual();

/// By these rows, else by those of the help; a phrase that has none stays as it is.
std::string_view said_in_german_manual(std::string_view phrase);

}  // namespace counterspot
