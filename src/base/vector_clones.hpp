/// HAIRLINE_VECTOR_CLONES before a function builds it twice, for processors with and without 256-bit vectors; the one
/// to run is chosen at run time. Multiply and add stay separate (-ffp-contract=off), so both give the same bits.
/// Sanitizers do not get along with the run-time choice, which is made before they start.
#pragma once

#if defined(__x86_64__) && defined(__gnu_linux__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define HAIRLINE_VECTOR_CLONES __attribute__((target_clones("avx2", "default")))
#else
#define HAIRLINE_VECTOR_CLONES
#endif
