// Names inside an archive: which are layers, in which order, and which must not be trusted.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/archive.hpp"

namespace hairline::archive {

/// A path that stays inside the archive: relative, forward slashes, no "..", no control characters.
bool stays_inside(std::string_view name);

/// "layers/*.png" taken apart. The star matches any characters but a slash.
struct Pattern {
  std::string before, after;
};
/// Precondition: is_pattern(text).
Pattern to_pattern(std::string_view text);
/// Exactly one star, and stays inside.
bool is_pattern(std::string_view text);
std::string text_of(const Pattern& pattern);
bool matches(const Pattern& pattern, std::string_view name);
/// The name of layer `number`, five digits in place of the star.
std::string layer_name(const Pattern& pattern, std::uint32_t number);

/// What is known about a file of the archive before it is read.
struct Entry {
  std::string name;
  std::uint64_t index = 0;         ///< in the ZIP
  std::uint64_t bytes = 0;         ///< unpacked
  std::uint64_t packed_bytes = 0;  ///< as it lies in the ZIP; equal to `bytes` in a folder
  bool folder = false;
  std::string fault = {};  ///< why it can be no file of the archive ("is a pipe"); empty: nothing is wrong with it
};
inline constexpr const char* fault_outside = "is a link that leads out of the archive";

struct Numbering {
  std::string file;         ///< of the archive, for errors
  std::uint32_t count = 0;  ///< stated by the manifest; 0: not stated
  bool any_first = false;   ///< the first number may be any
  std::vector<std::string> other_size = {};  ///< pictures with such names that are larger or smaller than the masks
};

/// Puts matching entries in the order of their numbers. They must run without a hole from 0 or 1 (or any number),
/// and be `count` in number. Fails with mismatch, naming the layer and its file.
Result<void> put_in_order(std::vector<Entry>& entries, const Pattern& pattern, const Numbering& numbering);

/// The exceptions lie within the layers of the job (layer_count > 0). Fails with invalid.
Result<void> check_exceptions(const JobSettings& job, const std::string& file);

}  // namespace hairline::archive
