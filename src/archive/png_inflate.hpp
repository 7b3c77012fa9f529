// The raw rows of a PNG, one after the other: inflated whole where that needs little memory, which is much faster, else
// row by row. Memory is kept from layer to layer.
#pragma once
#include <array>
#include <cstdint>
#include <memory>
#include <new>

#include "../base/deflate.hpp"
#include "png_chunks.hpp"

struct z_stream_s;

namespace hairline::png {

/// Bytes that only grow; their content is not kept when they do.
class Buffer {
 public:
  /// At least `bytes` bytes, or null when there is no such memory.
  std::uint8_t* reserve(std::uint64_t bytes) {
    if (bytes > capacity_) {
      memory_.reset();
      memory_.reset(new (std::nothrow) std::uint8_t[bytes]);
      capacity_ = memory_ ? bytes : 0;
    }
    return memory_.get();
  }

 private:
  std::unique_ptr<std::uint8_t[]> memory_;
  std::uint64_t capacity_ = 0;
};

/// Bytes that decoding a mask takes at most, beside its file and the layer. Precondition: it could be decoded.
std::uint64_t decoding_bytes(std::span<const std::byte> file, const Limits& limits);

tl::unexpected<Error> out_of_memory(const PngSource& source, std::uint64_t bytes);

class Inflater {
 public:
  /// Begins with the first row; `parts` must stay until the last. The zlib wrapper's own checksum is not read: the
  /// checksums of the chunks around it have been tested. Fails with broken, limit (memory).
  Result<void> start(const Parts& parts, const PngSource& source, const Limits& limits);
  /// The next `bytes` bytes, a row with its filter byte in front. It stays where it is until `finish`, or while it is
  /// `above` (which is a row without its filter byte). Fails with broken.
  Result<std::uint8_t*> next(std::uint64_t bytes, const std::uint8_t* above);
  /// After the last row. Fails with broken.
  Result<void> finish();

 private:
  struct EndStream {
    void operator()(z_stream_s* stream) const;
  };
  Result<void> start_whole();
  Result<void> start_rows();
  /// How many bytes there were, up to `bytes`. Fails with broken.
  Result<std::uint64_t> fill(std::uint8_t* into, std::uint64_t bytes);
  bool feed();
  Bytes joined();

  const Parts* parts_ = nullptr;
  PngSource source_;
  Decompressor decompressor_{libdeflate_alloc_decompressor()};  // null: no memory, which `start` says of the layer
  Buffer raw_, joined_;
  std::uint8_t* at_ = nullptr;                     // whole: the next row
  std::unique_ptr<z_stream_s, EndStream> stream_;  // row by row
  std::size_t next_part_ = 0;                      // of the packed data, to be fed
  bool stream_ended_ = false;
  std::array<Buffer, 2> rows_;
};

}  // namespace hairline::png
