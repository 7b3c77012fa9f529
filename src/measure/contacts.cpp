// Overlap of two labelled masks, row by row. A pair is looked for where its two pieces were last seen, so that no hash
// map is needed: most rows repeat the pairs of the row above. Pairs that were missed appear twice and are added up at
// the end.
#include <algorithm>

#include "hairline/measure.hpp"

namespace hairline {
namespace {

class ContactList {
 public:
  ContactList(std::size_t pieces_a, std::size_t pieces_b) : last_of_a_(pieces_a, none), last_of_b_(pieces_b, none) {}

  void add(std::uint32_t a, std::uint32_t b, std::uint64_t overlap_px) {
    std::uint32_t slot = last_of_a_[a];
    if (slot == none || list_[slot].b != b) {
      slot = last_of_b_[b];
      if (slot == none || list_[slot].a != a) {
        slot = static_cast<std::uint32_t>(list_.size());
        list_.push_back({a, b, 0});
      }
      last_of_a_[a] = slot;
      last_of_b_[b] = slot;
    }
    list_[slot].overlap_px += overlap_px;
    if (list_.size() >= compact_at_) compact();
  }

  std::vector<Contact> take() {
    compact();
    return std::move(list_);
  }

 private:
  static constexpr std::uint32_t none = UINT32_MAX;

  /// Sorts, adds up equal pairs; keeps memory in proportion to the number of different pairs.
  void compact() {
    std::sort(list_.begin(), list_.end(),
              [](const Contact& p, const Contact& q) { return p.a != q.a ? p.a < q.a : p.b < q.b; });
    std::size_t kept = 0;
    for (const Contact& contact : list_) {
      if (kept > 0 && list_[kept - 1].a == contact.a && list_[kept - 1].b == contact.b)
        list_[kept - 1].overlap_px += contact.overlap_px;
      else
        list_[kept++] = contact;
    }
    list_.resize(kept);
    compact_at_ = std::max<std::size_t>(std::size_t{1} << 16, 2 * kept);
    std::fill(last_of_a_.begin(), last_of_a_.end(), none);
    std::fill(last_of_b_.begin(), last_of_b_.end(), none);
  }

  std::vector<Contact> list_;
  std::vector<std::uint32_t> last_of_a_, last_of_b_;
  std::size_t compact_at_ = std::size_t{1} << 16;
};

/// Two labelled masks side by side.
struct Pair {
  const Mask& a;
  const Pieces& pieces_a;
  const Mask& b;
  const Pieces& pieces_b;
};

/// Adds the overlaps of one row, taken `times` times.
void add_row(const Pair& pair, RowRange row_a, RowRange row_b, std::uint64_t times, ContactList& list) {
  std::uint32_t i = row_a.first, j = row_b.first;
  while (i < row_a.last && j < row_b.last) {
    const Span p = pair.a.spans[i], q = pair.b.spans[j];
    const std::uint32_t begin = std::max(p.begin, q.begin), end = std::min(p.end, q.end);
    if (begin < end) list.add(pair.pieces_a.of_span[i], pair.pieces_b.of_span[j], times * (end - begin));
    i += p.end <= q.end ? 1u : 0u;
    j += q.end <= p.end ? 1u : 0u;
  }
}

}  // namespace

std::vector<Contact> find_contacts(const Mask& a, const Pieces& pieces_a, const Mask& b, const Pieces& pieces_b) {
  ContactList list(pieces_a.pieces.size(), pieces_b.pieces.size());
  const Pair pair{a, pieces_a, b, pieces_b};
  const std::size_t rows = std::min(a.rows.size(), b.rows.size());
  for (std::size_t r = 0; r < rows;) {
    const RowRange row_a = a.rows[r], row_b = b.rows[r];
    std::size_t end = r + 1;
    while (end < rows && a.rows[end] == row_a && b.rows[end] == row_b) ++end;
    add_row(pair, row_a, row_b, end - r, list);
    r = end;
  }
  return list.take();
}

}  // namespace hairline
