/// A fixed generator for tests: equal seeds give equal numbers on every machine (splitmix64; Steele, Lea, Flood 2014,
/// constants from memory).
#pragma once
#include <cstdint>

namespace hairline::test {

class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  std::uint64_t next() {
    state_ += 0x9E3779B97F4A7C15ull;
    std::uint64_t z = state_;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return z ^ (z >> 31);
  }
  /// 0 .. bound - 1 (bound small against 2^64).
  std::uint32_t below(std::uint32_t bound) { return static_cast<std::uint32_t>(next() % bound); }
  /// from .. to, both included.
  std::uint32_t between(std::uint32_t from, std::uint32_t to) { return from + below(to - from + 1); }
  /// [0, 1).
  double unit() { return static_cast<double>(next() >> 11) * 0x1p-53; }
  double between_real(double from, double to) { return from + (to - from) * unit(); }
  bool chance(double probability) { return unit() < probability; }

 private:
  std::uint64_t state_;
};

}  // namespace hairline::test
