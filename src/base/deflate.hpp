/// The tools of libdeflate, freed when they are no longer held. Null where there was no memory.
#pragma once
#include <libdeflate.h>

#include <memory>

namespace hairline {

struct FreeDeflate {
  void operator()(libdeflate_compressor* tool) const { libdeflate_free_compressor(tool); }
  void operator()(libdeflate_decompressor* tool) const { libdeflate_free_decompressor(tool); }
};
using Compressor = std::unique_ptr<libdeflate_compressor, FreeDeflate>;
using Decompressor = std::unique_ptr<libdeflate_decompressor, FreeDeflate>;

}  // namespace hairline
