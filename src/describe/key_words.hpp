// Keys of settings files as words of the trade: what a key is about, and the unit it names.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace hairline::archive {

/// What a word means. One bit each, so that a key is a set of them.
using Meanings = std::uint64_t;
namespace meaning {
enum : Meanings {
  layer = 1ull << 0,
  height = 1ull << 1,
  thickness = 1ull << 2,
  exposure = 1ull << 3,
  time = 1ull << 4,
  base = 1ull << 5,
  normal = 1ull << 6,
  transition = 1ull << 7,
  lift = 1ull << 8,
  retract = 1ull << 9,
  speed = 1ull << 10,
  distance = 1ull << 11,
  rest = 1ull << 12,
  before = 1ull << 13,
  after = 1ull << 14,
  pixel = 1ull << 15,
  pitch = 1ull << 16,
  size = 1ull << 17,
  resolution = 1ull << 18,
  wide = 1ull << 19,  ///< along a row: x, width
  tall = 1ull << 20,  ///< along a column: y, depth
  up_z = 1ull << 21,
  count = 1ull << 22,
  resin = 1ull << 23,
  volume = 1ull << 24,
  density = 1ull << 25,
  plate = 1ull << 26,
  printer = 1ull << 27,
  name = 1ull << 28,
  mirror = 1ull << 29,
  invert = 1ull << 30,
  subpixel = 1ull << 31,
  mask = 1ull << 32,
  plural = 1ull << 33,  ///< the layers, not the layer
  other = 1ull << 34,   ///< power, temperature, cost, bounds, the model's own size: what no setting of ours is about
  total = 1ull << 35,
  title = 1ull << 36,
  job = 1ull << 37,
  // from units
  is_length = 1ull << 40,
  is_time = 1ull << 41,
  is_speed = 1ull << 42,
  is_pixels = 1ull << 43,
  is_density = 1ull << 44,
  is_other = 1ull << 45,  ///< a unit of none of these
  countish = 1ull << 46,  ///< how many, not how much
};
}

/// A unit and what a number in it is multiplied by to be in ours (mm, s, mm/min, g/ml).
struct Unit {
  const char* shown;
  Meanings dimension;
  double factor = 1;
};
/// The unit that a text begins with ("ms", "mm/min", "µm"), where it is one.
const Unit* unit_at(std::string_view text);
/// All units of a dimension that numbers without one may be in, ours first.
std::vector<const Unit*> units_of(Meanings dimension);

/// "LayerHeight_um" as "layer", "height", "um": split at case changes, digits and all that is no letter; signs for
/// micro, square and cube become letters.
std::vector<std::string> words_of(std::string_view key);

/// What a key is about.
struct KeyWords {
  Meanings own = 0;    ///< of its last part that means anything
  Meanings above = 0;  ///< of the parts before it
  const Unit* unit = nullptr;
  int unknown = 0;  ///< words of the last part that mean nothing here
  Meanings all() const { return own | above; }
};
/// `parts` of a key, outermost first. Of words that exclude each other (lift and retract, base and normal, before and
/// after, x and y) the inner ones count.
KeyWords read_key(const std::vector<std::string>& parts);

}  // namespace hairline::archive
