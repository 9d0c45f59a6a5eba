#pragma once

// Before a function: built for several widths of vector registers, the widest that the machine has
// chosen at load time. Contraction is off for the whole library, so each gives the same bits.
// Sanitizers do not go with it.
#if defined(__x86_64__) && defined(__linux__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define OHMTILT_WIDEST_REGISTERS __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define OHMTILT_WIDEST_REGISTERS
#endif
