#include <unistd.h>
#include <zip.h>

#include <cstdint>
#include <vector>

#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/array_formats.hpp"

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

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_open_npz(
    int descriptor, const std::string& file, std::vector<counterspot::NamedBytes>& arrays) {
  counterspot::open_npz(descriptor, file, arrays);
}
