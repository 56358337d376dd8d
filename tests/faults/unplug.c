/* Stands before ALSA's own functions: after twenty readings, or those that UNPLUG_AFTER in the environment says, the device is gone, as
 * ALSA says it of a cable that was pulled. With SILENT_DEVICE it is there and never has anything to give. The device that BUSY_DEVICE names
 * is held by another program: who would wait for it waits for ever, as in the kernel. The one that GONE_DEVICE names is not there while there
 * is a file GONE_WHEN. */
#define _GNU_SOURCE
#include <alsa/asoundlib.h>
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static int is_gone(const char *name) {
  const char *gone = getenv("GONE_DEVICE");
  const char *when = getenv("GONE_WHEN");
  return gone != NULL && when != NULL && name != NULL && strcmp(gone, name) == 0 && access(when, F_OK) == 0;
}

snd_pcm_sframes_t snd_pcm_readi(snd_pcm_t *pcm, void *buffer, snd_pcm_uframes_t size) {
  static int readings = 0;
  static snd_pcm_sframes_t (*real)(snd_pcm_t *, void *, snd_pcm_uframes_t) = NULL;
  if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "snd_pcm_readi");
  const char *after = getenv("UNPLUG_AFTER");
  if (is_gone(snd_pcm_name(pcm))) return -ENODEV;
  return ++readings > (after == NULL ? 20 : atoi(after)) ? -ENODEV : real(pcm, buffer, size);
}

int snd_pcm_open(snd_pcm_t **pcm, const char *name, snd_pcm_stream_t stream, int mode) {
  static int (*real)(snd_pcm_t **, const char *, snd_pcm_stream_t, int) = NULL;
  if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "snd_pcm_open");
  if (is_gone(name)) return -ENODEV;
  const char *busy = getenv("BUSY_DEVICE");
  if (busy == NULL || strcmp(busy, name) != 0) return real(pcm, name, stream, mode);
  while ((mode & SND_PCM_NONBLOCK) == 0) pause();
  return -EBUSY;
}

int snd_pcm_wait(snd_pcm_t *pcm, int most_ms) {
  static int (*real)(snd_pcm_t *, int) = NULL;
  if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "snd_pcm_wait");
  if (getenv("SILENT_DEVICE") == NULL) return real(pcm, most_ms);
  const struct timespec time = {most_ms / 1000, most_ms % 1000 * 1000000L};
  nanosleep(&time, NULL);
  return 0;
}
