#include <fcntl.h>
#include <fmt/format.h>
#include <hdf5.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstring>
#include <mutex>
#include <utility>

#include "recording/arrays/array_errors.hpp"
#include "recording/arrays/array_formats.hpp"
#include "recording/arrays/numbers.hpp"

namespace counterspot {

namespace {

/// A thing of the library's, closed when it is done with.
class Handle {
 public:
  Handle(hid_t id, herr_t (*close)(hid_t)) : id_(id), close_(close) {}
  Handle(Handle&& other) noexcept : id_(std::exchange(other.id_, -1)), close_(other.close_) {}
  Handle& operator=(Handle&& other) noexcept {
    std::swap(id_, other.id_);
    std::swap(close_, other.close_);
    return *this;
  }
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  ~Handle() {
    if (id_ >= 0) close_(id_);
  }
  hid_t id() const { return id_; }
  bool is_open() const { return id_ >= 0; }

 private:
  hid_t id_;
  herr_t (*close_)(hid_t);
};

std::optional<NumberType> number_type(hid_t type) {
  const H5T_class_t kind = H5Tget_class(type);
  if (kind != H5T_INTEGER && kind != H5T_FLOAT) return std::nullopt;
  NumberType number;
  number.bytes = H5Tget_size(type);
  number.kind = kind == H5T_FLOAT                   ? NumberType::Kind::floating
                : H5Tget_sign(type) == H5T_SGN_NONE ? NumberType::Kind::unsigned_whole
                                                    : NumberType::Kind::signed_whole;
  return number;
}

std::string what_it_is(hid_t type) {
  switch (H5Tget_class(type)) {
    case H5T_STRING: return "text";
    case H5T_COMPOUND: return "records of several values, which are not looked into";
    default: return "no numbers";
  }
}

constexpr std::size_t longest_text = 256;

std::string long_text(hid_t attribute, hid_t type) {
  char* text = nullptr;
  if (H5Aread(attribute, type, &text) < 0 || text == nullptr) return {};
  std::string kept(text, ::strnlen(text, longest_text));
  H5free_memory(text);
  return kept;
}

/// A text that hangs on a dataset.
std::optional<std::string> text_attribute(hid_t dataset, const char* name) {
  if (H5Aexists(dataset, name) <= 0) return std::nullopt;
  const Handle attribute(H5Aopen(dataset, name, H5P_DEFAULT), H5Aclose);
  if (!attribute.is_open()) return std::nullopt;
  const Handle type(H5Aget_type(attribute.id()), H5Tclose);
  const Handle space(H5Aget_space(attribute.id()), H5Sclose);
  if (H5Tget_class(type.id()) != H5T_STRING || H5Sget_simple_extent_npoints(space.id()) != 1) return std::nullopt;
  if (H5Tis_variable_str(type.id()) > 0) return long_text(attribute.id(), type.id());
  const std::size_t size = H5Tget_size(type.id());
  std::string text(size, '\0');
  if (size > longest_text || H5Aread(attribute.id(), type.id(), text.data()) < 0) return std::nullopt;
  return text.substr(0, text.find('\0'));
}

std::optional<double> number_attribute(hid_t dataset, const char* name) {
  if (H5Aexists(dataset, name) <= 0) return std::nullopt;
  const Handle attribute(H5Aopen(dataset, name, H5P_DEFAULT), H5Aclose);
  if (!attribute.is_open()) return std::nullopt;
  const Handle type(H5Aget_type(attribute.id()), H5Tclose);
  const Handle space(H5Aget_space(attribute.id()), H5Sclose);
  double value = 0.0;
  if (!number_type(type.id()) || H5Sget_simple_extent_npoints(space.id()) != 1 ||
      H5Aread(attribute.id(), H5T_NATIVE_DOUBLE, &value) < 0)
    return std::nullopt;
  return value;
}

/// Datasets of a file with their paths as names; MATLAB from version 7.3 on writes such files too.
class Hdf5File final : public ArrayFile {
 public:
  Hdf5File(int descriptor, const std::string& file) : file_(file) {
    H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);  // what it has to say goes into our own words
    opened_ = open(descriptor);
    if (!opened_.is_open()) opened_ = open_copy(descriptor);
    if (!opened_.is_open()) throw damaged_head(file_);
    format_ = "HDF5";
    const auto visit = [](hid_t, const char* name, const H5L_info_t*, void* self) {
      return static_cast<Hdf5File*>(self)->add(name) ? 0 : 1;
    };
    if (H5Lvisit(opened_.id(), H5_INDEX_NAME, H5_ITER_NATIVE, visit, this) < 0) throw damaged_head(file_);
  }

  ~Hdf5File() override {
    datasets_.clear();
    opened_ = Handle(-1, H5Fclose);
  }
  Hdf5File(const Hdf5File&) = delete;
  Hdf5File& operator=(const Hdf5File&) = delete;
  Hdf5File(Hdf5File&&) = delete;
  Hdf5File& operator=(Hdf5File&&) = delete;

  void read(std::size_t array, std::size_t first, std::span<double> values) override {
    const Handle& dataset = datasets_.at(array);
    const std::vector<std::size_t>& shape = arrays_[array].shape;
    const Handle space(H5Dget_space(dataset.id()), H5Sclose);
    if (!shape.empty() && !select(space.id(), shape, first, values.size()))
      throw unreadable_array(file_, arrays_[array].name);
    const hsize_t count = values.size();
    const Handle memory(H5Screate_simple(1, &count, nullptr), H5Sclose);
    if (H5Dread(dataset.id(), H5T_NATIVE_DOUBLE, memory.id(), space.id(), H5P_DEFAULT, values.data()) < 0)
      throw unreadable_array(file_, arrays_[array].name);
  }

 private:
  static constexpr off_t most_copied_bytes = off_t{256} << 20U;
  static constexpr std::size_t most_arrays = 4096;
  static constexpr std::size_t cached_bytes = std::size_t{16} << 20U;  // channels one behind the other share chunks

  static Handle open(int descriptor) {
    const Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
    H5Pset_file_locking(access.id(), false, true);  // somebody may be writing notes beside it
    return {H5Fopen(fmt::format("/proc/self/fd/{}", descriptor).c_str(), H5F_ACC_RDONLY, access.id()), H5Fclose};
  }

  /// In memory: what came through a pipe has no name any more, by which alone the library opens a file.
  Handle open_copy(int descriptor) const {
    struct stat status {};
    if (::fstat(descriptor, &status) != 0 || status.st_nlink > 0) return {-1, H5Fclose};
    if (status.st_size > most_copied_bytes) {
      throw Error(Trouble::recording, "unreadable", fmt::format("{} is too long for an HDF5 file from a pipe", file_),
                  "save it to a file, and name that");
    }
    std::vector<char> bytes(static_cast<std::size_t>(status.st_size));
    const ssize_t got = ::pread(descriptor, bytes.data(), bytes.size(), 0);
    if (got != status.st_size) return {-1, H5Fclose};
    const Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose);
    H5Pset_fapl_core(access.id(), 1U << 16U, false);
    H5Pset_file_image(access.id(), bytes.data(), bytes.size());
    return {H5Fopen("copy", H5F_ACC_RDONLY, access.id()), H5Fclose};
  }

  bool add(const char* name) {
    H5O_info_t about;
    if (H5Oget_info_by_name2(opened_.id(), name, &about, H5O_INFO_BASIC, H5P_DEFAULT) < 0) return true;
    if (about.type != H5O_TYPE_DATASET) return true;
    const Handle access(H5Pcreate(H5P_DATASET_ACCESS), H5Pclose);
    H5Pset_chunk_cache(access.id(), H5D_CHUNK_CACHE_NSLOTS_DEFAULT, cached_bytes, H5D_CHUNK_CACHE_W0_DEFAULT);
    Handle dataset(H5Dopen2(opened_.id(), name, access.id()), H5Dclose);
    if (!dataset.is_open()) return true;
    const Handle type(H5Dget_type(dataset.id()), H5Tclose);
    const auto number = number_type(type.id());
    if (!number) {
      others_.push_back({name, what_it_is(type.id())});
      return true;
    }
    const Handle space(H5Dget_space(dataset.id()), H5Sclose);
    const int rank = H5Sget_simple_extent_ndims(space.id());
    std::array<hsize_t, H5S_MAX_RANK> lengths{};
    if (rank < 0 || H5Sget_simple_extent_dims(space.id(), lengths.data(), nullptr) < 0) return true;
    ArrayInfo info;
    info.name = name;
    info.shape.assign(lengths.begin(), lengths.begin() + rank);
    info.type = words_of(*number);
    info.digits = digits_of(*number);
    info.whole_numbers = number->kind != NumberType::Kind::floating;
    for (const char* unit : {"units", "unit", "Units", "Unit"})
      if (info.unit.empty()) info.unit = text_attribute(dataset.id(), unit).value_or("");
    for (const char* rate : {"sample_rate", "sampling_rate", "fs", "Fs"})
      if (!info.sample_rate_Hz) info.sample_rate_Hz = number_attribute(dataset.id(), rate);
    arrays_.push_back(std::move(info));
    datasets_.push_back(std::move(dataset));
    return arrays_.size() < most_arrays;
  }

  /// Whole rows, or a part of one.
  static bool select(hid_t space, const std::vector<std::size_t>& shape, std::size_t first, std::size_t count) {
    std::array<hsize_t, H5S_MAX_RANK> start{};
    std::array<hsize_t, H5S_MAX_RANK> extent{};
    std::size_t left = first;
    std::size_t much = count;
    for (std::size_t axis = shape.size(); axis-- > 0;) {
      start[axis] = left % shape[axis];
      left /= shape[axis];
      extent[axis] = std::min<hsize_t>(shape[axis], much);
      much = std::max<std::size_t>(1, much / shape[axis]);
    }
    return H5Sselect_hyperslab(space, H5S_SELECT_SET, start.data(), nullptr, extent.data(), nullptr) >= 0 &&
           H5Sget_select_npoints(space) == static_cast<hssize_t>(count);
  }

  std::string file_;
  Handle opened_{-1, H5Fclose};
  std::vector<Handle> datasets_;  ///< of each of `arrays_`
};

/// What is asked of the process that reads; its answer is a byte, 1 if all was well.
struct Question {
  std::size_t array = 0;
  std::size_t first = 0;
  std::size_t count = 0;
};

/// Debian's library is not made for threads.
std::mutex& one_at_a_time() {
  static std::mutex mutex;
  return mutex;
}

/// Damaged files make the library read behind its memory, follow pointers to nowhere, and go round for ever, which no
/// check before it can prevent. So a file is opened, and its values are read, in a process of its own; what that
/// process has opened without coming to harm is opened here too, for what it says of itself.
class Hdf5Process final : public ArrayFile {
 public:
  Hdf5Process(int descriptor, const std::string& file) : file_(file) {
    const std::lock_guard alone(one_at_a_time());
    values_ = ::mmap(nullptr, most_values * sizeof(double), PROT_READ | PROT_WRITE,
                     MAP_SHARED | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    int ends[2] = {-1, -1};
    if (values_ == MAP_FAILED || ::socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0) {
      end();
      throw no_process(file_);
    }
    child_ = ::fork();
    if (child_ == 0) {
      ::close(ends[0]);
      serve(descriptor, ends[1]);
    }
    ::close(ends[1]);
    line_ = ends[0];
    try {
      if (child_ < 0) throw no_process(file_);
      if (answer() != Answer::well) throw damaged_head(file_);
      const Hdf5File here(descriptor, file_);
      format_ = here.format();
      arrays_ = here.arrays();
      others_ = here.others();
    } catch (...) {
      end();
      throw;
    }
  }
  ~Hdf5Process() override { end(); }
  Hdf5Process(const Hdf5Process&) = delete;
  Hdf5Process& operator=(const Hdf5Process&) = delete;
  Hdf5Process(Hdf5Process&&) = delete;
  Hdf5Process& operator=(Hdf5Process&&) = delete;

  void read(std::size_t array, std::size_t first, std::span<double> values) override {
    const Question question{array, first, values.size()};
    if (values.size() > most_values) throw unreadable_array(file_, arrays_[array].name);
    const bool asked = ::send(line_, &question, sizeof question, MSG_NOSIGNAL) == sizeof question;
    const Answer said = asked ? answer() : Answer::gone;
    if (said == Answer::gone && ended_by_time()) throw no_end(array);
    if (said != Answer::well) throw unreadable_array(file_, arrays_[array].name);
    std::memcpy(values.data(), values_, values.size_bytes());
  }

 private:
  static constexpr std::size_t most_values = std::size_t{1} << 27U;  // address space; memory is taken as it is used
  // Of processor time: what a file says of itself is read in milliseconds; values may be packed in large pieces.
  static constexpr rlim_t seconds_to_open = 2;
  static constexpr rlim_t seconds_to_read = 30;

  static Error no_process(const std::string& file) {
    return {Trouble::machine, "no_process", fmt::format("{}: the process that reads HDF5 could not be started", file),
            "end other programs, then try again"};
  }

  Error no_end(std::size_t array) const {
    return {Trouble::recording, "unreadable",
            fmt::format("{}: a part of '{}' took more than {} s to read", file_, arrays_[array].name, seconds_to_read),
            "write it again in smaller chunks, or copy it again from where it was made: it may be damaged"};
  }

  /// Was the process, which is gone, ended for its time?
  bool ended_by_time() {
    int status = 0;
    if (::waitpid(child_, &status, 0) == child_) child_ = -1;
    return WIFSIGNALED(status) && WTERMSIG(status) == SIGXCPU;
  }

  /// Does not return.
  [[noreturn]] void serve(int descriptor, int line) {
    for (const int signal : {SIGSEGV, SIGBUS, SIGABRT, SIGFPE}) ::signal(signal, SIG_DFL);
    ::signal(SIGINT, SIG_IGN);  // its parent ends it
    char well = 1;
    try {
      allow(seconds_to_open);
      Hdf5File file(descriptor, file_);
      Question question;
      while (::send(line, &well, 1, MSG_NOSIGNAL) == 1 &&
             ::recv(line, &question, sizeof question, 0) == sizeof question) {
        allow(seconds_to_read);
        try {
          file.read(question.array, question.first, {static_cast<double*>(values_), question.count});
          well = 1;
        } catch (const Error&) {
          well = 0;
        }
      }
    } catch (...) {
      ::_exit(1);
    }
    ::_exit(0);
  }

  /// From now on; the system ends the process that takes longer.
  static void allow(rlim_t seconds) {
    rusage used{};
    ::getrusage(RUSAGE_SELF, &used);
    const rlimit limit{static_cast<rlim_t>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) + seconds, RLIM_INFINITY};
    ::setrlimit(RLIMIT_CPU, &limit);
  }

  enum class Answer { well, refused, gone };  ///< `gone`: the process has ended
  Answer answer() const {
    char well = 0;
    ssize_t got = 0;
    do got = ::recv(line_, &well, 1, 0);
    while (got < 0 && errno == EINTR);
    if (got != 1) return Answer::gone;
    return well == 1 ? Answer::well : Answer::refused;
  }

  void end() {
    if (line_ >= 0) ::close(line_);
    if (child_ > 0) {
      ::kill(child_, SIGKILL);
      while (::waitpid(child_, nullptr, 0) < 0 && errno == EINTR) {
      }
    }
    if (values_ != MAP_FAILED) ::munmap(values_, most_values * sizeof(double));
  }

  std::string file_;
  void* values_ = MAP_FAILED;  ///< what was read last; shared with the process
  pid_t child_ = -1;
  int line_ = -1;
};

}  // namespace

}  // namespace counterspot

extern "C" __attribute__((visibility("default"))) void counterspot_open_hdf5(
    int descriptor, const std::string& file, std::unique_ptr<counterspot::ArrayFile>& arrays) {
  arrays = std::make_unique<counterspot::Hdf5Process>(descriptor, file);
}
