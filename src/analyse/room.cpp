#include "room.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "hairline/memory.hpp"

namespace hairline {
namespace {

constexpr std::uint64_t megabyte = 1'000'000;
// The program with its tables and its threads' buffers; and how much more a heap takes than what is asked of it.
constexpr std::uint64_t program_bytes = 64 * megabyte;
constexpr double heap_over_asked = 1.05;

// Pixels of a row that are not set in the row above: where a column's run begins.
std::uint64_t begun_px(std::span<const Span> above, std::span<const Span> row) {
  std::uint64_t begun = 0;
  auto other = above.begin();
  for (const Span& span : row) {
    begun += span.end - span.begin;
    while (other != above.end() && other->end <= span.begin) ++other;
    for (auto at = other; at != above.end() && at->begin < span.end; ++at)
      begun -= std::min(at->end, span.end) - std::max(at->begin, span.begin);
  }
  return begun;
}

}  // namespace

// A wall or gap is a place in each of its rows, or columns, though rows that are alike are stored once.
std::uint64_t layer_bytes(const Layer& layer, const Mask& solid) {
  constexpr std::uint64_t run_bytes = 48, span_bytes = 130, row_bytes = 60, column_bytes = 110;
  std::uint64_t in_rows = 0, in_columns = 0;
  for (std::uint32_t r = 0; r < solid.rows.size(); ++r) {
    in_rows += solid.row(r).size();
    if (r == 0 || solid.rows[r] != solid.rows[r - 1])
      in_columns += begun_px(r == 0 ? std::span<const Span>{} : solid.row(r - 1), solid.row(r));
  }
  return run_bytes * layer.runs.size() + span_bytes * solid.spans.size() + row_bytes * in_rows +
         column_bytes * in_columns;
}

Room::Room(std::uint64_t memory_bytes, Size size)
    : asked_(memory_bytes > 0),
      allowed_(asked_ ? memory_bytes : usual_memory_bytes(std::uint64_t{size.width_px} * size.height_px)),
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
                        std::uint64_t bytes, std::uint64_t most) {
  own = bytes;
  const std::uint64_t all = bytes + other;
  return fits(layer, bytes > most ? most_ + 1 : all);  // how far it came over depends on when it was asked
}

Result<void> Room::fits(std::uint32_t layer, std::uint64_t bytes) {
  if (bytes <= most_) return {};
  exceeded_ = true;
  const std::uint64_t needed = program_bytes + static_cast<std::uint64_t>(static_cast<double>(bytes) * heap_over_asked);
  const std::uint64_t needed_mb = (needed + megabyte - 1) / megabyte;
  return tl::unexpected(Error{
      ErrorKind::limit, "",
      fmt::format("it and what is found from the top down to it take {} MB of memory or more", needed_mb),
      fmt::format("at most {} MB", allowed_ / megabyte),
      fmt::format(
          "{}llow more with --memory {}.",
          asked_ ? "A"
                 : "Patterns of single pixels do not cure one by one: export without dithering. If it is meant so, a",
          (needed_mb * 3 / 2 + 99) / 100 * 100),
      layer});
}

}  // namespace hairline
