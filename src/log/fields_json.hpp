#pragma once

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <type_traits>

#include "counterspot/units/error.hpp"
#include "counterspot/units/units.hpp"
#include "log/fields.hpp"

namespace counterspot {

/// The exchange form of what the log keeps; every number comes back bit for bit.
using LogJson = nlohmann::ordered_json;

template <typename T>
LogJson kept_json(const T& value);
template <typename T>
T kept_in(const LogJson& json);

/// Writes the fields of a thing into an object.
struct JsonOfFields {
  LogJson& object;

  template <typename T, typename... Columns>
  void operator()(const char* key, const T& value, Columns... /*of a table*/) {
    object[key] = kept_json(value);
  }
  template <typename T, typename... Columns>
  void if_known(const char* key, const T& value, Columns... /*of a table*/) {
    if (LogJson written = kept_json(value); written != kept_json(T{})) object[key] = std::move(written);
  }
  template <typename T>
  void if_there(const char* key, const T& value) {
    (*this)(key, value);
  }
  void time(const char* key, std::int64_t unix_s, const char* /*column*/) { object[key] = utc_text(unix_s); }
};

/// Reads them. @throws nlohmann::json::exception, UnknownName, Error of the time.
struct FieldsOfJson {
  const LogJson& object;

  template <typename T, typename... Columns>
  void operator()(const char* key, T& value, Columns... /*of a table*/) {
    value = kept_in<T>(object.at(key));
  }
  template <typename T, typename... Columns>
  void if_known(const char* key, T& value, Columns... /*of a table*/) {
    if (object.contains(key)) value = kept_in<T>(object.at(key));
  }
  template <typename T>
  void if_there(const char* key, T& value) {
    if_known(key, value);
  }
  void time(const char* key, std::int64_t& unix_s, const char* /*column*/) {
    unix_s = unix_time_of(object.at(key).get<std::string>());
  }
};

/// How one type is written and read; without more it is an object of its fields.
template <typename T>
struct KeptAs {
  static LogJson json(const T& value) {
    LogJson object = LogJson::object();
    JsonOfFields keep{object};
    fields(keep, value);
    return object;
  }
  static T value(const LogJson& object) {
    T value;
    FieldsOfJson keep{object};
    fields(keep, value);
    return value;
  }
};

template <typename T>
concept Plain = std::is_arithmetic_v<T> || std::same_as<T, std::string>;

/// A fraction that a whole number's type cannot hold has no value in it ([conv.fpint] of the C++ standard).
template <Plain T>
T plain_in(const LogJson& json) {
  constexpr double most = 1e9;
  constexpr double least = std::is_signed_v<T> ? -most : 0.0;
  const double fraction = std::is_integral_v<T> && json.is_number_float() ? json.get<double>() : 0.0;
  if (!(fraction >= least && fraction <= most))
    throw LogJson::other_error::create(501, "a whole number is wanted", &json);
  return json.get<T>();
}

template <Plain T>
struct KeptAs<T> {
  static LogJson json(const T& value) { return value; }
  static T value(const LogJson& json) { return plain_in<T>(json); }
};

template <typename Enum>
requires std::is_enum_v<Enum>
struct KeptAs<Enum> {
  static LogJson json(Enum value) { return names_of(value).name(value); }
  static Enum value(const LogJson& json) { return named<Enum>(json.get<std::string>()); }
};

template <>
struct KeptAs<HeldPlace> {
  static LogJson json(const HeldPlace& place) { return place.text(); }
  static HeldPlace value(const LogJson& json) { return place_of(json.get<std::string>()); }
};

template <typename T>
struct KeptAs<std::optional<T>> {
  static LogJson json(const std::optional<T>& value) { return value ? kept_json(*value) : LogJson(nullptr); }
  static std::optional<T> value(const LogJson& json) {
    return json.is_null() ? std::nullopt : std::optional(kept_in<T>(json));
  }
};

template <typename T>
struct KeptAs<std::vector<T>> {
  static LogJson json(const std::vector<T>& values) {
    LogJson list = LogJson::array();
    for (const T& value : values) list.push_back(kept_json(value));
    return list;
  }
  static std::vector<T> value(const LogJson& json) {
    std::vector<T> values;
    for (const LogJson& each : json) values.push_back(kept_in<T>(each));
    return values;
  }
};

template <typename T>
struct KeptAs<std::array<T, 2>> {
  static LogJson json(const std::array<T, 2>& two) { return LogJson::array({kept_json(two[0]), kept_json(two[1])}); }
  static std::array<T, 2> value(const LogJson& json) { return {kept_in<T>(json.at(0)), kept_in<T>(json.at(1))}; }
};

template <>
struct KeptAs<Phasor> {
  static LogJson json(const Phasor& z) { return LogJson::array({z.real(), z.imag()}); }
  static Phasor value(const LogJson& json) { return {json.at(0).get<double>(), json.at(1).get<double>()}; }
};

/// A covariance, by its three different entries.
template <>
struct KeptAs<Eigen::Matrix2d> {
  static LogJson json(const Eigen::Matrix2d& c) { return LogJson::array({c(0, 0), c(0, 1), c(1, 1)}); }
  static Eigen::Matrix2d value(const LogJson& json) {
    const auto mixed = json.at(1).get<double>();
    return Eigen::Matrix2d{{json.at(0).get<double>(), mixed}, {mixed, json.at(2).get<double>()}};
  }
};

/// Coefficients of two sensors and two planes, row by row.
template <>
struct KeptAs<Eigen::Matrix2cd> {
  static LogJson json(const Eigen::Matrix2cd& alpha) {
    return kept_json(std::vector<Phasor>{alpha(0, 0), alpha(0, 1), alpha(1, 0), alpha(1, 1)});
  }
  static Eigen::Matrix2cd value(const LogJson& json) {
    const auto at = [&](std::size_t i) { return kept_in<Phasor>(json.at(i)); };
    return Eigen::Matrix2cd{{at(0), at(1)}, {at(2), at(3)}};
  }
};

template <>
struct KeptAs<NoiseBand> {
  static LogJson json(const NoiseBand& band) {
    return LogJson::array({band.from_Hz, band.to_Hz, band.rms, band.u_fraction});
  }
  static NoiseBand value(const LogJson& json) {
    return {json.at(0).get<double>(), json.at(1).get<double>(), json.at(2).get<double>(), json.at(3).get<double>()};
  }
};

template <>
struct KeptAs<Adapters> {
  static LogJson json(const Adapters& adapters) { return LogJson::parse(text_of(adapters)); }
  static Adapters value(const LogJson& json) { return adapters_of(json.dump()); }
};

template <typename T>
LogJson kept_json(const T& value) {
  return KeptAs<T>::json(value);
}

template <typename T>
T kept_in(const LogJson& json) {
  return KeptAs<T>::value(json);
}

/// What `read` gives. @throws what `as_error` makes of the trouble if the text cannot be read.
template <typename Read, typename AsError>
auto checked_json(Read read, AsError as_error) {
  try {
    return read();
  } catch (const nlohmann::json::exception& error) {
    throw as_error(error.what());
  } catch (const UnknownName& unknown) {
    throw as_error(fmt::format("'{}' is not {}", unknown.text, unknown.wanted));
  }
}

}  // namespace counterspot
