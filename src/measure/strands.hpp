/// Strands: chains of short runs, row under row, that are one wall (or one gap) between a left and a right boundary.
///
///     row 0   . . # # # . .        every run has exactly one neighbour above and below: one strand of four rows;
///     row 1   . . # # # . .        its left boundary is the sequence of begins, its right one the sequence of ends
///     row 2   . # # # . . .
///     row 3   . # # # . . .
///
/// Widths are measured inside one strand, so the nearest point of a boundary is found in a flat list of numbers.
#pragma once
#include <array>
#include <cstdint>
#include <vector>

#include "greys.hpp"
#include "hairline/layer.hpp"
#include "row_groups.hpp"

namespace hairline::inner {

enum class Phase : std::uint8_t { solid, gap };

struct StrandSettings {
  Phase phase = Phase::solid;
  std::uint32_t longest_run_px = 0;  ///< longer runs belong to no strand
  double row_ratio = 1;              ///< row pitch / column pitch
  double limit_px = 0;               ///< in column pitches; wider places are dropped
  float least_px = 0;                ///< likewise; nothing is thinner
  double least_angle_cos = -0.5;     ///< cosine of the least object angle
};

/// A run of at most `longest_run_px`, with the rows that share it.
struct ThinRun {
  std::uint32_t begin, end;
  std::uint32_t group;  ///< index into Strands::groups
  std::uint32_t next;   ///< thin run that continues it below, or no_run
  std::uint32_t slot;   ///< first of its entries in Strands::widths
  bool continues_above;
};
inline constexpr std::uint32_t no_run = UINT32_MAX;

/// One strand in the flat lists of a batch: entries [first, last).
struct StrandInBatch {
  std::uint32_t first, last;
  bool closed_top, closed_bottom;  ///< nothing of the same phase beyond the end
};

/// Where a boundary point lies, seen from the middle of a run. Its own row belongs to both quarters of a side.
enum Quarter : std::uint8_t { left_up, left_down, right_up, right_down };

/// The entries in whose rows the nearest points on the left and on the right lie, and how far away these are together.
struct Contacts {
  float distance = 1e7f;  ///< as the pixels say; far more than any limit where there are none
  std::size_t left = 0, right = 0;
};

/// Flat lists over the rows of several strands, with padding between them. Only the first `size` entries count.
struct StrandBatch {
  std::size_t size = 0;
  std::vector<float> left, right, middle;    ///< boundary and run middle, columns
  std::vector<float> fine_left, fine_right;  ///< boundary, with what grey or neighbouring rows say of it
  /// Per quarter (see Quarter): squared distance to its nearest boundary point, and how many rows up or down it lies.
  std::array<std::vector<float>, 4> near2, rows;
  std::vector<std::uint8_t> hard;  ///< no grey at either end of the run
  std::vector<float> depth;        ///< distance to the nearest boundary point
  std::vector<Contacts> contacts;
  std::vector<std::uint32_t> line;  ///< row of the mask
  std::vector<std::uint32_t> slot;
  float round = 0;  ///< of the strand at hand: its diameter if it is a disc
  std::vector<StrandInBatch> strands;
};

/// A stretch of wall (gap) of one width: both in columns.
struct Stretch {
  float width, length;
};

/// All strands of one mask in one direction, and the width found at each of their rows. Reusable.
struct Strands {
  std::vector<RowGroup> groups;
  std::vector<std::uint32_t> first_run;  ///< per group: its first thin run; one more at the end
  std::vector<ThinRun> runs;
  std::vector<float> widths;   ///< columns; 0 where nothing thin is
  std::vector<float> lengths;  ///< of the middle line in each of these rows, columns; see `share_of_direction`
  std::vector<Stretch> ends;   ///< closed ends, where nothing is measured
  std::uint32_t reach = 0;     ///< rows a width may depend on, up and down
  StrandBatch batch;

  /// Entries that stand for the `count` rows of a group: rows further than `reach` from both ends are alike.
  std::uint32_t entries_of(std::uint32_t count) const { return count < 2 * reach + 1 ? count : 2 * reach + 1; }
  /// Entry of the row `offset` rows below the top of a group of `count` rows.
  std::uint32_t entry_of(std::uint32_t offset, std::uint32_t count) const {
    if (offset < reach || count <= 2 * reach + 1) return offset;
    return offset + reach < count ? reach : 2 * reach + 1 - (count - offset);
  }
};

/// Finds the strands of `mask` and measures them; the result is in `out.runs`, `out.widths`, `out.lengths` and
/// `out.ends`. `greys` says where within its pixels a boundary lies.
void measure_strands(const Mask& mask, Greys& greys, const StrandSettings& settings, Strands& out);

}  // namespace hairline::inner
