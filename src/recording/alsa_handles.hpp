#pragma once

#include <alsa/asoundlib.h>

#include <array>
#include <memory>

#include "counterspot/recording/capture.hpp"

namespace counterspot {

/// What reads a sound device and what lists them share.

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

}  // namespace counterspot
