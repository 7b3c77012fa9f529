#include "room.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "hairline/memory.hpp"

namespace hairline {
namespace {

constexpr std::uint64_t megabyte = 1'000'000;
// The program with its tables and its threads' buffers; and how much more a heap takes than what is asked of it.
constexpr std::uint64_t program_bytes = 64 * megabyte;
constexpr double heap_over_asked = 1.4;

// What a job may take by itself: a plate may need it by its size, what is drawn on it may not.
std::uint64_t usual_bytes(Size size) {
  const std::uint64_t pixels = std::uint64_t{size.width_px} * size.height_px;
  return std::min(half_of_memory(), std::max(960 * megabyte, 400 * megabyte + 12 * pixels));
}

}  // namespace

Room::Room(std::uint64_t memory_bytes, Size size)
    : allowed_(memory_bytes > 0 ? memory_bytes : usual_bytes(size)),
      most_(static_cast<std::uint64_t>(static_cast<double>(allowed_ - std::min(allowed_, program_bytes)) /
                                       heap_over_asked)) {}

void Room::start(std::size_t in_flight) {
  in_flight_ = in_flight;
  joining_ = judging_ = 0;
  exceeded_ = false;
}

Result<void> Room::take_layer(std::uint32_t layer, std::uint64_t bytes) {
  return fits(layer, joining_ + judging_ + in_flight_ * bytes);
}

Result<void> Room::hold(std::atomic<std::uint64_t>& own, const std::atomic<std::uint64_t>& other, std::uint32_t layer,
                        std::uint64_t bytes) {
  own = bytes;
  return fits(layer, bytes + other);
}

Result<void> Room::fits(std::uint32_t layer, std::uint64_t bytes) {
  if (bytes <= most_) return {};
  exceeded_ = true;
  const std::uint64_t needed = program_bytes + static_cast<std::uint64_t>(static_cast<double>(bytes) * heap_over_asked);
  const std::uint64_t needed_mb = (needed + megabyte - 1) / megabyte;
  return tl::unexpected(Error{
      ErrorKind::limit, "", layer,
      fmt::format("it and what is found from the top down to it take {} MB of memory or more", needed_mb),
      fmt::format("at most {} MB", allowed_ / megabyte),
      fmt::format("Patterns of single pixels do not cure one by one: export without dithering. If it is meant so, "
                  "allow more with --memory {}.",
                  (needed_mb * 3 / 2 + 99) / 100 * 100)});
}

}  // namespace hairline
