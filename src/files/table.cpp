#include "counterspot/files/table.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <cmath>

#include "files/csv.hpp"

namespace counterspot {

namespace {

bool is_number(std::string_view text) {
  if (text.starts_with('+')) text.remove_prefix(1);
  double value = 0.0;
  const auto [end, trouble] = fast_float::from_chars(text.data(), text.data() + text.size(), value);
  return trouble == std::errc() && end == text.data() + text.size();
}

}  // namespace

void TableRow::number(std::string column, double value) {
  if (std::isfinite(value)) cells_.emplace_back(std::move(column), fmt::format("{}", value));
}

void TableRow::number(std::string column, const std::optional<double>& value) {
  if (value) number(std::move(column), *value);
}

void TableRow::text(std::string column, std::string_view value) {
  cells_.emplace_back(std::move(column), cell_text(value));
}

std::string cell_text(std::string_view text) {
  constexpr std::string_view begin_formulas = "=+-@\t\r";
  const bool taken_for_formula = !text.empty() && begin_formulas.find(text.front()) != std::string_view::npos;
  return (taken_for_formula && !is_number(text) ? "'" : "") + std::string(text);
}

TableColumns::TableColumns(const std::vector<std::string>& first) {
  for (const std::string& name : first) {
    places_.emplace(name, names_.size());
    names_.push_back(name);
  }
}

bool TableColumns::add(const TableRow& row) {
  const std::size_t before = names_.size();
  for (const auto& [name, text] : row.cells())
    if (places_.try_emplace(name, names_.size()).second) names_.push_back(name);
  return names_.size() > before;
}

std::string TableColumns::head() const {
  return csv_line(names_);
}

std::string TableColumns::line(const TableRow& row) const {
  std::vector<std::string> cells(names_.size());
  for (const auto& [name, text] : row.cells()) cells[places_.at(name)] = text;
  return csv_line(cells);
}

}  // namespace counterspot
