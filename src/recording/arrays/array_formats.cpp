#include "recording/arrays/array_formats.hpp"

#include <fmt/format.h>

#include "counterspot/units/error.hpp"
#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/universal.hpp"
#include "units/part.hpp"

namespace counterspot {

namespace {

/// Arrays as NumPy writes them, each of one file or of one part of an archive.
class NpyFile final : public ArrayFile {
 public:
  NpyFile(std::vector<NamedBytes> parts, const std::string& file, const std::string& format) {
    format_ = format;
    for (NamedBytes& part : parts) {
      npys_.push_back(std::make_unique<NpyArrays>(std::move(part.bytes), part.name, file));
      NpyArrays& npy = *npys_.back();
      for (std::size_t i = 0; i < npy.fields().size(); ++i) {
        arrays_.push_back(npy.fields()[i].info);
        where_.push_back({&npy, i});
      }
      others_.insert(others_.end(), npy.others().begin(), npy.others().end());
    }
  }

  void read(std::size_t array, std::size_t first, std::span<double> values) override {
    where_.at(array).npy->read(where_[array].field, first, values);
  }

 private:
  struct Where {
    NpyArrays* npy;
    std::size_t field;
  };
  std::vector<std::unique_ptr<NpyArrays>> npys_;
  std::vector<Where> where_;
};

/// What reads a kind of file, loaded when the first of it is opened.
void* reader(const char* part, const char* function, const std::string& file, const std::string& kind,
             const std::string& package) {
  try {
    return function_of_part(part, function, "no_reader", "that reads " + kind);
  } catch (const Error&) {
    throw Error(
        Trouble::machine, "no_reader", fmt::format("{} is {}, which this build does not read", file, kind),
        fmt::format("install the package {} and build again, or save the recording as .npy, WAV or CSV", package));
  }
}

std::vector<NamedBytes> archive(ByteSource& source) {
  static void* const open = reader("libcounterspot_npz.so", "counterspot_open_npz", source.name(),
                                   "an archive of NumPy arrays", "libzip-dev");
  std::vector<NamedBytes> arrays;
  reinterpret_cast<OpenArchive>(open)(source.descriptor(), source.name(), arrays);
  return arrays;
}

std::unique_ptr<ArrayFile> arrays_of(ByteSource& source, void* open) {
  std::unique_ptr<ArrayFile> arrays;
  reinterpret_cast<OpenArrays>(open)(source.descriptor(), source.name(), arrays);
  return arrays;
}

}  // namespace

ArrayFormat array_format(std::string_view head) {
  if (head.starts_with(npy_magic)) return ArrayFormat::npy;
  if (head.starts_with("PK\x03\x04")) return ArrayFormat::npz;
  constexpr std::string_view hdf5_magic("\x89HDF\r\n\x1a\n", 8);
  // Before it may stand a block of the writer's own, of 512 bytes or that times a power of two.
  for (std::size_t at = 0; at < head.size(); at = at == 0 ? 512 : 2 * at)
    if (head.substr(at).starts_with(hdf5_magic)) return ArrayFormat::hdf5;
  if (is_universal(head)) return ArrayFormat::universal;
  const std::string_view order = head.size() < 128 ? std::string_view{} : head.substr(124, 4);
  if (order == std::string_view("\0\1IM", 4) || order == std::string_view("\1\0MI", 4)) return ArrayFormat::matlab;
  return ArrayFormat::none;
}

std::unique_ptr<ArrayFile> open_array_file(ByteSource& source, ArrayFormat format) {
  if (!source.size()) source.spool();
  const std::string& name = source.name();
  if (format == ArrayFormat::npy) {
    std::vector<NamedBytes> parts;
    parts.push_back({"", stored_bytes(source.descriptor(), name)});
    return std::make_unique<NpyFile>(std::move(parts), name, "NumPy");
  }
  if (format == ArrayFormat::universal)
    return std::make_unique<UniversalFile>(stored_bytes(source.descriptor(), name), name);
  if (format == ArrayFormat::npz) return std::make_unique<NpyFile>(archive(source), name, "NumPy, several arrays");
  if (format == ArrayFormat::matlab) {
    static void* const open =
        reader("libcounterspot_mat.so", "counterspot_open_mat", name, "a MATLAB file", "libmatio-dev");
    return arrays_of(source, open);
  }
  static void* const open =
      reader("libcounterspot_hdf5.so", "counterspot_open_hdf5", name, "an HDF5 file", "libhdf5-dev");
  return arrays_of(source, open);
}

}  // namespace counterspot
