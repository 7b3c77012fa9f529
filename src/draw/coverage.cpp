#include "coverage.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::draw {
namespace {

constexpr double snap_steps = 65536;     // points are snapped to this share of a pixel
constexpr double farthest_px = 1e7;      // keeps the snapped numbers far from overflow
constexpr double crossing_slack = 1e-9;  // edges this near (px) are taken to touch, not to cross
constexpr int deepest_split = 40;        // slabs are not split further than this
// Hundreds of edges crossing within one row of pixels (a plate squeezed into a thumbnail) are resolved less deeply:
// time would grow with the square of the edges, for grey steps nobody can tell.
constexpr std::size_t crowd = 200;
constexpr int deepest_split_in_crowd = 3;
constexpr double coverage_steps = 1 << 24;  // sums are rounded to this before grey, so ties fall the same way

/// Downward edge, in pixels; `winding` is +1 where the outline went down and -1 where it went up. Level edges (y0 ==
/// y1) cover nothing but tell where the winding to the left and right of them may differ within a row.
struct Edge {
  double x0, y0, x1, y1;
  int winding;
};

double at(const Edge& e, double y) {
  if (y <= e.y0) return e.x0;
  if (y >= e.y1) return e.x1;
  return e.x0 + (y - e.y0) * ((e.x1 - e.x0) / (e.y1 - e.y0));
}

struct PointPx {
  double x, y;
};

double snapped(double mm, double pitch_mm) {
  return std::floor(std::clamp(mm / pitch_mm, -farthest_px, farthest_px) * snap_steps + 0.5) / snap_steps;
}

/// Corner points in pixels; empty when the outline draws nothing.
std::vector<PointPx> in_pixels(const OutlineMm& outline, Pitch pitch) {
  std::vector<PointPx> points;
  if (outline.size() < 3) return points;
  points.reserve(outline.size());
  for (const PointMm& p : outline) {
    if (!std::isfinite(p.x) || !std::isfinite(p.y)) return {};
    points.push_back({snapped(p.x, pitch.x_mm), snapped(p.y, pitch.y_mm)});
  }
  return points;
}

bool goes_backwards(const std::vector<PointPx>& p) {
  double twice = 0;
  for (std::size_t i = 0, j = p.size() - 1; i < p.size(); j = i++) twice += p[j].x * p[i].y - p[i].x * p[j].y;
  return twice < 0;
}

std::vector<Edge> edges_of(const std::vector<OutlineMm>& outlines, const Raster& raster) {
  std::vector<Edge> edges;
  for (const OutlineMm& outline : outlines) {
    const std::vector<PointPx> points = in_pixels(outline, raster.pitch);
    if (points.empty()) continue;
    const int sense = raster.overlap == Overlap::join && goes_backwards(points) ? -1 : 1;
    for (std::size_t i = 0, j = points.size() - 1; i < points.size(); j = i++) {
      const PointPx a = points[j], b = points[i];
      if (a.y == b.y && std::floor(a.y) == a.y) continue;  // a level edge between two rows matters to neither
      const bool down = a.y < b.y;
      const Edge e = down ? Edge{a.x, a.y, b.x, b.y, sense} : Edge{b.x, b.y, a.x, a.y, -sense};
      if (e.y1 > 0 && e.y0 < raster.size.height_px) edges.push_back(e);
    }
  }
  std::sort(edges.begin(), edges.end(), [](const Edge& a, const Edge& b) {
    return a.y0 != b.y0 ? a.y0 < b.y0 : a.x0 != b.x0 ? a.x0 < b.x0 : a.x1 < b.x1;
  });
  return edges;
}

/// Part of an edge within a slab.
struct Piece {
  double xa, xb;  // at the slab's top and bottom
  const Edge* edge;
};

struct Cell {
  std::int64_t col;
  double cover, area;
};

/// Part of an edge within one row, and the columns it reaches there.
struct RowEdge {
  const Edge* edge;
  double y0, y1;
  double left, right;
};

/// Grey coverage of one row.
class RowCoverage {
 public:
  explicit RowCoverage(const Raster& raster) : raster_(raster) {}

  /// All edges that reach the row whose upper border is `top`. Edges that overlap in x form a cluster; between clusters
  /// the winding is the same over the whole row, so each is cut into slabs by its own corners only.
  void add_row(const std::vector<const Edge*>& active, double top) {
    cells_.clear();
    row_.clear();
    for (const Edge* e : active) {
      const double y0 = std::max(e->y0, top), y1 = std::min(e->y1, top + 1);
      const bool level = e->y0 == e->y1;
      const double xa = level ? e->x0 : at(*e, y0), xb = level ? e->x1 : at(*e, y1);
      row_.push_back({e, y0, y1, std::min(xa, xb), std::max(xa, xb)});
    }
    std::sort(row_.begin(), row_.end(),
              [](const RowEdge& a, const RowEdge& b) { return a.left != b.left ? a.left < b.left : a.edge < b.edge; });
    int winding = 0;
    for (std::size_t i = 0; i < row_.size();) {
      std::size_t end = i + 1;
      double reach = row_[i].right;
      for (; end < row_.size() && row_[end].left <= reach; ++end) reach = std::max(reach, row_[end].right);
      winding += add_cluster(std::span(row_).subspan(i, end - i), winding);
      i = end;
    }
  }

  void runs(std::vector<Run>& out) {
    out.clear();
    std::sort(cells_.begin(), cells_.end(), [](const Cell& a, const Cell& b) { return a.col < b.col; });
    double sum = 0;
    std::int64_t col = 0;
    for (std::size_t i = 0; i < cells_.size();) {
      const std::int64_t here = cells_[i].col;
      push(out, col, here, sum);
      double cover = 0, area = 0;
      for (; i < cells_.size() && cells_[i].col == here; ++i) cover += cells_[i].cover, area += cells_[i].area;
      push(out, here, here + 1, sum + area);
      sum += cover;
      col = here + 1;
    }
    push(out, col, raster_.size.width_px, sum);
  }

 private:
  int step(const Edge& e) const { return raster_.overlap == Overlap::join ? e.winding : 1; }
  bool is_inside(int winding) const { return raster_.overlap == Overlap::join ? winding != 0 : winding % 2 != 0; }

  /// Adds edges that lie together; returns by how much the winding right of them differs from that left of them.
  int add_cluster(std::span<const RowEdge> cluster, int winding) {
    if (cluster.size() == 1) {  // neither begins nor ends within the row, or the next cluster would overlap
      const RowEdge& only = cluster.front();
      const int after = winding + step(*only.edge);
      if (is_inside(after) != is_inside(winding)) {
        add_segment(only.left, only.right, is_inside(after) ? only.y1 - only.y0 : only.y0 - only.y1);
      }
      return after - winding;
    }
    cuts_.clear();
    for (const RowEdge& e : cluster) cuts_.push_back(e.y0), cuts_.push_back(e.y1);
    std::sort(cuts_.begin(), cuts_.end());
    cuts_.erase(std::unique(cuts_.begin(), cuts_.end()), cuts_.end());
    int difference = 0;
    for (std::size_t i = 0; i + 1 < cuts_.size(); ++i) {
      live_.clear();
      for (const RowEdge& e : cluster) {
        if (e.y0 <= cuts_[i] && e.y1 >= cuts_[i + 1]) live_.push_back(e.edge);
      }
      difference = 0;
      for (const Edge* e : live_) difference += step(*e);
      if (!live_.empty()) add_slab(live_, cuts_[i], cuts_[i + 1], winding, 0);
    }
    return raster_.overlap == Overlap::join ? difference : difference % 2;
  }

  /// Adds what lies between the heights `ya` and `yb`, where every edge of `live` goes from one to the other.
  void add_slab(const std::vector<const Edge*>& live, double ya, double yb, int winding, int depth) {
    pieces_.clear();
    for (const Edge* e : live) pieces_.push_back({at(*e, ya), at(*e, yb), e});
    std::sort(pieces_.begin(), pieces_.end(), [](const Piece& a, const Piece& b) {
      return a.xa + a.xb != b.xa + b.xb ? a.xa + a.xb < b.xa + b.xb : a.edge < b.edge;
    });
    const int deepest = live.size() > crowd ? deepest_split_in_crowd : deepest_split;
    if (const double y = crossing(pieces_, ya, yb); depth < deepest && y > ya && y < yb) {
      add_slab(live, ya, y, winding, depth + 1);
      add_slab(live, y, yb, winding, depth + 1);
      return;
    }
    add_sorted(pieces_, yb - ya, winding);
  }

  /// Height at which two neighbours that change their order meet; 0 when none do.
  static double crossing(const std::vector<Piece>& p, double ya, double yb) {
    for (std::size_t i = 1; i < p.size(); ++i) {
      const double top = p[i].xa - p[i - 1].xa, bottom = p[i].xb - p[i - 1].xb;
      if (top < -crossing_slack || bottom < -crossing_slack) return ya + (yb - ya) * (top / (top - bottom));
    }
    return 0;
  }

  void add_sorted(const std::vector<Piece>& pieces, double dy, int winding) {
    for (const Piece& p : pieces) {
      const bool before = is_inside(winding);
      winding += step(*p.edge);
      const bool after = is_inside(winding);
      if (after != before) add_segment(std::min(p.xa, p.xb), std::max(p.xa, p.xb), after ? dy : -dy);
    }
  }

  /// A straight piece from x = xa to xb >= xa whose signed height is dy; what lies to its right counts.
  void add_segment(double xa, double xb, double dy) {
    const double width = raster_.size.width_px;
    if (xa >= width) return;
    if (xb <= 0) return add_cell(0, dy, dy);
    if (xa < 0) {
      const double share = -xa / (xb - xa);
      add_cell(0, dy * share, dy * share);
      xa = 0, dy *= 1 - share;
    }
    if (xb > width) dy *= (width - xa) / (xb - xa), xb = width;
    auto col = static_cast<std::int64_t>(xa);
    const double slope = xb > xa ? dy / (xb - xa) : 0;
    while (xb > static_cast<double>(col + 1)) {
      const double right = static_cast<double>(col + 1);
      const double part = slope * (right - xa);
      add_cell(col, part, part * (right - (xa + right) / 2));
      dy -= part;
      xa = right, ++col;
    }
    add_cell(col, dy, dy * (static_cast<double>(col + 1) - (xa + xb) / 2));
  }

  void add_cell(std::int64_t col, double cover, double area) {
    if (col < raster_.size.width_px) cells_.push_back({col, cover, area});
  }

  static void push(std::vector<Run>& out, std::int64_t begin, std::int64_t end, double share) {
    if (begin >= end) return;
    const auto steps = static_cast<std::int64_t>(std::floor(std::clamp(share, 0.0, 1.0) * coverage_steps + 0.5));
    const auto value = static_cast<std::uint8_t>((steps * 255 + (1 << 23)) >> 24);
    if (value == 0) return;
    const auto b = static_cast<std::uint32_t>(begin), e = static_cast<std::uint32_t>(end);
    if (!out.empty() && out.back().end == b && out.back().value == value) {
      out.back().end = e;
    } else {
      out.push_back({b, e, value});
    }
  }

  const Raster& raster_;
  std::vector<Cell> cells_;
  std::vector<RowEdge> row_;
  std::vector<double> cuts_;
  std::vector<const Edge*> live_;
  std::vector<Piece> pieces_;
};

/// Pixels of one row whose centre lies inside.
void hard_runs(const std::vector<const Edge*>& active, double y, const Raster& raster, std::vector<Run>& out) {
  struct Hit {
    double x;
    int winding;
  };
  std::vector<Hit> hits;
  for (const Edge* e : active) {
    if (e->y0 <= y && y < e->y1) hits.push_back({at(*e, y), e->winding});
  }
  std::sort(hits.begin(), hits.end(),
            [](const Hit& a, const Hit& b) { return a.x != b.x ? a.x < b.x : a.winding < b.winding; });
  out.clear();
  int winding = 0;
  double from = 0;
  bool inside = false;
  // The first column whose centre is at x or to the right of it.
  const auto column = [&](double x) {
    return static_cast<std::uint32_t>(std::clamp(std::ceil(x - 0.5), 0.0, static_cast<double>(raster.size.width_px)));
  };
  for (const Hit& h : hits) {
    winding += raster.overlap == Overlap::join ? h.winding : 1;
    const bool now = raster.overlap == Overlap::join ? winding != 0 : winding % 2 != 0;
    if (now && !inside) from = h.x;
    if (!now && inside && column(from) < column(h.x)) {
      if (!out.empty() && out.back().end == column(from)) {
        out.back().end = column(h.x);
      } else {
        out.push_back({column(from), column(h.x), 255});
      }
    }
    inside = now;
  }
}

}  // namespace

void rasterise(const std::vector<OutlineMm>& outlines, const Raster& raster,
               const std::function<void(std::uint32_t, std::span<const Run>)>& row) {
  const std::vector<Edge> edges = edges_of(outlines, raster);
  if (edges.empty()) return;
  std::vector<const Edge*> active;
  std::vector<Run> runs;
  RowCoverage coverage(raster);
  std::size_t next = 0;
  bool reusable = false;  // the row before was cut by upright edges only, from its top to its bottom
  const double first = std::max(0.0, std::floor(edges.front().y0));
  for (auto r = static_cast<std::uint32_t>(first); r < raster.size.height_px; ++r) {
    const double top = r, bottom = top + 1;
    const std::size_t before = active.size();
    std::erase_if(active, [&](const Edge* e) { return e->y1 <= top; });
    bool same = reusable && active.size() == before;
    for (; next < edges.size() && edges[next].y0 < bottom; ++next) {
      if (edges[next].y1 > top) active.push_back(&edges[next]), same = false;
    }
    if (active.empty()) {
      if (next == edges.size()) return;
      reusable = false;
      continue;
    }
    const bool upright = std::all_of(active.begin(), active.end(),
                                     [&](const Edge* e) { return e->x0 == e->x1 && e->y0 <= top && e->y1 >= bottom; });
    if (!(same && upright)) {
      if (raster.edges == Edges::hard) {
        hard_runs(active, top + 0.5, raster, runs);
      } else {
        coverage.add_row(active, top);
        coverage.runs(runs);
      }
    }
    reusable = upright;
    if (!runs.empty()) row(r, runs);
  }
}

}  // namespace hairline::draw
