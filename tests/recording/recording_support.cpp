#include "recording_support.hpp"

#include <fcntl.h>
#include <sndfile.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <memory>
#include <thread>

namespace counterspot::test {

std::vector<double> read_all(Recording& recording, const std::vector<std::size_t>& block_frames) {
  std::size_t channels = recording.info().channels.size();
  std::vector<double> all;
  for (std::size_t turn = 0;; ++turn) {
    std::vector<double> block(block_frames[turn % block_frames.size()] * channels);
    std::size_t got = recording.read(block);
    if (got == 0) return all;
    all.insert(all.end(), block.begin(), block.begin() + static_cast<std::ptrdiff_t>(got * channels));
  }
}

std::vector<double> read_all(const std::filesystem::path& path, const RecordingOptions& options) {
  auto recording = open_recording(path, options);
  return read_all(*recording);
}

Error error_of(const std::function<void()>& action) {
  try {
    action();
  } catch (const Error& error) {
    return error;
  }
  FAIL("it was not refused");
  throw std::logic_error("not reached");
}

Error error_of_reading(const std::filesystem::path& path, const RecordingOptions& options) {
  return error_of([&] { read_all(path, options); });
}

PipedInput::PipedInput(std::string bytes) : before_(::dup(0)) {
  int ends[2] = {-1, -1};
  REQUIRE(::pipe(ends) == 0);
  ::fcntl(ends[1], F_SETFD, FD_CLOEXEC);
  ::dup2(ends[0], 0);
  ::close(ends[0]);
  write_end_ = ends[1];
  auto writer = std::make_shared<std::thread>([end = write_end_, bytes = std::move(bytes)] {
    for (std::size_t done = 0; done < bytes.size();) {
      ssize_t put = ::write(end, bytes.data() + done, std::min<std::size_t>(bytes.size() - done, 5000));
      if (put <= 0) break;
      done += static_cast<std::size_t>(put);
    }
    ::close(end);
  });
  join_ = [writer] { writer->join(); };
}

PipedInput::~PipedInput() {
  char rest[4096];
  while (::read(0, rest, sizeof rest) > 0) {  // so that the writer ends
  }
  join_();
  ::dup2(before_, 0);
  ::close(before_);
}

void write_sound(const std::filesystem::path& path, int format, int channels, const std::vector<double>& samples,
                 int rate_Hz) {
  SF_INFO info{};
  info.format = format;
  info.channels = channels;
  info.samplerate = rate_Hz;
  std::unique_ptr<SNDFILE, int (*)(SNDFILE*)> file(sf_open(path.c_str(), SFM_WRITE, &info), sf_close);
  REQUIRE(file != nullptr);
  auto frames = static_cast<sf_count_t>(samples.size() / static_cast<std::size_t>(channels));
  REQUIRE(sf_writef_double(file.get(), samples.data(), frames) == frames);
}

}  // namespace counterspot::test
