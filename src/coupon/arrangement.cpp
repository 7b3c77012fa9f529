/// All outlines are first cut where they meet, so that edges touch only at their ends and each is there once. Then a
/// line sweeps upwards from corner height to corner height. Between two heights the edges lie side by side; the field
/// between two neighbours is a trapezoid, which goes on upwards as long as its two edges do and no corner lies on its
/// upper border:
///
///        \____.____/        the dot is a corner of something above: the field below ends here, and the dot becomes a
///        |         |        corner of it as well, so that fields always meet in whole edges
///
/// Each field is cut into triangles around its middle.
#include "arrangement.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <set>
#include <utility>

namespace hairline {
namespace {

struct Segment {
  LatticePoint a, b;  // in the order of the outline, turned to run anticlockwise
  std::uint32_t prism;
};

std::int64_t cross(LatticePoint o, LatticePoint a, LatticePoint b) {
  return (a.x - o.x) * (b.y - o.y) - (a.y - o.y) * (b.x - o.x);
}

std::vector<Segment> segments_of(const std::vector<LatticePrism>& prisms) {
  std::vector<Segment> segments;
  for (std::uint32_t k = 0; k < prisms.size(); ++k) {
    std::vector<LatticePoint> p = prisms[k].outline;
    std::int64_t twice = 0;
    for (std::size_t i = 0, j = p.size() - 1; i < p.size(); j = i++) twice += p[j].x * p[i].y - p[i].x * p[j].y;
    if (twice < 0) std::reverse(p.begin(), p.end());
    for (std::size_t i = 0, j = p.size() - 1; i < p.size(); j = i++) {
      if (p[j] != p[i]) segments.push_back({p[j], p[i], k});
    }
  }
  return segments;
}

bool in_box(const Segment& s, LatticePoint p) {
  return p.x >= std::min(s.a.x, s.b.x) && p.x <= std::max(s.a.x, s.b.x) && p.y >= std::min(s.a.y, s.b.y) &&
         p.y <= std::max(s.a.y, s.b.y);
}

bool boxes_meet(const Segment& s, const Segment& t) {
  return std::max(s.a.x, s.b.x) >= std::min(t.a.x, t.b.x) && std::max(t.a.x, t.b.x) >= std::min(s.a.x, s.b.x) &&
         std::max(s.a.y, s.b.y) >= std::min(t.a.y, t.b.y) && std::max(t.a.y, t.b.y) >= std::min(s.a.y, s.b.y);
}

/// Adds the points where two segments meet to the cuts of both.
void cut_at_meeting(const Segment& s, const Segment& t, std::vector<LatticePoint>& cuts_s,
                    std::vector<LatticePoint>& cuts_t) {
  const std::int64_t a = cross(t.a, t.b, s.a), b = cross(t.a, t.b, s.b);
  const std::int64_t c = cross(s.a, s.b, t.a), d = cross(s.a, s.b, t.b);
  if (a == 0 && in_box(t, s.a)) cuts_t.push_back(s.a);
  if (b == 0 && in_box(t, s.b)) cuts_t.push_back(s.b);
  if (c == 0 && in_box(s, t.a)) cuts_s.push_back(t.a);
  if (d == 0 && in_box(s, t.b)) cuts_s.push_back(t.b);
  if ((a > 0) == (b > 0) || (c > 0) == (d > 0) || a == 0 || b == 0 || c == 0 || d == 0) return;
  const double share = static_cast<double>(a) / static_cast<double>(a - b);
  const LatticePoint p{s.a.x + std::llround(share * static_cast<double>(s.b.x - s.a.x)),
                       s.a.y + std::llround(share * static_cast<double>(s.b.y - s.a.y))};
  cuts_s.push_back(p);
  cuts_t.push_back(p);
}

/// An edge that touches others only at its ends, and by how much each prism's winding grows from left to right of it.
struct Edge {
  LatticePoint low, high;  // low.y < high.y
  std::vector<std::pair<std::uint32_t, int>> steps;
  double x_at(double y) const {
    return static_cast<double>(low.x) +
           (y - static_cast<double>(low.y)) * static_cast<double>(high.x - low.x) / static_cast<double>(high.y - low.y);
  }
  LatticePoint point_at(std::int64_t y) const {
    return y == low.y ? low : y == high.y ? high : LatticePoint{std::llround(x_at(static_cast<double>(y))), y};
  }
};

struct Net {
  std::vector<Edge> edges;
  std::map<std::int64_t, std::set<std::int64_t>> corners;  // y -> x of the corners at that height
};

Net net_of(const std::vector<Segment>& segments) {
  std::vector<std::vector<LatticePoint>> cuts(segments.size());
  for (std::size_t i = 0; i < segments.size(); ++i) {
    for (std::size_t j = i + 1; j < segments.size(); ++j) {
      if (boxes_meet(segments[i], segments[j])) cut_at_meeting(segments[i], segments[j], cuts[i], cuts[j]);
    }
  }
  Net net;
  std::map<std::pair<LatticePoint, LatticePoint>, std::size_t> known;
  for (std::size_t i = 0; i < segments.size(); ++i) {
    const Segment& s = segments[i];
    std::vector<LatticePoint>& p = cuts[i];
    p.push_back(s.a);
    p.push_back(s.b);
    const auto along = [&](LatticePoint q) {
      return (q.x - s.a.x) * (s.b.x - s.a.x) + (q.y - s.a.y) * (s.b.y - s.a.y);
    };
    std::sort(p.begin(), p.end(), [&](LatticePoint m, LatticePoint n) { return along(m) < along(n); });
    p.erase(std::unique(p.begin(), p.end()), p.end());
    for (const LatticePoint& q : p) net.corners[q.y].insert(q.x);
    for (std::size_t k = 0; k + 1 < p.size(); ++k) {
      if (p[k].y == p[k + 1].y) continue;
      const bool up = p[k].y < p[k + 1].y;
      const LatticePoint low = up ? p[k] : p[k + 1], high = up ? p[k + 1] : p[k];
      const auto [at, fresh] = known.try_emplace({low, high}, net.edges.size());
      if (fresh) net.edges.push_back({low, high, {}});
      // Anticlockwise outlines have their inside to the left of an upward edge.
      net.edges[at->second].steps.emplace_back(s.prism, up ? -1 : 1);
    }
  }
  return net;
}

struct Field {
  std::size_t left, right;  // edges
  std::int64_t from, to;    // heights
  std::uint64_t bands;
};

/// What is solid right of the edges passed so far.
class Windings {
 public:
  explicit Windings(const std::vector<LatticePrism>& prisms) : prisms_(prisms), count_(prisms.size(), 0) {}
  void pass(const Edge& e) {
    for (const auto& [prism, step] : e.steps) count_[prism] += step;
  }
  std::uint64_t solid() const {
    std::uint64_t add = 0, cut = 0;
    for (std::size_t k = 0; k < count_.size(); ++k) {
      if (count_[k] != 0) (prisms_[k].cuts ? cut : add) |= prisms_[k].bands;
    }
    return add & ~cut;
  }

 private:
  const std::vector<LatticePrism>& prisms_;
  std::vector<int> count_;
};

bool corner_between(const std::set<std::int64_t>& corners, double left, double right) {
  const auto it = corners.upper_bound(static_cast<std::int64_t>(std::floor(left)));
  return it != corners.end() && static_cast<double>(*it) < right;
}

std::vector<std::size_t> edges_by_low(const Net& net) {
  std::vector<std::size_t> edges(net.edges.size());
  std::iota(edges.begin(), edges.end(), std::size_t(0));
  std::stable_sort(edges.begin(), edges.end(),
                   [&](std::size_t a, std::size_t b) { return net.edges[a].low.y < net.edges[b].low.y; });
  return edges;
}

std::vector<Field> fields_of(const Net& net, const std::vector<LatticePrism>& prisms) {
  const std::vector<std::size_t> by_low = edges_by_low(net);
  std::vector<Field> fields;
  std::map<std::pair<std::size_t, std::size_t>, std::size_t> open;  // fields that end at the current height
  std::vector<std::size_t> live;
  std::size_t next = 0;
  for (auto level = net.corners.begin(); level != net.corners.end() && std::next(level) != net.corners.end(); ++level) {
    const std::int64_t ya = level->first, yb = std::next(level)->first;
    std::erase_if(live, [&](std::size_t e) { return net.edges[e].high.y <= ya; });
    for (; next < by_low.size() && net.edges[by_low[next]].low.y == ya; ++next) live.push_back(by_low[next]);
    const double middle = (static_cast<double>(ya) + static_cast<double>(yb)) / 2;
    std::sort(live.begin(), live.end(), [&](std::size_t a, std::size_t b) {
      const double xa = net.edges[a].x_at(middle), xb = net.edges[b].x_at(middle);
      return xa != xb ? xa < xb : a < b;
    });
    Windings windings(prisms);
    std::map<std::pair<std::size_t, std::size_t>, std::size_t> still_open;
    for (std::size_t i = 0; i + 1 < live.size(); ++i) {
      windings.pass(net.edges[live[i]]);
      const std::uint64_t bands = windings.solid();
      if (bands == 0) continue;
      const std::pair key{live[i], live[i + 1]};
      const double left = net.edges[key.first].x_at(static_cast<double>(ya));
      const double right = net.edges[key.second].x_at(static_cast<double>(ya));
      const auto before = open.find(key);
      if (before != open.end() && !corner_between(level->second, left, right)) {
        fields[before->second].to = yb;
        still_open[key] = before->second;
      } else {
        still_open[key] = fields.size();
        fields.push_back({key.first, key.second, ya, yb, bands});
      }
    }
    open = std::move(still_open);
  }
  return fields;
}

/// Corners of all fields, shared between neighbours.
class Corners {
 public:
  Corners(const Net& net, const std::vector<Field>& fields) : net_(net), on_edge_(net.edges.size()), at_(net.corners) {
    for (const Field& f : fields) {
      for (const std::size_t e : {f.left, f.right}) {
        for (const std::int64_t y : {f.from, f.to}) {
          on_edge_[e].insert(y);
          at_[y].insert(net.edges[e].point_at(y).x);
        }
      }
    }
  }

  /// All corners on a field's border, anticlockwise.
  std::vector<LatticePoint> around(const Field& f) const {
    std::vector<LatticePoint> p;
    const Edge &left = net_.edges[f.left], &right = net_.edges[f.right];
    add_level(p, f.from, left, right);
    for (const std::int64_t y : on_edge_[f.right]) {
      if (y > f.from && y < f.to) p.push_back(right.point_at(y));
    }
    std::vector<LatticePoint> top;
    add_level(top, f.to, left, right);
    p.insert(p.end(), top.rbegin(), top.rend());
    for (auto y = on_edge_[f.left].rbegin(); y != on_edge_[f.left].rend(); ++y) {
      if (*y > f.from && *y < f.to) p.push_back(left.point_at(*y));
    }
    p.erase(std::unique(p.begin(), p.end()), p.end());
    if (p.size() > 1 && p.front() == p.back()) p.pop_back();
    return p;
  }

 private:
  void add_level(std::vector<LatticePoint>& out, std::int64_t y, const Edge& left, const Edge& right) const {
    const std::int64_t x0 = left.point_at(y).x, x1 = right.point_at(y).x;
    const std::set<std::int64_t>& xs = at_.at(y);
    for (auto x = xs.lower_bound(x0); x != xs.end() && *x <= x1; ++x) out.push_back({*x, y});
  }

  const Net& net_;
  std::vector<std::set<std::int64_t>> on_edge_;
  std::map<std::int64_t, std::set<std::int64_t>> at_;
};

class Triangles {
 public:
  void add(const std::vector<LatticePoint>& border, std::uint64_t bands) {
    if (border.size() < 3) return;
    if (border.size() == 3) {
      out_.triangles.push_back({{index(border[0]), index(border[1]), index(border[2])}, bands});
      return;
    }
    LatticePoint sum;
    for (const LatticePoint& p : border) sum.x += p.x, sum.y += p.y;
    const auto n = static_cast<std::int64_t>(border.size());
    const std::uint32_t middle = static_cast<std::uint32_t>(out_.points.size());
    out_.points.push_back({sum.x / n, sum.y / n});  // new even if a point lies there: it belongs to this field alone
    for (std::size_t i = 0; i < border.size(); ++i) {
      out_.triangles.push_back({{middle, index(border[i]), index(border[(i + 1) % border.size()])}, bands});
    }
  }
  Arrangement take() { return std::move(out_); }

 private:
  std::uint32_t index(LatticePoint p) {
    const auto [at, fresh] = known_.try_emplace(p, static_cast<std::uint32_t>(out_.points.size()));
    if (fresh) out_.points.push_back(p);
    return at->second;
  }
  Arrangement out_;
  std::map<LatticePoint, std::uint32_t> known_;
};

}  // namespace

Arrangement arrange(const std::vector<LatticePrism>& prisms) {
  const Net net = net_of(segments_of(prisms));
  const std::vector<Field> fields = fields_of(net, prisms);
  const Corners corners(net, fields);
  Triangles triangles;
  for (const Field& f : fields) triangles.add(corners.around(f), f.bands);
  return triangles.take();
}

}  // namespace hairline
