#pragma once

#include <string_view>

namespace counterspot {

/// The page's files, compiled in.
extern const std::string_view page_html;
extern const std::string_view page_css;
extern const std::string_view page_js;

}  // namespace counterspot
