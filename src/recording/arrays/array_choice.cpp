#include "recording/arrays/array_choice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <map>

#include "counterspot/units/error.hpp"
#include "recording/column_units.hpp"
#include "recording/columns_taken.hpp"

namespace counterspot {

namespace {

constexpr std::size_t most_channels = 256;

/// An array as a recording may hold it.
struct Shape {
  std::size_t frames = 0;  ///< 0: it is none
  std::size_t channels = 0;
  bool one_by_one = true;  ///< the values of a channel are neighbours in the file
};

Shape shape_of(const ArrayInfo& array) {
  std::vector<std::size_t> axes;
  for (const std::size_t length : array.shape) {
    if (length == 0) return {};
    if (length > 1) axes.push_back(length);
  }
  if (axes.empty()) return {1, 1};
  if (axes.size() == 1) return {axes[0], 1};
  const auto [channels, frames] = std::minmax(axes[0], axes[1]);
  if (axes.size() > 2 || channels > most_channels || channels == frames) return {};
  return {frames, channels, array.first_axis_fastest == (axes[0] == frames)};
}

std::string lengths_of(const ArrayInfo& array) {
  std::string lengths;
  for (const std::size_t length : array.shape)
    if (length != 1) lengths += fmt::format("{}{}", lengths.empty() ? "" : " x ", length);
  return lengths.empty() ? "one value" : lengths + " values";
}

/// "vibration", "data 2", "3": the arrays' own names, and numbers for the channels within one.
std::string channel_name(const ArrayInfo& array, std::size_t column, std::size_t columns) {
  if (array.name.empty()) return std::to_string(column + 1);
  return columns == 1 ? array.name : fmt::format("{} {}", array.name, column + 1);
}

/// Whether a rig calls a channel by a name and not by its number.
bool has_name(const std::string& channel) {
  return channel.find_first_not_of("0123456789") != std::string::npos;
}

/// Whether a rig's word for a channel means this array, or a channel of it.
bool is_meant(const std::string& word, const ArrayInfo& array) {
  return names_channel(word, array.name) || (word.size() > array.name.size() && !array.name.empty() &&
                                             word.starts_with(array.name) && word[array.name.size()] == ' ');
}

/// The length of the recording.
std::size_t frames_of(const ArrayFile& file, const std::vector<Shape>& shapes, const RecordingOptions& options) {
  for (const std::string& word : options.named) {
    for (std::size_t i = 0; i < shapes.size(); ++i)
      if (shapes[i].frames > 1 && is_meant(word, file.arrays()[i])) return shapes[i].frames;
  }
  std::map<std::size_t, std::size_t> values;  // by length
  for (const Shape& shape : shapes)
    if (shape.frames > 1) values[shape.frames] += shape.frames * shape.channels;
  const auto most = std::max_element(values.begin(), values.end(),
                                     [](const auto& one, const auto& other) { return one.second < other.second; });
  return most == values.end() ? 0 : most->first;
}

/// What a single number of this name says of the rate, in Hz.
std::optional<double> rate_in(const std::string& name, double value) {
  std::string word;
  for (const char c : name.substr(name.find_last_of("/.") + 1))
    if (std::isalnum(static_cast<unsigned char>(c)) != 0)
      word += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  auto is_one_of = [&](std::initializer_list<const char*> words) {
    return std::any_of(words.begin(), words.end(), [&](const char* other) { return word == other; });
  };
  if (!(value > 0.0)) return std::nullopt;
  if (is_one_of({"fs", "fsamp", "sr", "samplerate", "samplingrate", "samplefrequency", "samplingfrequency", "fshz",
                 "sampleratehz", "samplingratehz"}))
    return value;
  if (is_one_of({"dt", "ts", "sampleinterval", "samplinginterval", "samplingperiod", "dts"})) return 1.0 / value;
  return std::nullopt;
}

class Choosing {
 public:
  Choosing(ArrayFile& file, const std::string& name, const RecordingOptions& options)
      : file_(file), name_(name), options_(options) {
    for (const ArrayInfo& array : file.arrays()) shapes_.push_back(shape_of(array));
    choice_.frames = frames_of(file, shapes_, options);
    if (choice_.frames == 0) refuse_emptiness();
  }

  ArrayChoice choice() && {
    for (std::size_t i = 0; i < shapes_.size(); ++i) {
      if (shapes_[i].frames == choice_.frames) add_series(i);
    }
    name_channels();
    state_units(choice_.channels, name_, options_.format);
    choice_.time = find_time_column(choice_.channels, {}, name_, options_.format);
    for (std::size_t i = 0; i < shapes_.size(); ++i) {
      if (shapes_[i].frames != choice_.frames) look_at_other(i);
    }
    for (const NoNumbers& other : file_.others())
      choice_.taken.push_back({fmt::format("'{}'", other.name), other.what + ", left out"});
    return std::move(choice_);
  }

 private:
  void add_series(std::size_t index) {
    const ArrayInfo& array = file_.arrays()[index];
    const Shape& shape = shapes_[index];
    for (std::size_t c = 0; c < shape.channels; ++c)
      choice_.series.push_back({index, c, shape.channels, shape.one_by_one});
    if (array.sample_rate_Hz && !choice_.sample_rate_Hz) choice_.sample_rate_Hz = array.sample_rate_Hz;
  }

  void name_channels() {
    std::vector<std::string> names;
    for (const Series& one : choice_.series)
      names.push_back(channel_name(file_.arrays()[one.array], one.column, shapes_[one.array].channels));
    choice_.channels = split_headers(names);
    for (std::size_t i = 0; i < names.size(); ++i) {
      const std::string& unit = file_.arrays()[choice_.series[i].array].unit;
      if (!unit.empty()) choice_.channels[i] = {names[i], known_unit(unit).value_or(unit), names[i]};
      if (choice_.channels[i].unit.empty() && file_.arrays()[choice_.series[i].array].whole_numbers)
        choice_.channels[i].unit = "counts";  // of a converter, most likely; never volts by default
    }
  }

  void look_at_other(std::size_t index) {
    const ArrayInfo& array = file_.arrays()[index];
    const std::string what = fmt::format("'{}'", array.name);
    if (shapes_[index].frames == 1 && !choice_.time && !choice_.sample_rate_Hz) {
      double value = 0.0;
      file_.read(index, 0, {&value, 1});
      choice_.sample_rate_Hz = rate_in(array.name, value);
      if (choice_.sample_rate_Hz) {
        choice_.taken.push_back({what, fmt::format("the rate: {} Hz", *choice_.sample_rate_Hz)});
        return;
      }
    }
    if (shapes_[index].channels == 1 && shapes_[index].frames > 1 && has_name(options_.tach) &&
        names_channel(options_.tach, array.name)) {
      choice_.edges = index;
      choice_.taken.push_back({what, fmt::format("{} times of the tach's edges, in s", shapes_[index].frames)});
      return;
    }
    if (shapes_[index].channels == 1 && shapes_[index].frames > 1)
      choice_.others.push_back({array.name, static_cast<std::int64_t>(shapes_[index].frames)});
    choice_.taken.push_back({what, lengths_of(array) + ", left out"});
  }

  [[noreturn]] void refuse_emptiness() const {
    std::string held;
    for (const ArrayInfo& array : file_.arrays())
      held += fmt::format("{}'{}' ({})", held.empty() ? "" : ", ", array.name, lengths_of(array));
    for (const NoNumbers& other : file_.others())
      held += fmt::format("{}'{}' ({})", held.empty() ? "" : ", ", other.name, other.what);
    throw Error(Trouble::recording, "no_data",
                fmt::format("{} holds no samples; it has {}", name_, held.empty() ? "nothing" : held),
                "save each channel as an array of numbers with one axis, or all as one with two axes, of which the "
                "longer is time");
  }

  ArrayFile& file_;
  const std::string& name_;
  const RecordingOptions& options_;
  std::vector<Shape> shapes_;
  ArrayChoice choice_;
};

}  // namespace

ArrayChoice choose_arrays(ArrayFile& file, const std::string& name, const RecordingOptions& options) {
  return Choosing(file, name, options).choice();
}

}  // namespace counterspot
