// What libFuzzer calls.
#include <cstdint>

#include "target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  hairline::fuzz::run({reinterpret_cast<const char*>(data), size});
  return 0;
}
