// Whole-buffer inflate of a PNG's image data, with memory that is kept from layer to layer.
#pragma once
#include <cstdint>
#include <memory>
#include <new>

#include "png_chunks.hpp"

struct libdeflate_decompressor;

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

class Inflater {
 public:
  Inflater();
  ~Inflater();
  Inflater(const Inflater&) = delete;
  Inflater& operator=(const Inflater&) = delete;

  /// The raw rows of the image, raw_bytes(header) of them; valid until the next call. The zlib wrapper's own checksum
  /// is not read: the checksums of the chunks around it have been tested. Fails with broken, limit (memory).
  Result<std::uint8_t*> inflate(const Parts& parts, const PngSource& source);

 private:
  Bytes joined(const Parts& parts);
  libdeflate_decompressor* decompressor_;
  Buffer raw_, joined_;
};

}  // namespace hairline::png
