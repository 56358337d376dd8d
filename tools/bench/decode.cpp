// Decodes a recording with libsndfile to doubles and does nothing with them: the least that any reader must do.
#include <sndfile.h>

#include <cstdio>
#include <vector>

int main(int argc, char** argv) {
  SF_INFO info{};
  SNDFILE* file = argc == 2 ? sf_open(argv[1], SFM_READ, &info) : nullptr;
  if (file == nullptr) return 2;
  constexpr sf_count_t block_frames = 4096;
  std::vector<double> block(static_cast<std::size_t>(block_frames * info.channels));
  sf_count_t frames = 0;
  while (sf_count_t got = sf_readf_double(file, block.data(), block_frames)) frames += got;
  sf_close(file);
  std::printf("%lld\n", static_cast<long long>(frames));
  return frames == info.frames ? 0 : 1;
}
