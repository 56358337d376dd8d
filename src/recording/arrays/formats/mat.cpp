#include <fmt/format.h>
#include <matio.h>
#include <sys/mman.h>
#include <unistd.h>

#include <algorithm>
#include <bit>
#include <cctype>
#include <cstdint>

#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/arrays/array_writer.hpp"
#include "recording/arrays/formats/mat_elements.hpp"
#include "recording/arrays/numbers.hpp"

namespace counterspot {

namespace {

struct CloseMat {
  void operator()(mat_t* file) const { Mat_Close(file); }
};
struct FreeVariable {
  void operator()(matvar_t* variable) const { Mat_VarFree(variable); }
};
using Variable = std::unique_ptr<matvar_t, FreeVariable>;

/// The type that the library gives the values of a variable in.
std::optional<NumberType> number_type(const matvar_t& variable) {
  using Kind = NumberType::Kind;
  const bool big = std::endian::native == std::endian::big;
  switch (variable.class_type) {
    case MAT_C_DOUBLE: return NumberType{Kind::floating, 8, big};
    case MAT_C_SINGLE: return NumberType{Kind::floating, 4, big};
    case MAT_C_INT8: return NumberType{Kind::signed_whole, 1, big};
    case MAT_C_INT16: return NumberType{Kind::signed_whole, 2, big};
    case MAT_C_INT32: return NumberType{Kind::signed_whole, 4, big};
    case MAT_C_INT64: return NumberType{Kind::signed_whole, 8, big};
    case MAT_C_UINT8: return NumberType{Kind::unsigned_whole, 1, big};
    case MAT_C_UINT16: return NumberType{Kind::unsigned_whole, 2, big};
    case MAT_C_UINT32: return NumberType{Kind::unsigned_whole, 4, big};
    case MAT_C_UINT64: return NumberType{Kind::unsigned_whole, 8, big};
    default: return std::nullopt;
  }
}

std::string what_it_is(const matvar_t& variable) {
  switch (variable.class_type) {
    case MAT_C_CHAR: return "text";
    case MAT_C_CELL: return "a cell array, whose parts are not looked into";
    case MAT_C_SPARSE: return "a sparse matrix";
    case MAT_C_FUNCTION: return "a function";
    default: return "an object";
  }
}

/// A part of a compressed array that has been read.
struct Piece {
  std::size_t array = 0;
  std::size_t first = 0;
  std::vector<double> values;
};

/// Variables of a MATLAB file of level 5, and the fields of structures in it, through MATIO, which reads few values at
/// a time: those that stand in the file as they are we read past it. A part of a compressed variable can only be had by
/// going through all that stands before it, so that large pieces of these are read at once.
class MatFile final : public ArrayFile {
 public:
  MatFile(int descriptor, const std::string& file)
      : file_(file), bytes_(stored_bytes(descriptor, file)), plain_(plain_variables(*bytes_, file)) {
    [[maybe_unused]] static const int quiet = Mat_LogInitFunc("counterspot", [](int, char*) {});  // we say it
    mat_.reset(Mat_Open(fmt::format("/proc/self/fd/{}", descriptor).c_str(), MAT_ACC_RDONLY));
    if (!mat_) throw damaged_head(file_);
    format_ = "MATLAB";
    while (Variable variable{Mat_VarReadNextInfo(mat_.get())}) {
      add(*variable, variable->name == nullptr ? "" : variable->name);
      variables_.push_back(std::move(variable));
    }
    if (variables_.empty()) throw damaged_head(file_);
  }

  void read(std::size_t array, std::size_t first, std::span<double> values) override {
    const Known& known = known_.at(array);
    if (known.plain) return read_numbers(*bytes_, *known.plain, first, values, stored_);
    if (known.variable->compression == MAT_COMPRESSION_NONE) return read_stored(array, first, values);
    for (std::size_t done = 0; done < values.size();) {
      const Piece& piece = piece_with(array, first + done);
      const std::size_t skipped = first + done - piece.first;
      const std::size_t count = std::min(values.size() - done, piece.values.size() - skipped);
      std::copy_n(piece.values.begin() + static_cast<std::ptrdiff_t>(skipped), count,
                  values.begin() + static_cast<std::ptrdiff_t>(done));
      done += count;
    }
  }

 private:
  struct Known {
    matvar_t* variable;
    NumberType type;
    std::optional<StoredNumbers> plain = {};
  };

  static constexpr std::size_t most_in_piece = std::size_t{1} << 22U;
  static constexpr std::size_t most_pieces = 64;
  static constexpr int deepest = 8;
  static constexpr std::size_t most_values = 0x7FFFFFFF;  // that the library counts to

  void add(matvar_t& variable, const std::string& name, int depth = 0) {
    if (variable.class_type == MAT_C_STRUCT && depth < deepest) return add_fields(variable, name, depth);
    const auto type = number_type(variable);
    std::size_t values = 1;
    for (int i = 0; i < variable.rank; ++i)
      values = std::min(values * std::min(variable.dims[i], most_values), most_values + 1);
    if (!type || variable.isComplex != 0 || values > most_values) {
      others_.push_back({name, !type                     ? what_it_is(variable)
                               : variable.isComplex != 0 ? "complex numbers"
                                                         : "more values than the format allows"});
      return;
    }
    ArrayInfo info;
    info.name = name;
    info.shape.assign(variable.dims, variable.dims + variable.rank);
    info.first_axis_fastest = true;
    info.type = words_of(*type);
    info.digits = digits_of(*type);
    info.whole_numbers = type->kind != NumberType::Kind::floating;
    arrays_.push_back(std::move(info));
    known_.push_back({&variable, *type});
    known_.back().plain = plain_numbers(known_.back(), name, values);
  }

  /// Where the values of a variable stand, unless several have its name. Numbers stored as another type than the
  /// variable's are read as they are if its type is double, which is how whole ones are saved in few bytes; else the
  /// library makes them the variable's. It would also take what follows in the file for values that are missing.
  std::optional<StoredNumbers> plain_numbers(const Known& known, const std::string& name, std::size_t values) const {
    const auto named = [&](const PlainVariable& plain) { return plain.name == name; };
    const auto found = std::find_if(plain_.begin(), plain_.end(), named);
    if (known.variable->compression != MAT_COMPRESSION_NONE || found == plain_.end() ||
        std::find_if(found + 1, plain_.end(), named) != plain_.end())
      return std::nullopt;
    if (found->count != values) throw unreadable_array(file_, name);
    const NumberType& stored = found->numbers.type;
    const bool own = stored.kind == known.type.kind && stored.bytes == known.type.bytes;
    return own || is_double(known.type) ? std::optional(found->numbers) : std::nullopt;
  }

  /// Of a structure that stands once: an array of structures has no one value by a name.
  void add_fields(matvar_t& variable, const std::string& name, int depth) {
    std::size_t count = 1;
    for (int i = 0; i < variable.rank; ++i) count *= variable.dims[i];
    if (count != 1) {
      others_.push_back({name, fmt::format("{} structures", count)});
      return;
    }
    const unsigned fields = Mat_VarGetNumberOfFields(&variable);
    char* const* names = Mat_VarGetStructFieldnames(&variable);
    for (unsigned i = 0; i < fields; ++i) {
      matvar_t* field = Mat_VarGetStructFieldByIndex(&variable, i, 0);
      if (field != nullptr && names != nullptr) add(*field, name + "." + names[i], depth + 1);
    }
  }

  const Piece& piece_with(std::size_t array, std::size_t at) {
    Piece* old = nullptr;
    for (Piece& piece : pieces_) {
      if (piece.array != array || at < piece.first || at > piece.first + piece.values.size()) continue;
      if (at < piece.first + piece.values.size()) return piece;
      old = &piece;  // it goes on where this one ended
    }
    if (old == nullptr) {
      if (pieces_.size() == most_pieces) pieces_.erase(pieces_.begin());
      old = &pieces_.emplace_back();
    }
    old->array = array;
    old->first = at;
    read_piece(*old);
    return *old;
  }

  void read_piece(Piece& piece) {
    std::size_t all = 1;
    for (const std::size_t length : arrays_[piece.array].shape) all *= length;
    piece.values.resize(std::min(most_in_piece, all - piece.first));
    read_stored(piece.array, piece.first, piece.values);
  }

  void read_stored(std::size_t array, std::size_t first, std::span<double> values) {
    const Known& known = known_[array];
    const bool sound = is_double(known.type) ? read_doubles(known, first, values) : read_others(known, first, values);
    if (!sound) throw unreadable_array(file_, arrays_[array].name);
  }

  // The library says nothing of values that it could not read, and leaves their memory as it was. So it is given memory
  // whose content shows.

  bool read_doubles(const Known& known, std::size_t first, std::span<double> values) {
    constexpr std::uint64_t not_read = 0x7FFC'0123'4567'89AB;  // a NaN that nobody writes
    std::fill(values.begin(), values.end(), std::bit_cast<double>(not_read));
    if (!read_bytes(known, first, values.size(), values.data())) return false;
    return std::none_of(values.begin(), values.end(),
                        [](double value) { return std::bit_cast<std::uint64_t>(value) == not_read; });
  }

  bool read_others(const Known& known, std::size_t first, std::span<double> values) {
    const std::size_t bytes = values.size() * known.type.bytes;
    stored_.assign(bytes, '\x55');
    std::vector<char> again(bytes, '\x2A');
    if (!read_bytes(known, first, values.size(), stored_.data()) ||
        !read_bytes(known, first, values.size(), again.data()) || stored_ != again)
      return false;
    decode_numbers(stored_.data(), known.type.bytes, known.type, values);
    return true;
  }

  bool read_bytes(const Known& known, std::size_t first, std::size_t count, void* into) {
    return Mat_VarReadDataLinear(mat_.get(), known.variable, into, static_cast<int>(first), 1,
                                 static_cast<int>(count)) == 0;
  }

  std::string file_;
  std::unique_ptr<StoredBytes> bytes_;
  std::vector<PlainVariable> plain_;
  std::unique_ptr<mat_t, CloseMat> mat_;
  std::vector<Variable> variables_;
  std::vector<Known> known_;  ///< of each of `arrays_`
  std::vector<Piece> pieces_;
  std::vector<char> stored_;
};

/// A letter, then letters, digits and underlines, at most 63 in all.
std::string variable_name(const std::string& name) {
  std::string made;
  for (const char c : name) {
    const bool kept = std::isalnum(static_cast<unsigned char>(c)) != 0;
    if (kept) made += c;
    if (!kept && !made.empty() && made.back() != '_') made += '_';
  }
  while (made.ends_with('_')) made.pop_back();
  if (made.empty() || std::isdigit(static_cast<unsigned char>(made[0])) != 0) made.insert(0, "x");
  return made.substr(0, 63);
}

/// The library copies values that it takes as if it changed them.
Variable variable_of(NamedColumn column) {
  const std::string name = variable_name(column.name);
  std::size_t dims[2] = {column.numbers.size(), 1};
  if (column.texts.empty())
    return Variable(Mat_VarCreate(name.c_str(), MAT_C_DOUBLE, MAT_T_DOUBLE, 2, dims, column.numbers.data(), 0));
  dims[0] = column.texts.size();
  Variable cells(Mat_VarCreate(name.c_str(), MAT_C_CELL, MAT_T_CELL, 2, dims, nullptr, 0));
  for (std::size_t i = 0; cells && i < column.texts.size(); ++i) {
    std::size_t length[2] = {1, column.texts[i].size()};
    Mat_VarSetCell(cells.get(), static_cast<int>(i),
                   Mat_VarCreate(nullptr, MAT_C_CHAR, MAT_T_UTF8, 2, length, column.texts[i].data(), 0));
  }
  return cells;
}

/// The library writes to files alone: here to one in memory.
void write_mat(const std::vector<NamedColumn>& columns, std::string& bytes) {
  const auto failed = [] {
    return Error(Trouble::machine, "write_failed", "the MATLAB file cannot be made", "end the name with .csv");
  };
  const int memory = ::memfd_create("arrays", MFD_CLOEXEC);
  if (memory < 0) throw failed();
  const std::unique_ptr<const int, void (*)(const int*)> closes(&memory, [](const int* open) { ::close(*open); });
  std::unique_ptr<mat_t, CloseMat> file(
      Mat_CreateVer(fmt::format("/proc/self/fd/{}", memory).c_str(), nullptr, MAT_FT_MAT5));
  if (!file) throw failed();
  for (const NamedColumn& column : columns) {
    const Variable variable = variable_of(column);
    if (!variable || Mat_VarWrite(file.get(), variable.get(), MAT_COMPRESSION_NONE) != 0) throw failed();
  }
  file.reset();
  const off_t size = ::lseek(memory, 0, SEEK_END);
  bytes.resize(static_cast<std::size_t>(std::max<off_t>(size, 0)));
  if (size <= 0 || ::pread(memory, bytes.data(), bytes.size(), 0) != size) throw failed();
}

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_write_mat(
    const std::vector<counterspot::NamedColumn>& columns, std::string& bytes) {
  counterspot::write_mat(columns, bytes);
}

extern "C" __attribute__((visibility("default"))) void counterspot_open_mat(
    int descriptor, const std::string& file, std::unique_ptr<counterspot::ArrayFile>& arrays) {
  arrays = std::make_unique<counterspot::MatFile>(descriptor, file);
}
