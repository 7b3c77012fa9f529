#include "png_inflate.hpp"

#include <fmt/format.h>
#include <zlib.h>

#include <algorithm>
#include <cstring>

namespace hairline::png {
namespace {

// Some writers let the data run on a little behind the last row; more than this is no slip.
constexpr std::uint64_t overrun_bytes = 1 << 16;
constexpr std::size_t zlib_header_bytes = 2;
constexpr std::uint64_t most_values_per_pixel = 3;  // its subpixels

// RFC 1950: method 8 (deflate), no preset dictionary, check bits.
bool zlib_header_good(Bytes data) {
  return data.size() >= zlib_header_bytes && (data[0] & 15) == 8 && (data[1] & 32) == 0 &&
         (data[0] * 256 + data[1]) % 31 == 0;
}

tl::unexpected<Error> damaged(const PngSource& source) {
  return broken(source, "the PNG's image data is damaged");
}
tl::unexpected<Error> too_short(const PngSource& source) {
  return broken(source, "the PNG's image data ends too early");
}
tl::unexpected<Error> too_long(const PngSource& source) {
  return broken(source, "the PNG's image data is longer than its size allows");
}

}  // namespace

tl::unexpected<Error> out_of_memory(const PngSource& source, std::uint64_t bytes) {
  return tl::unexpected(
      Error{ErrorKind::limit, source.file, fmt::format("there is no memory for a mask of {} bytes", bytes),
            "a mask that fits into memory", "Use fewer threads or a machine with more memory.", source.layer});
}

std::uint64_t decoding_bytes(std::span<const std::byte> file, const Limits& limits) {
  const Header header = header_of(file);
  const auto [width, height] = header.size;
  const std::uint64_t whole = std::min(raw_bytes(header) + file.size(), limits.whole_bytes);
  const std::uint64_t pixels = std::uint64_t{width} * (header.interlaced ? height : 1);
  return whole + 4 * (row_bytes(header, width) + 1) + 2 * overrun_bytes + most_values_per_pixel * pixels;
}

void Inflater::EndStream::operator()(z_stream_s* stream) const {
  inflateEnd(stream);
  delete stream;
}

Result<void> Inflater::start(const Parts& parts, const PngSource& source, const Limits& limits) {
  parts_ = &parts;
  source_ = source;
  stream_.reset();
  const std::uint64_t packed = parts.data.size() > 1 ? parts.data_bytes : 0;  // lie apart, and have to be joined
  return raw_bytes(parts.header) + packed <= limits.whole_bytes ? start_whole() : start_rows();
}

Bytes Inflater::joined() {
  if (parts_->data.size() == 1) return parts_->data.front();
  std::uint8_t* to = joined_.reserve(parts_->data_bytes);
  if (to == nullptr) return {};
  std::size_t at = 0;
  for (const Bytes part : parts_->data) {
    std::memcpy(to + at, part.data(), part.size());
    at += part.size();
  }
  return {to, at};
}

Result<void> Inflater::start_whole() {
  const std::uint64_t wanted = raw_bytes(parts_->header);
  const Bytes data = joined();
  at_ = raw_.reserve(wanted + overrun_bytes);
  if (decompressor_ == nullptr || at_ == nullptr || data.empty()) return out_of_memory(source_, wanted);
  if (!zlib_header_good(data)) return damaged(source_);
  std::size_t got = 0;
  switch (libdeflate_deflate_decompress(decompressor_.get(), data.data() + zlib_header_bytes,
                                        data.size() - zlib_header_bytes, at_, wanted + overrun_bytes, &got)) {
    case LIBDEFLATE_SUCCESS:
      break;
    case LIBDEFLATE_INSUFFICIENT_SPACE:
      return too_long(source_);
    default:
      return damaged(source_);
  }
  if (got < wanted) return too_short(source_);
  return {};
}

// Hands the next part to zlib.
bool Inflater::feed() {
  if (next_part_ == parts_->data.size()) return false;
  const Bytes part = parts_->data[next_part_++];
  stream_->next_in = const_cast<Bytef*>(part.data());  // is only read
  stream_->avail_in = static_cast<uInt>(part.size());
  return true;
}

Result<void> Inflater::start_rows() {
  const std::uint64_t row = row_bytes(parts_->header, parts_->header.size.width_px) + 1;
  auto stream = std::make_unique<z_stream_s>();
  if (rows_[0].reserve(row) == nullptr || rows_[1].reserve(row) == nullptr ||
      inflateInit2(stream.get(), -MAX_WBITS) != Z_OK)  // no wrapper
    return out_of_memory(source_, row);
  stream_.reset(stream.release());
  next_part_ = 0;
  stream_ended_ = false;
  std::array<std::uint8_t, zlib_header_bytes> header{};
  for (std::uint8_t& byte : header) {
    if (stream_->avail_in == 0 && !feed()) return damaged(source_);
    byte = *stream_->next_in++;
    --stream_->avail_in;
  }
  return zlib_header_good(header) ? Result<void>() : damaged(source_);
}

Result<std::uint64_t> Inflater::fill(std::uint8_t* into, std::uint64_t bytes) {
  stream_->next_out = into;
  stream_->avail_out = static_cast<uInt>(bytes);
  while (stream_->avail_out > 0 && !stream_ended_) {
    if (stream_->avail_in == 0 && !feed()) return damaged(source_);
    const int code = ::inflate(stream_.get(), Z_NO_FLUSH);
    stream_ended_ = code == Z_STREAM_END;
    if (!stream_ended_ && code != Z_OK && code != Z_BUF_ERROR) return damaged(source_);
  }
  return bytes - stream_->avail_out;
}

Result<std::uint8_t*> Inflater::next(std::uint64_t bytes, const std::uint8_t* above) {
  if (!stream_) {
    std::uint8_t* row = at_;
    at_ += bytes;
    return row;
  }
  std::uint8_t* first = rows_[0].reserve(bytes);  // there is room for the widest
  std::uint8_t* row = above == first + 1 ? rows_[1].reserve(bytes) : first;
  const auto got = fill(row, bytes);
  if (!got) return tl::unexpected(got.error());
  if (*got < bytes) return too_short(source_);
  return row;
}

Result<void> Inflater::finish() {
  if (!stream_) return {};
  std::uint8_t* rest = joined_.reserve(overrun_bytes + 1);
  if (rest == nullptr) return out_of_memory(source_, overrun_bytes);
  const auto got = fill(rest, overrun_bytes + 1);
  stream_.reset();
  if (!got) return tl::unexpected(got.error());
  return *got > overrun_bytes ? too_long(source_) : Result<void>();
}

}  // namespace hairline::png
