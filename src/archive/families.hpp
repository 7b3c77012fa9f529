// Which pictures of a foreign archive are its masks: the largest family of equally large PNGs whose names differ in one
// number.
#pragma once
#include <optional>

#include "store.hpp"

namespace hairline::archive {

/// Kind and size of a picture, from its first bytes; none where it is no PNG.
struct Picture {
  Size size;
  bool colour = false;  ///< red, green and blue may differ
  bool alpha = false;
  bool operator==(const Picture&) const = default;
};
inline constexpr std::uint64_t picture_head_bytes = 26;  ///< as far as the colour type (ISO/IEC 15948, 11.2.2)
std::optional<Picture> picture_of(std::span<const std::byte> head);
bool ends_in_png(const std::string& name);  ///< in small or large letters

struct Family {
  Pattern pattern;
  std::vector<Entry> masks;           ///< in no order
  std::optional<Picture> picture;     ///< of most of them
  std::vector<std::string> left_out;  ///< names of the other pictures
  /// Another family of as large pictures: of as many, or of like names in another folder; none where one was named.
  std::optional<Pattern> rival;
  std::size_t no_png = 0;  ///< files that are called so and are none
};

/// Of all files in a store; hidden ones are passed over. Without `pattern` the largest family is taken, and of two as
/// large the one with the larger pictures. No masks: there are none. Fails as Store::head does.
Result<Family> find_family(const Store& store, const std::vector<Entry>& entries,
                           const std::optional<Pattern>& pattern);

/// Takes pictures of another size than the masks and another name than most out of the `layers` of an archive of our
/// own (previews), and names them with all other pictures of the archive. Fails as Store::head does.
Result<std::vector<std::string>> strays_of(const Store& store, Size size, std::vector<Entry>& layers);
/// A sentence that names at least one such picture.
std::string left_out_text(const std::vector<std::string>& names);

}  // namespace hairline::archive
