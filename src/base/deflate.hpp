/// The tools of libdeflate, freed when they are no longer held.
#pragma once
#include <libdeflate.h>

#include <memory>
#include <new>

namespace hairline {

struct FreeDeflate {
  void operator()(libdeflate_compressor* tool) const { libdeflate_free_compressor(tool); }
  void operator()(libdeflate_decompressor* tool) const { libdeflate_free_decompressor(tool); }
};
using Compressor = std::unique_ptr<libdeflate_compressor, FreeDeflate>;
using Decompressor = std::unique_ptr<libdeflate_decompressor, FreeDeflate>;

/// Never null: throws std::bad_alloc where there is no memory, as strings and vectors do.
inline Compressor new_compressor(int level) {
  Compressor tool(libdeflate_alloc_compressor(level));
  if (!tool) throw std::bad_alloc();
  return tool;
}
inline Decompressor new_decompressor() {
  Decompressor tool(libdeflate_alloc_decompressor());
  if (!tool) throw std::bad_alloc();
  return tool;
}

}  // namespace hairline
