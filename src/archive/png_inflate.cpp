#include "png_inflate.hpp"

#include <fmt/format.h>
#include <libdeflate.h>

#include <cstring>

namespace hairline::png {
namespace {

// Some writers let the data run on a little behind the last row; more than this is no slip.
constexpr std::uint64_t overrun_bytes = 1 << 16;

// RFC 1950: method 8 (deflate), no preset dictionary, check bits.
bool zlib_header_good(Bytes data) {
  return data.size() >= 2 && (data[0] & 15) == 8 && (data[1] & 32) == 0 && (data[0] * 256 + data[1]) % 31 == 0;
}

tl::unexpected<Error> out_of_memory(const PngSource& source, std::uint64_t bytes) {
  return tl::unexpected(Error{.kind = ErrorKind::limit,
                              .file = source.file,
                              .layer = source.layer,
                              .found = fmt::format("there is no memory for a mask of {} bytes", bytes),
                              .expected = "a mask that fits into memory",
                              .advice = "Use fewer threads or a machine with more memory."});
}

}  // namespace

Inflater::Inflater() : decompressor_(libdeflate_alloc_decompressor()) {}
Inflater::~Inflater() {
  libdeflate_free_decompressor(decompressor_);
}

Bytes Inflater::joined(const Parts& parts) {
  if (parts.data.size() == 1) return parts.data.front();
  std::uint8_t* to = joined_.reserve(parts.data_bytes);
  if (to == nullptr) return {};
  std::size_t at = 0;
  for (const Bytes part : parts.data) {
    if (!part.empty()) std::memcpy(to + at, part.data(), part.size());
    at += part.size();
  }
  return {to, at};
}

Result<std::uint8_t*> Inflater::inflate(const Parts& parts, const PngSource& source) {
  const std::uint64_t wanted = raw_bytes(parts.header);
  const Bytes data = joined(parts);
  std::uint8_t* raw = raw_.reserve(wanted + overrun_bytes);
  if (decompressor_ == nullptr || raw == nullptr || data.empty()) return out_of_memory(source, wanted);
  if (!zlib_header_good(data)) return broken(source, "the PNG's image data is damaged");
  std::size_t got = 0;
  switch (libdeflate_deflate_decompress(decompressor_, data.data() + 2, data.size() - 2, raw, wanted + overrun_bytes,
                                        &got)) {
    case LIBDEFLATE_SUCCESS:
      break;
    case LIBDEFLATE_INSUFFICIENT_SPACE:
      return broken(source, "the PNG's image data is longer than its size allows");
    default:
      return broken(source, "the PNG's image data is damaged");
  }
  if (got < wanted) return broken(source, "the PNG's image data ends too early");
  return raw;
}

}  // namespace hairline::png
