/* The C interface, for programs in other languages: link with -lcounterspot_c, or load the library at run time.
 *
 * Each call that works on files gives an answer, which holds either a result or an error, and which the caller frees.
 * A result is the JSON document that the program prints with --json: UTF-8, keys that end in their unit, more keys may
 * be added. An error has the program's exit code for it, a stable code, one sentence that says where and what, and one
 * that says how to mend it.
 *
 * Texts passed in are UTF-8 and end in a zero byte. Texts given out belong to their answer. Nothing is thrown, printed or
 * kept between calls; calls on several threads do not disturb one another, as long as an answer is used by one at a time.
 *
 * A correction that is fitted and spun can kill if it comes off. Whoever shows a result of this library shows the cautions
 * with it (counterspot_cautions). */
#ifndef COUNTERSPOT_H
#define COUNTERSPOT_H

#include <stddef.h>

#if defined(__GNUC__)
#define COUNTERSPOT_API __attribute__((visibility("default")))
#else
#define COUNTERSPOT_API
#endif

#ifdef __cplusplus
extern "C" {
#endif

enum counterspot_status {
  COUNTERSPOT_DONE = 0,           /* the answer has a result, whatever the verdict in it */
  COUNTERSPOT_BAD_REQUEST = 2,    /* an argument, or a file that a person wrote, is wrong */
  COUNTERSPOT_BAD_RECORDING = 3,  /* a recording cannot be used */
  COUNTERSPOT_MACHINE_FAILED = 4  /* disk, memory, or a fault of this library */
};

typedef struct counterspot_answer counterspot_answer;

/* A steady spin: amplitude and phase lag of each order at each sensor, with uncertainty, as `counterspot track --json`.
 * orders: order_count of them, each 0.1 to 100; NULL for order 1 alone. NULL is returned only when no memory is left, here
 * and below. */
COUNTERSPOT_API counterspot_answer *counterspot_track(const char *recording_path, const char *rig_path,
                                                      const double *orders, size_t order_count);

/* The same of samples that are in memory: frames * channels of them, one frame after the other, in volts as the sensors
 * gave them (`full_scale` of the rig file does not count). Channels are numbered from 1, as the rig file names them. */
COUNTERSPOT_API counterspot_answer *counterspot_track_samples(const double *interleaved_V, size_t frames, size_t channels,
                                                              double sample_rate_Hz, const char *rig_path,
                                                              const double *orders, size_t order_count);

/* A run-up or coast-down: the vectors turn by turn, and the resonances with their uncertainty, as `counterspot sweep
 * --json`. Orders, and samples in memory, as above. */
COUNTERSPOT_API counterspot_answer *counterspot_sweep(const char *recording_path, const char *rig_path,
                                                      const double *orders, size_t order_count);
COUNTERSPOT_API counterspot_answer *counterspot_sweep_samples(const double *interleaved_V, size_t frames, size_t channels,
                                                              double sample_rate_Hz, const char *rig_path,
                                                              const double *orders, size_t order_count);

/* From a file of spins to a correction for each plane and a verdict, as `counterspot solve --json`. */
COUNTERSPOT_API counterspot_answer *counterspot_solve(const char *spins_path);

/* The same to pieces of a stock file, where they may go, as `counterspot place --json`. patience_s: after so many seconds,
 * more than 0, the best that was found is given, with how far better there could be. */
COUNTERSPOT_API counterspot_answer *counterspot_place(const char *spins_path, const char *stock_path, double patience_s);

/* Permissible residual unbalance of a shaft file, in all and for each plane, as `counterspot limit --shaft … --json`. */
COUNTERSPOT_API counterspot_answer *counterspot_limit(const char *shaft_path);

/* U_per = G m / omega of ISO 21940-11:2016, 6.5, in g·mm; grade as "G16". Not a number if the grade is not in its Table 1, or
 * mass or speed is not greater than zero. */
COUNTERSPOT_API double counterspot_permissible_unbalance_gmm(const char *grade, double mass_kg, double service_speed_rpm);

COUNTERSPOT_API enum counterspot_status counterspot_answer_status(const counterspot_answer *answer);
COUNTERSPOT_API const char *counterspot_answer_json(const counterspot_answer *answer);         /* NULL if an error */
COUNTERSPOT_API const char *counterspot_answer_error_code(const counterspot_answer *answer);   /* NULL if a result */
COUNTERSPOT_API const char *counterspot_answer_error_text(const counterspot_answer *answer);   /* NULL if a result */
COUNTERSPOT_API const char *counterspot_answer_error_remedy(const counterspot_answer *answer); /* NULL if a result */
COUNTERSPOT_API void counterspot_answer_free(counterspot_answer *answer);                      /* NULL is let pass */

/* Draws a result of a sweep, of solve or of place as the command does with --picture, into a file that ends in .svg, .png
 * or .pdf. The file is written whole or not at all, and over nothing but an earlier drawing. The result names it. */
COUNTERSPOT_API counterspot_answer *counterspot_answer_draw(const counterspot_answer *answer, const char *picture_path);

COUNTERSPOT_API const char *counterspot_version(void);  /* "0.1.0"; lives as long as the library */
COUNTERSPOT_API const char *counterspot_cautions(void); /* to show with every result that has someone fit or spin */

#ifdef __cplusplus
}
#endif

#endif
