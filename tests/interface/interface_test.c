/* interface_test PICTURE: what a C program relies on. Run in the folder of the demo data; the picture is drawn. */
#include <counterspot/counterspot.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int failures = 0;

static void check(int holds, const char *claim, int line) {
  if (holds) return;
  fprintf(stderr, "line %d: not so: %s\n", line, claim);
  ++failures;
}
#define CHECK(claim) check((claim) ? 1 : 0, #claim, __LINE__)

/* The number behind "key": in a document; the keys asked for stand in it once. */
static double number_after(const char *json, const char *key) {
  const char *at = json != NULL ? strstr(json, key) : NULL;
  return at != NULL ? strtod(at + strlen(key), NULL) : NAN;
}

static void the_demo_is_outside_its_limit(void) {
  counterspot_answer *answer = counterspot_solve("spins.toml");
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_DONE);
  CHECK(strstr(counterspot_answer_json(answer), "\"verdict\":\"outside\"") != NULL);
  CHECK(counterspot_answer_error_code(answer) == NULL);
  CHECK(counterspot_answer_error_text(answer) == NULL);
  CHECK(counterspot_answer_error_remedy(answer) == NULL);
  counterspot_answer_free(answer);
}

static void a_recording_is_tracked(void) {
  const double orders[] = {1.0, 2.0};
  counterspot_answer *answer = counterspot_track("00-as-found.flac", "rig.toml", orders, 2);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_DONE);
  CHECK(strstr(counterspot_answer_json(answer), "\"order\":2,") != NULL);
  counterspot_answer_free(answer);
}

/* 12 s at 25 turns a second; sensor A 0.3 V peak with a lag of 40 deg, at 100 mV/g: 3 g = 29.41995 m/s2. */
static void samples_in_memory_are_tracked(void) {
  enum { rate_hz = 5120, seconds = 12, channels = 3 };
  const double turn = 2.0 * acos(-1.0), lag = 40.0 / 360.0 * 2.0 * acos(-1.0);
  const size_t frames = (size_t)rate_hz * seconds;
  double *samples = malloc(frames * channels * sizeof *samples);
  if (samples == NULL) exit(4);
  for (size_t n = 0; n < frames; ++n) {
    const double turns = 25.0 * ((double)n + 0.5) / rate_hz;
    samples[n * channels] = 0.3 * cos(turn * turns - lag);
    samples[n * channels + 1] = 0.1 * cos(turn * turns);
    samples[n * channels + 2] = turns - floor(turns) < 0.1 ? 5.0 : 0.0;
  }
  counterspot_answer *answer = counterspot_track_samples(samples, frames, channels, rate_hz, "rig.toml", NULL, 0);
  const char *json = counterspot_answer_json(answer);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_DONE);
  CHECK(fabs(number_after(json, "\"speed_rpm\":") - 1500.0) < 0.01);
  CHECK(fabs(number_after(json, "\"amplitude\":") - 29.41995) < 0.01);
  /* The pulse rises between two samples: half a sample is 0.9 deg. */
  CHECK(fabs(number_after(json, "\"phase_lag_deg\":") - 40.0) < 1.0);
  counterspot_answer_free(answer);

  samples[7] = NAN;
  answer = counterspot_track_samples(samples, frames, channels, rate_hz, "rig.toml", NULL, 0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_RECORDING);
  CHECK(strcmp(counterspot_answer_error_code(answer), "not_finite") == 0);
  counterspot_answer_free(answer);
  free(samples);
}

/* A run-up from 10 to 20 turns a second in 20 s: 300 turns; sensor A 0.3 V peak at 100 mV/g: 29.41995 m/s2. */
static void a_run_up_is_swept_and_drawn(void) {
  enum { rate_hz = 2560, seconds = 20, channels = 3 };
  const double turn = 2.0 * acos(-1.0);
  const size_t frames = (size_t)rate_hz * seconds;
  double *samples = malloc(frames * channels * sizeof *samples);
  if (samples == NULL) exit(4);
  for (size_t n = 0; n < frames; ++n) {
    const double t = ((double)n + 0.5) / rate_hz, turns = 10.0 * t + 0.25 * t * t;
    samples[n * channels] = 0.3 * cos(turn * turns);
    samples[n * channels + 1] = 0.1 * cos(turn * turns);
    samples[n * channels + 2] = turns - floor(turns) < 0.1 ? 5.0 : 0.0;
  }
  counterspot_answer *answer = counterspot_sweep_samples(samples, frames, channels, rate_hz, "rig.toml", NULL, 0);
  free(samples);
  const char *json = counterspot_answer_json(answer);
  const char *middle = json;
  for (int point = 0; middle != NULL && point < 150; ++point) middle = strstr(middle + 1, "\"time_s\":");
  CHECK(fabs(number_after(middle, "\"amplitude\":") - 29.41995) < 0.1);
  counterspot_answer *drawn = counterspot_answer_draw(answer, "no-such-folder/sweep.svg");
  CHECK(counterspot_answer_status(drawn) == COUNTERSPOT_MACHINE_FAILED);
  counterspot_answer_free(drawn);
  drawn = counterspot_answer_draw(answer, "00-as-found.flac"); /* a recording is not drawn over */
  CHECK(counterspot_answer_status(drawn) == COUNTERSPOT_BAD_REQUEST);
  counterspot_answer_free(drawn);
  counterspot_answer_free(answer);
}

static void pieces_are_chosen_and_drawn(const char *picture) {
  counterspot_answer *answer = counterspot_place("spins.toml", "stock.toml", 60.0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_DONE);
  CHECK(strstr(counterspot_answer_json(answer), "\"status\":\"optimal\"") != NULL);
  counterspot_answer *drawn = counterspot_answer_draw(answer, picture);
  CHECK(counterspot_answer_status(drawn) == COUNTERSPOT_DONE);
  counterspot_answer_free(drawn);
  counterspot_answer_free(answer);
  char head[8] = {0};
  FILE *file = fopen(picture, "rb");
  CHECK(file != NULL && fread(head, 1, sizeof head, file) == sizeof head);
  CHECK(memcmp(head, "\x89PNG\r\n\x1a\n", sizeof head) == 0); /* PNG specification, 5.2 */
  if (file != NULL) fclose(file);
}

static void trouble_is_an_answer(void) {
  counterspot_answer *answer = counterspot_track("no-such.wav", "rig.toml", NULL, 0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_RECORDING);
  CHECK(strcmp(counterspot_answer_error_code(answer), "not_found") == 0);
  CHECK(strstr(counterspot_answer_error_text(answer), "no-such.wav") != NULL);
  CHECK(strlen(counterspot_answer_error_remedy(answer)) > 5);
  CHECK(counterspot_answer_json(answer) == NULL);
  counterspot_answer_free(answer);

  answer = counterspot_solve(NULL);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_REQUEST);
  CHECK(strcmp(counterspot_answer_error_code(answer), "bad_argument") == 0);
  counterspot_answer_free(answer);

  const double one = 1.0;
  answer = counterspot_track_samples(&one, (size_t)-1, 3, 5120.0, "rig.toml", NULL, 0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_REQUEST);
  counterspot_answer_free(answer);
  answer = counterspot_track("00-as-found.flac", "rig.toml", &one, 0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_REQUEST);
  counterspot_answer_free(answer);
  answer = counterspot_sweep("no-such.wav", "rig.toml", NULL, 0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_RECORDING);
  counterspot_answer_free(answer);
  answer = counterspot_place("spins.toml", "stock.toml", 0.0);
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_REQUEST);
  counterspot_answer_free(answer);
  answer = counterspot_answer_draw(NULL, "nothing.svg");
  CHECK(counterspot_answer_status(answer) == COUNTERSPOT_BAD_REQUEST);
  counterspot_answer_free(answer);
  counterspot_answer_free(NULL);
}

static void limits_are_those_of_the_standard(void) {
  /* ISO 21940-11: 1000 * 16 mm/s * 14.6 kg / (3200 rpm) = 697.1 g*mm. */
  CHECK(fabs(counterspot_permissible_unbalance_gmm("G16", 14.6, 3200.0) - 697.1) < 0.05);
  CHECK(isnan(counterspot_permissible_unbalance_gmm("G17", 14.6, 3200.0)));
  CHECK(isnan(counterspot_permissible_unbalance_gmm("G16", 0.0, 3200.0)));
  CHECK(isnan(counterspot_permissible_unbalance_gmm(NULL, 14.6, 3200.0)));
  counterspot_answer *answer = counterspot_limit("shaft.toml");
  CHECK(number_after(counterspot_answer_json(answer), "\"total_gmm\":") > 0.0);
  counterspot_answer_free(answer);
}

int main(int count, char **words) {
  if (count != 2) return 2;
  CHECK(strlen(counterspot_version()) >= 5);
  CHECK(strstr(counterspot_cautions(), "Guard closed") != NULL);
  the_demo_is_outside_its_limit();
  a_recording_is_tracked();
  samples_in_memory_are_tracked();
  a_run_up_is_swept_and_drawn();
  pieces_are_chosen_and_drawn(words[1]);
  trouble_is_an_answer();
  limits_are_those_of_the_standard();
  return failures == 0 ? 0 : 1;
}
