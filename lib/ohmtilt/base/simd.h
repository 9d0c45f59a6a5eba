#pragma once
// Functions that are built once for each width of vector registers; the widest that the machine has
// is chosen at load time. Contraction into fused multiply-adds is off for the whole library, so
// every clone gives the same bits. The sanitizers of GCC do not go with it, nor does clang 14 where
// such a function calls inline ones.
#if defined(__x86_64__) && defined(__linux__) && defined(__GNUC__) && !defined(__clang__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define OHMTILT_WIDE __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define OHMTILT_WIDE
#endif
