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
/// What it is, of what, and the verdict. @param look "within", "outside", "unsure": of the frame of the verdict.
std::string html_title(std::string_view what, std::string_view of, std::string_view verdict, std::string_view look);
/// Names and values, in as many columns as the width has; an empty value is a line to write on.
std::string html_facts(const std::vector<Fact>& facts);
/// Pictures within the page: as images, so that the names within two drawings cannot meet.
std::string html_pictures(const std::vector<Picture>& pictures);
/// The first row names the columns. On a narrow screen a row becomes a block, each cell behind its column's name.
std::string html_table(const std::vector<Row>& rows);
std::string html_paragraphs(const std::vector<std::string>& sentences);
/// Lines to sign on, one per person.
std::string html_signatures(const std::vector<std::string>& who, std::string_view date_and_signature);

}  // namespace counterspot
