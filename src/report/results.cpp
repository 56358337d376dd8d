#include "report/results.hpp"

#include <fast_float/fast_float.h>
#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <limits>

#include "recording/arrays/array_writer.hpp"
#include "report/universal.hpp"

namespace counterspot {

namespace {

using PutRow = std::function<void(const TableRow& row)>;

std::string with_unit(const std::string& name, const Json& unit) {
  return fmt::format("{} ({})", name, unit.get<std::string>());
}

void add_number(TableRow& row, const std::string& column, const Json& thing, const char* key) {
  const auto at = thing.find(key);
  if (at != thing.end() && at->is_number()) row.number(column, at->get<double>());
}

void add_text(TableRow& row, const std::string& column, const Json& thing, const char* key) {
  const auto at = thing.find(key);
  if (at != thing.end() && at->is_string()) row.text(column, at->get<std::string>());
}

/// Which file it is of, and of many the folder that this stands in.
TableRow row_of_file(const Json& document) {
  TableRow row;
  add_text(row, "file", document, "file");
  add_text(row, "group", document, "group");
  return row;
}

TableRow row_of_error(const Json& document) {
  TableRow row = row_of_file(document);
  add_text(row, "error", document.at("error"), "code");
  add_text(row, "message", document.at("error"), "message");
  return row;
}

/// What a spin consists of, at each sensor.
void for_each_order(const TableRow& of_spin, const Json& sensors, const PutRow& put) {
  for (const Json& sensor : sensors) {
    for (const Json& order : sensor.at("orders")) {
      TableRow row = of_spin;
      add_text(row, "sensor", sensor, "name");
      add_number(row, "order", order, "order");
      add_number(row, with_unit("amplitude", sensor.at("unit")), order, "amplitude");
      add_text(row, "amplitude_kind", sensor, "amplitude_kind");
      add_number(row, "phase_lag (deg)", order, "phase_lag_deg");
      add_number(row, with_unit("u_amplitude", sensor.at("unit")), order, "u_amplitude");
      add_number(row, "u_phase_lag (deg)", order, "u_phase_lag_deg");
      put(row);
    }
  }
}

std::string codes_of(const Json& warnings) {
  std::string codes;
  for (const Json& warning : warnings) {
    const std::string code = warning.at("code").get<std::string>();
    if ((" " + codes + " ").find(" " + code + " ") == std::string::npos) codes += (codes.empty() ? "" : " ") + code;
  }
  return codes;
}

void rows_of_track(const Json& document, const PutRow& put) {
  TableRow row = row_of_file(document);
  add_number(row, "speed (rpm)", document, "speed_rpm");
  add_number(row, "speed_drift (%)", document, "speed_drift_percent");
  add_number(row, "revolutions", document, "revolutions");
  add_number(row, "duration (s)", document, "duration_s");
  if (const std::string codes = codes_of(document.at("warnings")); !codes.empty()) row.text("warnings", codes);
  for_each_order(row, document.at("sensors"), put);
}

/// The units are in ASCII, which spreadsheets read without being told the encoding.
void add_planes(TableRow& row, const Json& planes) {
  for (const Json& plane : planes) {
    const std::string name = plane.at("name").get<std::string>();
    add_number(row, fmt::format("residual {} (g-mm)", name), plane, "residual_gmm");
    add_number(row, fmt::format("residual_angle {} (deg)", name), plane, "residual_angle_deg");
    add_number(row, fmt::format("u_residual {} (g-mm)", name), plane, "u_residual_gmm");
    add_number(row, fmt::format("limit {} (g-mm)", name), plane, "limit_gmm");
  }
}

TableRow row_of_shaft(const Json& document) {
  TableRow row = row_of_file(document);
  add_text(row, "shaft", document, "shaft");
  add_text(row, "rig", document, "rig");
  return row;
}

/// Verdict and residuals are those of the last spin.
void rows_of_solution(const Json& document, const PutRow& put) {
  const Json& spins = document.at("spins");
  for (std::size_t k = 0; k < spins.size(); ++k) {
    TableRow row = row_of_shaft(document);
    add_text(row, "spin", spins[k], "label");
    add_text(row, "recording", spins[k], "recording");
    add_number(row, "speed (rpm)", spins[k], "speed_rpm");
    if (k + 1 == spins.size()) {
      add_text(row, "verdict", document, "verdict");
      add_planes(row, document.at("planes"));
    }
    for_each_order(row, spins[k].at("sensors"), put);
  }
}

/// Without phase several answers may fit.
void rows_of_answers(const Json& document, const PutRow& put) {
  int number = 0;
  for (const Json& answer : document.at("answers")) {
    TableRow row = row_of_shaft(document);
    row.number("answer", ++number);
    add_text(row, "verdict", answer, "verdict");
    add_planes(row, answer.at("planes"));
    put(row);
  }
}

void rows_of_sweep(const Json& document, const PutRow& put) {
  std::map<std::string, Json> units;
  for (const Json& sensor : document.at("sensors")) units[sensor.at("name")] = sensor.at("unit");
  for (const Json& point : document.at("points")) {
    for (const Json& vector : point.at("vectors")) {
      TableRow row;
      add_text(row, "file", document, "file");
      add_number(row, "time (s)", point, "time_s");
      add_number(row, "speed (rpm)", point, "speed_rpm");
      add_text(row, "sensor", vector, "sensor");
      add_number(row, "order", vector, "order");
      add_number(row, with_unit("amplitude", units.at(vector.at("sensor"))), vector, "amplitude");
      add_number(row, "phase_lag (deg)", vector, "phase_lag_deg");
      put(row);
    }
  }
}

void rows_of_order_spectra(const Json& document, const PutRow& put) {
  for (const Json& sensor : document.at("sensors")) {
    double line = 0.0;
    for (const Json& amplitude : sensor.at("amplitudes")) {
      TableRow row;
      add_text(row, "file", document, "file");
      add_text(row, "sensor", sensor, "name");
      row.number("order", line++ * sensor.at("order_step").get<double>());
      row.number(with_unit("amplitude", sensor.at("unit")), amplitude.get<double>());
      put(row);
    }
  }
}

void rows_of_map(const Json& document, const PutRow& put) {
  const double step_Hz = document.at("frequency_step_hz").get<double>();
  for (const Json& sensor : document.at("sensors")) {
    const std::string amplitude = with_unit("amplitude", sensor.at("unit"));
    const Json& rows = sensor.at("amplitudes");
    for (std::size_t r = 0; r < rows.size(); ++r) {
      for (std::size_t line = 0; line < rows[r].size(); ++line) {
        TableRow row;
        add_text(row, "file", document, "file");
        row.number("time (s)", document.at("times_s")[r].get<double>());
        row.number("speed (rpm)", document.at("speeds_rpm")[r].get<double>());
        row.number("frequency (Hz)", static_cast<double>(line) * step_Hz);
        add_text(row, "sensor", sensor, "name");
        row.number(amplitude, rows[r][line].get<double>());
        put(row);
      }
    }
  }
}

void for_each_row(const Json& document, const PutRow& put) {
  if (document.contains("error")) return put(row_of_error(document));
  if (document.contains("spins")) return rows_of_solution(document, put);
  if (document.contains("answers")) return rows_of_answers(document, put);
  if (document.contains("points")) return rows_of_sweep(document, put);
  if (document.contains("frequency_step_hz")) return rows_of_map(document, put);
  if (document.contains("stretches")) return rows_of_order_spectra(document, put);
  rows_of_track(document, put);
}

std::string table_of(const std::vector<Json>& documents) {
  TableColumns columns;
  for (const Json& document : documents) for_each_row(document, [&](const TableRow& row) { columns.add(row); });
  std::string text = columns.head();
  for (const Json& document : documents)
    for_each_row(document, [&](const TableRow& row) { text += columns.line(row); });
  return text;
}

std::vector<TableRow> rows_of_all(const std::vector<Json>& documents) {
  std::vector<TableRow> rows;
  for (const Json& document : documents) for_each_row(document, [&](const TableRow& row) { rows.push_back(row); });
  return rows;
}

/// Numbers where all cells that are not empty hold such; an empty cell is no number then.
NamedColumn column_of(const std::string& name, const std::vector<TableRow>& rows) {
  NamedColumn column{name, {}, {}};
  bool numbers = true;
  for (const TableRow& row : rows) {
    const auto cell =
        std::find_if(row.cells().begin(), row.cells().end(), [&](const auto& one) { return one.first == name; });
    const std::string text = cell == row.cells().end() ? "" : cell->second;
    double value = std::numeric_limits<double>::quiet_NaN();
    const auto [end, trouble] = fast_float::from_chars(text.data(), text.data() + text.size(), value);
    numbers = numbers && (text.empty() || (trouble == std::errc() && end == text.data() + text.size()));
    column.numbers.push_back(value);
    column.texts.push_back(text);
  }
  numbers ? column.texts.clear() : column.numbers.clear();
  return column;
}

std::vector<NamedColumn> columns_of(const std::vector<Json>& documents) {
  const std::vector<TableRow> rows = rows_of_all(documents);
  TableColumns names;
  for (const TableRow& row : rows) names.add(row);
  std::vector<NamedColumn> columns;
  for (const std::string& name : names.names()) columns.push_back(column_of(name, rows));
  return columns;
}

}  // namespace

std::vector<TableRow> rows_of(const Json& document) {
  std::vector<TableRow> rows;
  for_each_row(document, [&](const TableRow& row) { rows.push_back(row); });
  return rows;
}

std::string results_text(ResultForm form, const Json& document) {
  if (form == ResultForm::json) return one_line(document) + "\n";
  return results_text(form, std::vector<Json>{document});
}

std::string results_text(ResultForm form, const std::vector<Json>& documents) {
  if (form == ResultForm::csv) return table_of(documents);
  if (form == ResultForm::uff) return universal_text(rows_of_all(documents));
  if (form == ResultForm::npz) return bytes_of_arrays(ArrayFormat::npz, columns_of(documents));
  if (form == ResultForm::mat) return bytes_of_arrays(ArrayFormat::matlab, columns_of(documents));
  std::string text = form == ResultForm::json ? "[" : "";
  const char* between = "\n";
  for (const Json& document : documents) {
    if (form == ResultForm::json) text += std::exchange(between, ",\n");
    text += one_line(document) + (form == ResultForm::json ? "" : "\n");
  }
  return text + (form == ResultForm::json ? "\n]\n" : "");
}

}  // namespace counterspot
