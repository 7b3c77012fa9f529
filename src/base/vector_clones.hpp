/// HAIRLINE_VECTOR_CLONES before a function builds it for processors with vectors of 512, of 256 and of 128 bits; the
/// one to run is chosen at run time. Multiply and add stay separate (-ffp-contract=off), so all give the same bits.
/// Sanitizers do not get along with the run-time choice, which is made before they start.
#pragma once

#if defined(__x86_64__) && defined(__gnu_linux__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define HAIRLINE_VECTOR_CLONES __attribute__((target_clones("avx512f", "avx2", "default")))
#else
#define HAIRLINE_VECTOR_CLONES
#endif
