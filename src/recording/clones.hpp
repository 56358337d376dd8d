#pragma once

// Written before a function, this compiles it twice, for plain x86-64 and for one with AVX2 and FMA; the machine picks
// when the program starts. Sanitizers start too late for that.
#if defined(__x86_64__) && defined(__GNUC__) && __GNUC__ >= 12 && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define COUNTERSPOT_CLONES __attribute__((target_clones("arch=x86-64-v3", "default")))
#else
#define COUNTERSPOT_CLONES
#endif
