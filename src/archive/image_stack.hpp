// Image stacks in 3MF packages: sheets that are the layers of one object, and what the model says of their size.
#pragma once
#include <optional>
#include <vector>

#include "store.hpp"

namespace hairline::archive {

struct ImageStack {
  std::vector<Entry> sheets;           ///< sheet 0, the lowest, is layer 1
  Size size;                           ///< of every sheet
  bool colour = false;                 ///< one of them holds red, green and blue
  std::vector<SettingValue> settings;  ///< pitch, layer height, which grey is solid, title
};

/// Nothing: this is no 3MF package, or one without image stack that holds other pictures. Fails with broken (XML,
/// PNG), version (what is not supported, such as implicit functions, several stacks, a turned one), invalid (a value, a
/// part name that leads out), not_found (a part), mismatch (counts, sizes, the mesh around the stack), limit.
Result<std::optional<ImageStack>> find_image_stack(const Store& store, const std::vector<Entry>& entries,
                                                   const std::string& file, const OpenOptions& options);

}  // namespace hairline::archive
