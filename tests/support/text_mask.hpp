/// Masks for tests, from text art or from pixels; independent of src/layer.
#pragma once
#include <algorithm>
#include <cstdint>
#include <string_view>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline::test {

/// A plain picture: 1 = set.
struct Picture {
  Size size;
  std::vector<std::uint8_t> pixels;
  Picture() = default;
  explicit Picture(Size s) : size(s), pixels(std::size_t{s.width_px} * s.height_px, 0) {}
  std::uint8_t& at(std::uint32_t row, std::uint32_t col) { return pixels[std::size_t{row} * size.width_px + col]; }
  std::uint8_t at(std::uint32_t row, std::uint32_t col) const { return pixels[std::size_t{row} * size.width_px + col]; }
  /// Outside counts as empty.
  bool set(std::int64_t row, std::int64_t col) const {
    return row >= 0 && col >= 0 && row < size.height_px && col < size.width_px &&
           at(static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(col)) != 0;
  }
};

enum class RowSharing : std::uint8_t { on, off };

inline Mask mask_of(const Picture& picture, RowSharing sharing = RowSharing::on) {
  Mask mask;
  mask.size = picture.size;
  for (std::uint32_t r = 0; r < picture.size.height_px; ++r) {
    const std::uint32_t first = static_cast<std::uint32_t>(mask.spans.size());
    for (std::uint32_t c = 0; c < picture.size.width_px;) {
      if (!picture.set(r, c)) {
        ++c;
        continue;
      }
      std::uint32_t end = c;
      while (picture.set(r, end)) ++end;
      mask.spans.push_back({c, end});
      c = end;
    }
    RowRange range{first, static_cast<std::uint32_t>(mask.spans.size())};
    if (sharing == RowSharing::on && r > 0) {
      const RowRange above = mask.rows.back();
      if (above.last - above.first == range.last - range.first &&
          std::equal(mask.spans.begin() + above.first, mask.spans.begin() + above.last,
                     mask.spans.begin() + range.first)) {
        mask.spans.resize(first);
        range = above;
      }
    }
    mask.rows.push_back(range);
  }
  return mask;
}

/// The solid pixels of a layer.
inline Picture picture_of(const Layer& layer) {
  Picture out(layer.size);
  for (std::uint32_t row = 0; row < layer.size.height_px; ++row) {
    for (const Run& run : layer.row(row))
      for (std::uint32_t col = run.begin; col < run.end; ++col) out.at(row, col) = run.value >= solid_from;
  }
  return out;
}

/// '#' is set, everything else is not; lines end with '\n', the first line break of a raw string is skipped, blanks in
/// front of a line count as pixels.
inline Picture picture_of(std::string_view text) {
  std::vector<std::string_view> lines;
  if (!text.empty() && text.front() == '\n') text.remove_prefix(1);
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    lines.push_back(text.substr(0, end));
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
  }
  std::size_t width = 0;
  for (const std::string_view line : lines) width = line.size() > width ? line.size() : width;
  Picture out(Size{static_cast<std::uint32_t>(width), static_cast<std::uint32_t>(lines.size())});
  for (std::size_t r = 0; r < lines.size(); ++r) {
    for (std::size_t c = 0; c < lines[r].size(); ++c)
      out.at(static_cast<std::uint32_t>(r), static_cast<std::uint32_t>(c)) = lines[r][c] == '#';
  }
  return out;
}

inline Picture mirrored(const Picture& in) {
  Picture out(in.size);
  for (std::uint32_t r = 0; r < in.size.height_px; ++r)
    for (std::uint32_t c = 0; c < in.size.width_px; ++c) out.at(r, in.size.width_px - 1 - c) = in.at(r, c);
  return out;
}

/// A quarter turn: the left column becomes the top row.
inline Picture turned(const Picture& in) {
  Picture out(Size{in.size.height_px, in.size.width_px});
  for (std::uint32_t r = 0; r < in.size.height_px; ++r)
    for (std::uint32_t c = 0; c < in.size.width_px; ++c) out.at(c, in.size.height_px - 1 - r) = in.at(r, c);
  return out;
}

/// The same picture on a larger ground, moved right and down.
inline Picture shifted(const Picture& in, std::uint32_t right, std::uint32_t down) {
  Picture out(Size{in.size.width_px + right + 3, in.size.height_px + down + 2});
  for (std::uint32_t r = 0; r < in.size.height_px; ++r)
    for (std::uint32_t c = 0; c < in.size.width_px; ++c) out.at(r + down, c + right) = in.at(r, c);
  return out;
}

/// Every pixel twice, in rows and columns.
inline Picture doubled(const Picture& in) {
  Picture out(Size{2 * in.size.width_px, 2 * in.size.height_px});
  for (std::uint32_t r = 0; r < out.size.height_px; ++r)
    for (std::uint32_t c = 0; c < out.size.width_px; ++c) out.at(r, c) = in.at(r / 2, c / 2);
  return out;
}

}  // namespace hairline::test
