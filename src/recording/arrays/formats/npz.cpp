#include <unistd.h>
#include <zip.h>

#include <algorithm>
#include <bit>
#include <cstdint>
#include <vector>

#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/arrays/array_writer.hpp"

namespace counterspot {

namespace {

struct CloseZip {
  void operator()(zip_t* zip) const { zip_discard(zip); }
};
struct CloseEntry {
  void operator()(zip_file_t* entry) const { zip_fclose(entry); }
};

constexpr std::size_t most_runs = 64;

/// One array of an archive. What is compressed can only be read on from where a run has come to: there is a run for
/// each place that is read from in turn, as with the channels of an array that holds them one behind the other.
class ZipBytes final : public StoredBytes {
 public:
  ZipBytes(std::shared_ptr<zip_t> zip, const zip_stat_t& entry, std::string file, std::string array)
      : zip_(std::move(zip)),
        index_(entry.index),
        size_(entry.size),
        stored_(entry.comp_method == ZIP_CM_STORE),
        file_(std::move(file)),
        array_(std::move(array)) {}

  std::uint64_t size() const override { return size_; }

  void read(std::uint64_t offset, std::span<char> bytes) override {
    Run& run = run_at(offset);
    fill(run, bytes);
  }

 private:
  struct Run {
    std::unique_ptr<zip_file_t, CloseEntry> entry;
    std::uint64_t at = 0;
  };

  Run& run_at(std::uint64_t offset) {
    for (Run& run : runs_)
      if (run.at == offset) return run;
    if (runs_.size() == most_runs) runs_.erase(runs_.begin());
    Run run{std::unique_ptr<zip_file_t, CloseEntry>(zip_fopen_index(zip_.get(), index_, 0)), 0};
    if (!run.entry) throw unreadable_array(file_, array_);
    if (stored_ && offset > 0) {
      if (zip_fseek(run.entry.get(), static_cast<zip_int64_t>(offset), SEEK_SET) != 0)
        throw unreadable_array(file_, array_);
      run.at = offset;
    }
    std::vector<char> passed_over(std::size_t{1} << 16U);
    while (run.at < offset)
      fill(run, std::span(passed_over).first(std::min<std::uint64_t>(passed_over.size(), offset - run.at)));
    runs_.push_back(std::move(run));
    return runs_.back();
  }

  void fill(Run& run, std::span<char> bytes) const {
    while (!bytes.empty()) {
      const zip_int64_t got = zip_fread(run.entry.get(), bytes.data(), bytes.size());
      if (got <= 0) throw unreadable_array(file_, array_);
      bytes = bytes.subspan(static_cast<std::size_t>(got));
      run.at += static_cast<std::uint64_t>(got);
    }
  }

  std::shared_ptr<zip_t> zip_;
  std::uint64_t index_;
  std::uint64_t size_;
  bool stored_;  ///< as it is, so that it can be sought in
  std::string file_;
  std::string array_;
  std::vector<Run> runs_;
};

void open_npz(int descriptor, const std::string& file, std::vector<NamedBytes>& arrays) {
  int trouble = 0;
  const int own = ::dup(descriptor);
  zip_t* opened = zip_fdopen(own, 0, &trouble);
  if (opened == nullptr) {
    ::close(own);
    throw damaged_head(file);
  }
  const std::shared_ptr<zip_t> zip(opened, CloseZip{});
  const zip_int64_t entries = zip_get_num_entries(opened, 0);
  for (zip_uint64_t i = 0; i < static_cast<zip_uint64_t>(std::max<zip_int64_t>(entries, 0)); ++i) {
    zip_stat_t stat;
    constexpr zip_uint64_t wanted = ZIP_STAT_NAME | ZIP_STAT_INDEX | ZIP_STAT_SIZE | ZIP_STAT_COMP_METHOD;
    if (zip_stat_index(opened, i, 0, &stat) != 0 || (stat.valid & wanted) != wanted) throw damaged_head(file);
    std::string name = stat.name;
    constexpr std::string_view ending = ".npy";
    if (!name.ends_with(ending)) continue;
    name.resize(name.size() - ending.size());
    arrays.push_back({name, std::make_unique<ZipBytes>(zip, stat, file, name)});
  }
  if (arrays.empty()) {
    throw Error(Trouble::recording, "no_data", file + " is an archive that holds no NumPy array",
                "take the recording out of the archive, and name that");
  }
}

/// Code points of a text in UTF-8; what is none stands for itself.
std::u32string code_points(const std::string& text) {
  std::u32string points;
  for (std::size_t at = 0; at < text.size();) {
    const auto lead = static_cast<unsigned char>(text[at++]);
    int more = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    char32_t point = more == 0 ? lead : lead & (0x3FU >> static_cast<unsigned>(more));
    for (; more > 0 && at < text.size(); --more) point = point << 6U | (static_cast<unsigned char>(text[at++]) & 0x3FU);
    points += point;
  }
  return points;
}

std::string npy_head(const std::string& descr, std::size_t count) {
  std::string head = "{'descr': '" + descr + "', 'fortran_order': False, 'shape': (" + std::to_string(count) + ",), }";
  const std::size_t length =
      (10 + head.size() + 1 + 63) / 64 * 64 - 10;  // so that the values begin at a multiple of 64
  head.resize(length - 1, ' ');
  head += '\n';
  std::string magic(npy_magic);
  magic += '\1';
  magic += '\0';
  magic += static_cast<char>(length & 0xFFU);
  magic += static_cast<char>(length >> 8U);
  return magic + head;
}

std::string npy_of(const NamedColumn& column) {
  if (column.texts.empty()) {
    std::string bytes = npy_head(std::endian::native == std::endian::big ? ">f8" : "<f8", column.numbers.size());
    return bytes.append(reinterpret_cast<const char*>(column.numbers.data()), column.numbers.size() * sizeof(double));
  }
  std::vector<std::u32string> texts;
  std::size_t longest = 1;
  for (const std::string& text : column.texts)
    longest = std::max(longest, texts.emplace_back(code_points(text)).size());
  std::string bytes =
      npy_head((std::endian::native == std::endian::big ? ">U" : "<U") + std::to_string(longest), texts.size());
  for (std::u32string& text : texts) {
    text.resize(longest);
    bytes.append(reinterpret_cast<const char*>(text.data()), longest * sizeof(char32_t));
  }
  return bytes;
}

void write_npz(const std::vector<NamedColumn>& columns, std::string& bytes) {
  const auto failed = [] {
    return Error(Trouble::machine, "write_failed", "the archive of arrays cannot be made", "end the name with .csv");
  };
  zip_source_t* whole = zip_source_buffer_create(nullptr, 0, 0, nullptr);
  zip_t* zip = whole == nullptr ? nullptr : zip_open_from_source(whole, ZIP_CREATE | ZIP_TRUNCATE, nullptr);
  if (zip == nullptr) throw failed();
  zip_source_keep(whole);
  const std::unique_ptr<zip_source_t, decltype(&zip_source_free)> kept(whole, zip_source_free);
  std::unique_ptr<zip_t, CloseZip> open(zip);
  std::vector<std::string> arrays;  // until the archive is closed
  for (const NamedColumn& column : columns) arrays.push_back(npy_of(column));
  for (std::size_t i = 0; i < columns.size(); ++i) {
    zip_source_t* part = zip_source_buffer(zip, arrays[i].data(), arrays[i].size(), 0);
    const std::string name = columns[i].name + ".npy";
    const zip_int64_t index = part == nullptr ? -1 : zip_file_add(zip, name.c_str(), part, ZIP_FL_ENC_UTF_8);
    if (index < 0 || zip_set_file_compression(zip, static_cast<zip_uint64_t>(index), ZIP_CM_STORE, 0) != 0)
      throw failed();
    zip_file_set_mtime(zip, static_cast<zip_uint64_t>(index), 315532800,
                       0);  // 1980: the same results are the same bytes
  }
  if (zip_close(open.release()) != 0) throw failed();
  zip_stat_t stat;
  if (zip_source_stat(whole, &stat) != 0 || zip_source_open(whole) != 0) throw failed();
  bytes.resize(stat.size);
  const zip_int64_t got = zip_source_read(whole, bytes.data(), bytes.size());
  zip_source_close(whole);
  if (got != static_cast<zip_int64_t>(bytes.size())) throw failed();
}

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_write_npz(
    const std::vector<counterspot::NamedColumn>& columns, std::string& bytes) {
  counterspot::write_npz(columns, bytes);
}

extern "C" __attribute__((visibility("default"))) void counterspot_open_npz(
    int descriptor, const std::string& file, std::vector<counterspot::NamedBytes>& arrays) {
  counterspot::open_npz(descriptor, file, arrays);
}
