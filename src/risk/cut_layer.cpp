#include "cut_layer.hpp"

#include <utility>

namespace hairline::risk {
namespace {

Mask mask_of(const std::vector<RowSpan>& stretches, Size size) {
  Mask mask;
  mask.size = size;
  mask.rows.reserve(size.height_px);
  mask.spans.reserve(stretches.size());
  std::size_t i = 0;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; i < stretches.size() && stretches[i].row == r; ++i) {
      if (mask.spans.size() > first && mask.spans.back().end == stretches[i].begin)
        mask.spans.back().end = stretches[i].end;
      else
        mask.spans.push_back({stretches[i].begin, stretches[i].end});
    }
    mask.rows.push_back({first, static_cast<std::uint32_t>(mask.spans.size())});
  }
  return mask;
}

// Links of stretches to the pieces whose spans they meet, `slack` pixels around them.
void link(const std::vector<RowSpan>& stretches, const Mask& mask, const Pieces& pieces, std::int64_t slack,
          std::vector<Link>& out) {
  std::vector<RowScan> scans(static_cast<std::size_t>(2 * slack + 1), RowScan(mask));
  for (std::uint32_t i = 0; i < stretches.size(); ++i) {
    const RowSpan& s = stretches[i];
    std::uint32_t last = none;
    for (std::int64_t dr = -slack; dr <= slack; ++dr) {
      scans[static_cast<std::size_t>(dr + slack)].meet(s.row + dr, std::int64_t{s.begin} - slack, s.end + slack,
                                                       [&](std::uint32_t span, std::int64_t, std::int64_t) {
                                                         const std::uint32_t piece = pieces.of_span[span];
                                                         if (piece != last) out.push_back({i, piece});
                                                         last = piece;
                                                       });
    }
  }
}

// The drawn body of each element.
std::vector<std::uint32_t> drawn_of(const CutLayer& layer, const Drawn& drawn,
                                    const std::vector<std::uint32_t>& drawn_node) {
  std::vector<std::uint32_t> out(layer.element_count(), none);
  const std::uint32_t pieces = layer.piece_count();
  RowScan core(drawn.solid), cut(drawn.solid);
  const auto find = [&](RowScan& scan, std::uint32_t row, std::uint32_t col, std::uint32_t& body) {
    scan.meet(row, col, std::int64_t{col} + 1,
              [&](std::uint32_t span, std::int64_t, std::int64_t) { body = drawn_node[drawn.pieces.of_span[span]]; });
  };
  for (std::uint32_t r = 0; r < layer.core->solid.rows.size(); ++r) {
    for (std::uint32_t k = layer.core->solid.rows[r].first; k < layer.core->solid.rows[r].last; ++k) {
      std::uint32_t& body = out[layer.core->pieces.of_span[k]];
      if (body == none) find(core, r, layer.core->solid.spans[k].begin, body);
    }
  }
  for (std::size_t i = 0; i < layer.cut.stretches.size(); ++i)
    find(cut, layer.cut.stretches[i].row, layer.cut.stretches[i].begin, out[pieces + i]);
  return out;
}

}  // namespace

CutLayer cut_layer(const LayerFacts& facts, std::shared_ptr<const Drawn> drawn,
                   const std::vector<std::uint32_t>& drawn_node, LayerStretches cut,
                   std::vector<Contact> contacts_above, const CutLayer* above) {
  CutLayer out;
  out.facts = facts;
  out.cut = std::move(cut);
  const std::vector<RowSpan>& here = out.cut.stretches;
  if (here.empty()) {
    out.core = std::move(drawn);
    out.drawn = drawn_node;
  } else {
    Mask core = minus(drawn->solid, mask_of(here, drawn->solid.size));
    Pieces pieces = find_pieces(core);
    out.core = std::make_shared<const Drawn>(Drawn{std::move(core), std::move(pieces)});
    out.drawn = drawn_of(out, *drawn, drawn_node);
    link(here, out.core->solid, out.core->pieces, 1, out.beside);
  }
  if (above == nullptr) return out;
  if (here.empty() && above->cut.stretches.empty()) {
    out.contacts = std::move(contacts_above);
    return out;
  }
  out.contacts = find_contacts(out.core->solid, out.core->pieces, above->core->solid, above->core->pieces);
  link(here, above->core->solid, above->core->pieces, 0, out.above);
  link(above->cut.stretches, out.core->solid, out.core->pieces, 0, out.below_above);
  return out;
}

}  // namespace hairline::risk
