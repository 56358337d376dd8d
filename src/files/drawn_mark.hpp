#pragma once

#include <string_view>

namespace counterspot {

/// By what this program knows a file that it wrote itself, from what it keeps elsewhere, and can write again.

inline constexpr std::string_view mark_in_svg_and_html = "<!-- made by Counterspot -->\n";
inline constexpr std::string_view mark_in_pdf = "/Creator (Counterspot)";
inline constexpr std::string_view mark_in_manual = ".\\\" Made by 'counterspot manual'.\n";
/// A whole chunk: length, type, keyword and text, CRC-32 (PNG, second edition, 5.3 and 11.3.4.3).
inline constexpr std::string_view mark_in_png{"\0\0\0\x14tEXtSoftware\0Counterspot\x35\xec\x38\xb3", 32};

}  // namespace counterspot
