#include "png_rows.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <bit>
#include <cstring>

#include "png_chunks.hpp"

namespace hairline::png {
namespace {

std::uint64_t load8(const std::uint8_t* at) {
  std::uint64_t word = 0;
  std::memcpy(&word, at, sizeof word);
  return word;
}
void store8(std::uint8_t* at, std::uint64_t word) {
  std::memcpy(at, &word, sizeof word);
}
constexpr std::uint64_t repeated(std::uint8_t value) {
  return value * 0x0101010101010101u;
}

// Index of the first byte of a difference that is not zero, in memory order.
std::uint32_t first_byte(std::uint64_t difference) {
  const int bits =
      std::endian::native == std::endian::little ? std::countr_zero(difference) : std::countl_zero(difference);
  return static_cast<std::uint32_t>(bits) / 8;
}

// The three filters that look to the left, each as: what to add to byte k, given left, above and the corner between.
struct Sub {
  static std::uint8_t predict(std::uint8_t left, std::uint8_t, std::uint8_t) { return left; }
  // Eight bytes at once where all differences are zero: the word they become, if that is plain to see.
  static bool flat(std::uint64_t, std::uint8_t left, std::uint8_t, std::uint64_t& word) {
    word = repeated(left);
    return true;
  }
};
struct Average {
  static std::uint8_t predict(std::uint8_t left, std::uint8_t above, std::uint8_t) {
    return static_cast<std::uint8_t>((left + above) >> 1);
  }
  static bool flat(std::uint64_t above, std::uint8_t left, std::uint8_t, std::uint64_t& word) {
    word = above;
    return above == repeated(left);
  }
};
struct Paeth {
  static std::uint8_t predict(std::uint8_t left, std::uint8_t above, std::uint8_t corner) {
    return static_cast<std::uint8_t>(paeth(left, above, corner));
  }
  // Where left and corner agree the prediction is the byte above, and then the next left and corner agree as well.
  static bool flat(std::uint64_t above, std::uint8_t left, std::uint8_t corner, std::uint64_t& word) {
    word = above;
    return left == corner;
  }
};

template <class Filter>
void unfilter_single(std::uint8_t* row, const std::uint8_t* above, std::size_t length) {
  std::uint8_t left = 0, corner = 0;
  std::size_t k = 0;
  const auto one = [&] {
    left = static_cast<std::uint8_t>(row[k] + Filter::predict(left, above[k], corner));
    corner = above[k];
    row[k++] = left;
  };
  while (k + 8 <= length) {
    std::uint64_t word = 0;
    if (load8(row + k) == 0 && Filter::flat(load8(above + k), left, corner, word)) {
      store8(row + k, word);
      k += 8;
      left = row[k - 1];
      corner = above[k - 1];
    } else {
      for (int i = 0; i < 8; ++i) one();
    }
  }
  while (k < length) one();
}

template <class Filter>
void unfilter_wide(std::uint8_t* row, const std::uint8_t* above, std::size_t length, std::size_t step) {
  for (std::size_t k = 0; k < std::min(step, length); ++k)
    row[k] = static_cast<std::uint8_t>(row[k] + Filter::predict(0, above[k], 0));
  for (std::size_t k = step; k < length; ++k)
    row[k] = static_cast<std::uint8_t>(row[k] + Filter::predict(row[k - step], above[k], above[k - step]));
}

template <class Filter>
void unfilter_left(const FilteredRow& row) {
  if (row.step == 1)
    unfilter_single<Filter>(row.bytes + 1, row.above, row.length);
  else
    unfilter_wide<Filter>(row.bytes + 1, row.above, row.length, row.step);
}

void add_above(std::uint8_t* row, const std::uint8_t* above, std::size_t length) {
  for (std::size_t k = 0; k < length; ++k) row[k] = static_cast<std::uint8_t>(row[k] + above[k]);
}

// First column after `from` whose value differs from that of `from`.
std::uint32_t stretch_end(const std::uint8_t* pixels, std::uint32_t from, std::uint32_t width) {
  const std::uint8_t value = pixels[from];
  std::uint32_t x = from + 1;
  if (x < width && pixels[x] != value) return x;
  const std::uint64_t flat = repeated(value);
  while (x + 32 <= width) {
    const std::uint64_t a = load8(pixels + x) ^ flat, b = load8(pixels + x + 8) ^ flat;
    const std::uint64_t c = load8(pixels + x + 16) ^ flat, d = load8(pixels + x + 24) ^ flat;
    if ((a | b | c | d) != 0) break;
    x += 32;
  }
  while (x + 8 <= width) {
    const std::uint64_t difference = load8(pixels + x) ^ flat;
    if (difference != 0) return x + first_byte(difference);
    x += 8;
  }
  while (x < width && pixels[x] == value) ++x;
  return x;
}

}  // namespace

RowKind unfilter(const FilteredRow& row) {
  std::uint8_t* bytes = row.bytes + 1;
  switch (row.bytes[0]) {
    case 0:
      break;
    case 1:
      unfilter_left<Sub>(row);
      break;
    case 2:
      if (std::memcmp(bytes, row.zeros, row.length) == 0) return RowKind::equal;
      add_above(bytes, row.above, row.length);
      return RowKind::changed;
    case 3:
      unfilter_left<Average>(row);
      break;
    case 4:
      if (std::memcmp(bytes, row.zeros, row.length) == 0) return RowKind::equal;
      unfilter_left<Paeth>(row);
      return RowKind::changed;
    default:
      return RowKind::bad_filter;
  }
  return std::memcmp(bytes, row.above, row.length) == 0 ? RowKind::equal : RowKind::changed;
}

void RunCollector::start(Size size, std::uint32_t most_runs) {
  size_ = size;
  most_ = most_runs;
  rows_.clear();
  rows_.reserve(size.height_px);
  used_ = 0;
  last_ = {};
}

void RunCollector::repeat() {
  if (used_ > most_) return;
  rows_.push_back(last_);
}

void RunCollector::add(const std::uint8_t* pixels) {
  if (used_ > most_) return;
  const std::uint32_t width = size_.width_px;
  if (runs_.size() < std::size_t{used_} + width) runs_.resize(runs_.size() + runs_.size() / 2 + width);
  Run* const first = runs_.data() + used_;
  Run* run = first;
  for (std::uint32_t begin = 0; begin < width;) {
    const std::uint32_t end = stretch_end(pixels, begin, width);
    *run = {begin, end, pixels[begin]};
    run += pixels[begin] != 0;
    begin = end;
  }
  const auto count = static_cast<std::uint32_t>(run - first);
  if (!std::equal(first, run, runs_.data() + last_.first, runs_.data() + last_.last)) {
    last_ = {used_, used_ + count};
    used_ += count;
  }
  rows_.push_back(last_);
}

Result<Layer> RunCollector::take(const PngSource& source) {
  if (used_ > most_) {
    const auto rows = static_cast<std::uint32_t>(rows_.size());
    runs_ = {};
    return tl::unexpected(Error{
        ErrorKind::limit, source.file,
        fmt::format("its first {} of {} rows hold {} runs of equal value", rows, size_.height_px, used_),
        fmt::format("at most {} in a mask", most_),
        "Patterns of single pixels do not cure one by one: export without dithering. If it is meant so, allow more "
        "memory with --memory.",
        source.layer});
  }
  Layer layer;
  layer.size = size_;
  layer.rows = rows_;
  layer.runs.assign(runs_.begin(), runs_.begin() + used_);
  constexpr std::size_t most_kept = 2'000'000;
  if (runs_.size() > most_kept) runs_ = {};
  return layer;
}

}  // namespace hairline::png
