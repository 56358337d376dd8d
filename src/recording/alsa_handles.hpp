#pragma once

#include <alsa/asoundlib.h>

#include <array>
#include <memory>
#include <string>
#include <vector>

#include "counterspot/recording/capture.hpp"
#include "counterspot/units/error.hpp"

namespace counterspot {

/// What reads a sound device and what lists them share.

inline void say_nothing(const char* /*file*/, int /*line*/, const char* /*function*/, int /*code*/,
                        const char* /*words*/, ...) {}

/// What ALSA would print of names that lead nowhere is said in an Error, or is no fault of who asks what there is.
class QuietAlsa {
 public:
  QuietAlsa() { snd_lib_error_set_handler(say_nothing); }
  ~QuietAlsa() { snd_lib_error_set_handler(nullptr); }
  QuietAlsa(const QuietAlsa&) = delete;
  QuietAlsa& operator=(const QuietAlsa&) = delete;
  QuietAlsa(QuietAlsa&&) = delete;
  QuietAlsa& operator=(QuietAlsa&&) = delete;
};

struct AlsaOffer {
  RawFormat format;
  snd_pcm_format_t code;
};
inline constexpr std::array<AlsaOffer, 4> alsa_best_first = {{{RawFormat::s32le, SND_PCM_FORMAT_S32_LE},
                                                              {RawFormat::s24le, SND_PCM_FORMAT_S24_3LE},
                                                              {RawFormat::f32le, SND_PCM_FORMAT_FLOAT_LE},
                                                              {RawFormat::s16le, SND_PCM_FORMAT_S16_LE}}};

struct ClosePcm {
  void operator()(snd_pcm_t* pcm) const { snd_pcm_close(pcm); }
};
using Pcm = std::unique_ptr<snd_pcm_t, ClosePcm>;

struct FreeParameters {
  void operator()(snd_pcm_hw_params_t* parameters) const { snd_pcm_hw_params_free(parameters); }
};
using HardwareParameters = std::unique_ptr<snd_pcm_hw_params_t, FreeParameters>;

/// Never waits for a device that another program holds. @throws Error(machine, …) "device_busy", "no_device".
Pcm open_pcm(const std::string& device);
/// In ALSA's words. Which of the two codes goes by the result.
Error device_refusal(const std::string& device, const std::string& what, int result);
/// Those of the usual rates that are left, ascending.
std::vector<double> rates_left_Hz(snd_pcm_t* pcm, snd_pcm_hw_params_t* offered);
/// The least and the most channels that are left.
std::array<int, 2> channels_left(snd_pcm_hw_params_t* offered);

}  // namespace counterspot
