#pragma once

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "log/database.hpp"
#include "log/fields_json.hpp"
#include "log/query.hpp"

namespace counterspot {

/// The fields of a thing as columns of a table: written once with `insert_into`, read again and again with `bind` and
/// `settle`. Lists of things have no column.
class Columns {
 public:
  /// A column that is no field: the entry's number, the place in a list.
  /// @param written what is written for it, if not the value as it is.
  template <typename T>
  T& key(const char* name, T value, std::string written = {}) {
    T& kept = cell(name, std::move(value));
    if (!written.empty()) written_.back() = std::move(written);
    return kept;
  }

  template <Plain T>
  void operator()(const char* key, T& value, const char* column = nullptr) {
    using As =
        std::conditional_t<std::same_as<T, bool>, int, std::conditional_t<std::same_as<T, std::int64_t>, long long, T>>;
    auto& kept = cell(column != nullptr ? column : key, static_cast<As>(value));
    settle_.emplace_back([&] { value = static_cast<T>(kept); });
  }
  void operator()(const char* key, std::optional<double>& value) {
    auto& kept = cell(key, value);
    settle_.emplace_back([&] { value = kept; });
  }
  template <typename Enum>
  requires std::is_enum_v<Enum>
  void operator()(const char* key, Enum& value) {
    auto& text = cell(key, std::string(names_of(value).name(value)));
    settle_.emplace_back([&] { value = named<Enum>(text); });
  }
  void operator()(const char* key, HeldPlace& value) {
    auto& text = cell(key, value.text());
    settle_.emplace_back([&] { value = place_of(text); });
  }
  void operator()(const char* key, std::vector<std::string>& value) {
    auto& text = cell(key, kept_json(value).dump());
    settle_.emplace_back([&] { value = kept_in<std::vector<std::string>>(LogJson::parse(text)); });
  }
  void operator()(const char* /*key*/, Phasor& value, const char* real, const char* imaginary) {
    auto& re = cell(real, value.real());
    auto& im = cell(imaginary, value.imag());
    settle_.emplace_back([&] { value = {re, im}; });
  }
  void operator()(const char* /*key*/, Eigen::Matrix2d& value, const char* first, const char* mixed,
                  const char* second) {
    auto& c1 = cell(first, value(0, 0));
    auto& c2 = cell(mixed, value(0, 1));
    auto& c3 = cell(second, value(1, 1));
    settle_.emplace_back([&] { value << c1, c2, c2, c3; });
  }
  template <typename Thing>
  void operator()(const char* /*key*/, std::vector<Thing>& /*a table of its own*/) {}
  template <typename Thing>
  void operator()(const char* /*key*/, std::optional<Thing>& /*a table of its own*/) {}

  void if_known(const char* key, std::optional<double>& value) { (*this)(key, value); }
  void if_known(const char* /*key*/, double& value, const char* column) {
    auto& kept = cell(column, value != 0.0 ? std::optional(value) : std::nullopt);
    settle_.emplace_back([&] { value = kept.value_or(0.0); });
  }
  void if_known(const char* /*key*/, int& value, const char* column) {
    auto& kept = cell(column, value != 0 ? std::optional(value) : std::nullopt);
    settle_.emplace_back([&] { value = kept.value_or(0); });
  }
  void if_known(const char* key, std::string& value, const char* column) { (*this)(key, value, column); }
  template <typename Thing>
  void if_known(const char* /*key*/, std::vector<Thing>& /*a table of its own*/) {}

  void time(const char* /*key*/, std::int64_t& unix_s, const char* column) { (*this)(column, unix_s); }

  std::string names() const { return fmt::format("{}", fmt::join(names_, ", ")); }

  void insert_into(const char* table, const Log::Database& database) {
    auto words = fmt::format("INSERT INTO {} ({}) VALUES ({})", table, names(), fmt::join(written_, ", "));
    const auto at = database.insertions.try_emplace(words, database.sql, words, names_, cells_).first;
    try {
      at->second.put(std::move(cells_));
    } catch (...) {
      database.insertions.erase(at);
      throw;
    }
  }
  /// For each row to be read into the cells.
  void bind(soci::statement& statement) {
    for (Cell& each : cells_) std::visit([&](auto& value) { statement.exchange(soci::into(value)); }, each);
  }
  /// From the cells to the thing's members. @throws UnknownName, nlohmann::json::exception.
  void settle() const {
    for (const auto& each : settle_) each();
  }

 private:
  template <typename T>
  T& cell(const char* name, T value) {
    names_.emplace_back(name);
    written_.emplace_back(fmt::format(":{}", name));
    return std::get<T>(cells_.emplace_back(std::move(value)));
  }

  std::vector<std::string> names_;
  std::vector<std::string> written_;
  Cells cells_;
  std::vector<std::function<void()>> settle_;
};

}  // namespace counterspot
