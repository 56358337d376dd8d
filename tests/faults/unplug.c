/* Stands before ALSA's own function: after twenty readings the device is gone, as ALSA says it of a cable that was pulled. */
#define _GNU_SOURCE
#include <alsa/asoundlib.h>
#include <dlfcn.h>
#include <errno.h>

snd_pcm_sframes_t snd_pcm_readi(snd_pcm_t *pcm, void *buffer, snd_pcm_uframes_t size) {
  static int readings = 0;
  static snd_pcm_sframes_t (*real)(snd_pcm_t *, void *, snd_pcm_uframes_t) = NULL;
  if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "snd_pcm_readi");
  return ++readings > 20 ? -ENODEV : real(pcm, buffer, size);
}
