/// Slow, obvious twins of the measures, pixel by pixel. Judges for the fast ones; small pictures only.
#pragma once
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <vector>

#include "hairline/measure.hpp"
#include "hairline/track.hpp"
#include "support/flood.hpp"

namespace hairline::test {

inline std::vector<Piece> slow_pieces(const Labels& labels) {
  std::vector<Piece> out(labels.count);
  for (std::uint32_t r = 0; r < labels.size.height_px; ++r) {
    for (std::uint32_t c = 0; c < labels.size.width_px; ++c) {
      if (labels.at(r, c) == 0) continue;
      Piece& piece = out[labels.at(r, c) - 1];
      ++piece.area_px;
      piece.box = piece.area_px == 1 ? BoxPx{c, r, c + 1, r + 1}
                                     : BoxPx{std::min(piece.box.x0, c), std::min(piece.box.y0, r),
                                             std::max(piece.box.x1, c + 1), std::max(piece.box.y1, r + 1)};
    }
  }
  return out;
}

inline std::vector<Contact> slow_contacts(const Labels& a, const Labels& b) {
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint64_t> count;
  for (std::size_t i = 0; i < a.of_pixel.size(); ++i)
    if (a.of_pixel[i] != 0 && b.of_pixel[i] != 0) ++count[{a.of_pixel[i] - 1, b.of_pixel[i] - 1}];
  std::vector<Contact> out;
  for (const auto& [pair, overlap] : count) out.push_back({pair.first, pair.second, overlap});
  return out;
}

/// Islands straight from their definition, layer by layer from the plate up. layers[0] is layer 1.
inline IslandTracker::Found slow_islands(const std::vector<Picture>& layers, const std::vector<double>& height_mm,
                                         Pitch pitch) {
  struct Body {
    bool stands = false;
    std::size_t island = 0;  // index into `islands`, while it does not stand
  };
  std::vector<Island> islands;
  std::vector<std::optional<std::size_t>> ends_in;
  std::vector<Body> bodies;
  std::vector<std::size_t> body_of_below;  // per piece of the layer below
  Labels below;
  const auto older = [&](std::size_t p, std::size_t q) {
    const auto key = [&](std::size_t i) {
      return std::tuple(islands[i].layer, islands[i].piece_box.y0, islands[i].piece_box.x0, i);
    };
    return key(p) < key(q);
  };
  for (std::size_t n = 0; n < layers.size(); ++n) {
    const std::uint32_t layer = static_cast<std::uint32_t>(n + 1);
    const Labels here = slow_labels(layers[n]);
    const std::vector<Piece> pieces = slow_pieces(here);
    std::vector<std::set<std::size_t>> touches(here.count);
    if (n > 0)
      for (const Contact& contact : slow_contacts(here, below)) touches[contact.a].insert(body_of_below[contact.b]);
    // Bodies that this layer's pieces tie together become one.
    std::vector<std::size_t> becomes(bodies.size());
    for (std::size_t b = 0; b < bodies.size(); ++b) becomes[b] = b;
    for (const auto& touched : touches) {
      if (touched.empty()) continue;
      const std::size_t to = becomes[*touched.begin()];
      for (const std::size_t t : touched) {
        const std::size_t from = becomes[t];
        for (std::size_t& b : becomes)
          if (b == from) b = to;
      }
    }
    std::map<std::size_t, std::vector<std::size_t>> groups;
    for (std::size_t b = 0; b < bodies.size(); ++b) groups[becomes[b]].push_back(b);
    for (const auto& [to, members] : groups) {
      bool stands = false;
      std::optional<std::size_t> eldest;
      for (const std::size_t b : members) {
        stands |= bodies[b].stands;
        if (!bodies[b].stands && (!eldest || older(bodies[b].island, *eldest))) eldest = bodies[b].island;
      }
      for (const std::size_t b : members) {
        if (bodies[b].stands) continue;
        if (stands)
          islands[bodies[b].island].joins_layer = layer;
        else if (bodies[b].island != *eldest)
          ends_in[bodies[b].island] = *eldest;
      }
      bodies[to] = stands ? Body{true, 0} : Body{false, *eldest};
    }
    std::vector<std::size_t> body_of(here.count);
    std::vector<Body> packed;
    std::map<std::size_t, std::size_t> packed_index;
    for (const auto& [to, members] : groups) {
      (void)members;
      packed_index[to] = packed.size();
      packed.push_back(bodies[to]);
    }
    for (std::uint32_t p = 0; p < here.count; ++p) {
      if (!touches[p].empty()) {
        body_of[p] = packed_index[becomes[*touches[p].begin()]];
        continue;
      }
      body_of[p] = packed.size();
      packed.push_back({layer == 1, islands.size()});
      if (layer == 1) continue;
      Island island;
      island.layer = layer;
      island.area_px = pieces[p].area_px;
      island.piece_box = pieces[p].box;
      islands.push_back(island);
      ends_in.emplace_back();
    }
    bodies = packed;
    for (std::uint32_t p = 0; p < here.count; ++p) {
      const Body& body = bodies[body_of[p]];
      if (body.stands) continue;
      Island& island = islands[body.island];
      island.volume_mm3 += static_cast<double>(pieces[p].area_px) * height_mm[n] * pitch.pixel_mm2();
      island.body_box =
          island.body_box.x0 == island.body_box.x1
              ? pieces[p].box
              : BoxPx{std::min(island.body_box.x0, pieces[p].box.x0), std::min(island.body_box.y0, pieces[p].box.y0),
                      std::max(island.body_box.x1, pieces[p].box.x1), std::max(island.body_box.y1, pieces[p].box.y1)};
      island.last_layer = layer;
    }
    body_of_below = body_of;
    below = here;
  }
  for (std::size_t i = 0; i < islands.size(); ++i) {
    std::size_t at = i;
    while (ends_in[at]) at = *ends_in[at];
    islands[i].joins_layer = islands[at].joins_layer;
  }
  std::stable_sort(islands.begin(), islands.end(), [](const Island& p, const Island& q) {
    return std::tuple(p.layer, p.piece_box.y0, p.piece_box.x0) < std::tuple(q.layer, q.piece_box.y0, q.piece_box.x0);
  });
  IslandTracker::Found found;
  for (const Island& island : islands) (island.area_px >= 4 ? found.islands : found.specks).push_back(island);
  return found;
}

/// Thickness by opening with growing discs, in pixels (equal pitch): the largest disc inside the shape that covers a
/// pixel is its thickness, so the residue of the opening with a disc of diameter D is all pixels thinner than D. A
/// residue counts as a thin place only where a pixel lies deeper than half the radius of that disc: corners of more
/// than 60 degrees leave shallower ones (a corner of angle a leaves depth r (1 - sin(a / 2))). Discs are centred on
/// pixel centres and on the points half way between them; their radius is the distance to the nearest empty pixel's
/// centre, less what that lies beyond the boundary: half a pixel straight across a row or column, and half of that on
/// average where the boundary is turned, because the nearest of several centres counts. A disc covers the pixels whose
/// centre is at most half a pixel outside it.
inline std::optional<double> slow_thinnest(const Picture& picture, double limit_px) {
  const std::int64_t width = picture.size.width_px, height = picture.size.height_px;
  const std::int64_t reach = static_cast<std::int64_t>(std::ceil(limit_px)) + 2;
  const auto radius_at = [&](double x, double y) {
    double best = static_cast<double>(reach);
    for (std::int64_t r = static_cast<std::int64_t>(y) - reach; r <= static_cast<std::int64_t>(y) + reach; ++r) {
      for (std::int64_t c = static_cast<std::int64_t>(x) - reach; c <= static_cast<std::int64_t>(x) + reach; ++c) {
        if (picture.set(r, c)) continue;
        const double dx = std::abs(static_cast<double>(c) + 0.5 - x), dy = std::abs(static_cast<double>(r) + 0.5 - y);
        best = std::min(best, std::hypot(dx, dy) - (std::min(dx, dy) <= 0.5 ? 0.5 : 0.25));
      }
    }
    return best;
  };
  std::vector<double> thickness(picture.pixels.size(), 0), depth(picture.pixels.size(), 0);
  for (std::int64_t y2 = 1; y2 < 2 * height; ++y2) {
    for (std::int64_t x2 = 1; x2 < 2 * width; ++x2) {
      if (!picture.set(y2 / 2, x2 / 2)) continue;
      const double x = static_cast<double>(x2) / 2, y = static_cast<double>(y2) / 2, radius = radius_at(x, y);
      if (radius <= 0) continue;
      if (x2 % 2 == 1 && y2 % 2 == 1) depth[static_cast<std::size_t>(y2 / 2 * width + x2 / 2)] = radius;
      const std::int64_t span = static_cast<std::int64_t>(radius) + 1;
      for (std::int64_t r = y2 / 2 - span; r <= y2 / 2 + span; ++r) {
        for (std::int64_t c = x2 / 2 - span; c <= x2 / 2 + span; ++c) {
          if (!picture.set(r, c)) continue;
          if (std::hypot(static_cast<double>(c) + 0.5 - x, static_cast<double>(r) + 0.5 - y) > radius + 0.5) continue;
          double& t = thickness[static_cast<std::size_t>(r * width + c)];
          t = std::max(t, 2 * radius);
        }
      }
    }
  }
  std::optional<double> least;
  for (std::size_t i = 0; i < thickness.size(); ++i) {
    if (thickness[i] <= 0 || thickness[i] > limit_px || depth[i] < thickness[i] / 4) continue;
    if (!least || thickness[i] < *least) least = thickness[i];
  }
  return least;
}

}  // namespace hairline::test
