// The end of a ZIP file: how large its directory says it is, before anything is made of that.
#pragma once
#include <cstddef>
#include <vector>

#include "hairline/archive.hpp"
#include "held_file.hpp"

namespace hairline::archive {

/// The last bytes of a file, as they were when it was opened: directory and end record of a ZIP.
struct ZipEnd {
  std::uint64_t from = 0;  ///< where they begin
  std::vector<std::byte> bytes;
};

/// Fails with limit (more files, or a larger directory, than `limits` allow), broken (a directory too small for the
/// files it claims), unreadable. A file that is no ZIP just gives its last bytes.
Result<ZipEnd> read_zip_end(const HeldFile& file, const std::filesystem::path& path, const Limits& limits);

}  // namespace hairline::archive
