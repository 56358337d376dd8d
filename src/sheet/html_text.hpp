#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "counterspot/drawing/drawing.hpp"
#include "sheet/text.hpp"

namespace counterspot {

/// Parts of a page for a browser.

std::string escaped(std::string_view text);
/// To the end of the style; the title is escaped here.
std::string html_head(std::string_view language, std::string_view title);
/// A picture within the page: as an image, so that the names within two drawings cannot meet.
std::string html_image(const Picture& picture);
/// The first row names the columns.
std::string html_table(const std::vector<Row>& rows);
std::string html_paragraphs(const std::vector<std::string>& sentences);

}  // namespace counterspot
