// Islands from a graph of tubes.
//
//     layer 5   A   B        tubes: 1 = A on layers 5 and 4, 2 = B on layer 5 to 3, 3 = C on layers 3 and 2 ...
//     layer 4   A   B        A tube ends where a piece has more or less than one neighbour above or below. Two
//     layer 3    \C/ B       tubes are linked where a piece of one lies on a piece of the other.
//
// `finish` goes from the plate up through the layers where tubes begin, and keeps the bodies as a union-find over
// tubes: a body is what hangs together using only layers up to the present one. A body that holds a piece of layer 1
// stands. A floating body belongs to the lowest island in it; when it meets another body, the tubes in it are charged
// to their island up to the layer before.
#include <algorithm>
#include <numeric>
#include <tuple>

#include "hairline/track.hpp"
#include "tube_log.hpp"

namespace hairline {
namespace {

constexpr std::uint32_t none = UINT32_MAX;

struct Tube {
  std::uint32_t top = 0, bottom = 0;  ///< layers
  std::uint32_t piece = 0;            ///< number of its lowest piece among the pieces of that layer
  std::vector<std::uint32_t> above;   ///< tubes whose lowest piece lies on this one's highest; empty for most
  detail::TubeLog log;
};

/// What is found about an island while its body grows.
struct Growth {
  std::uint32_t tube = 0;  ///< the tube it begins with
  Island island;
  std::uint32_t ends_in = none;  ///< the island whose body it grew into
};

/// From the plate up: bodies, and the islands that own them.
class PlateUp {
 public:
  PlateUp(const std::vector<Tube>& tubes, Pitch pitch)
      : tubes_(tubes), pixel_mm2_(pitch.pixel_mm2()), parent_(tubes.size()), bodies_(tubes.size()) {
    std::iota(parent_.begin(), parent_.end(), 0u);
  }

  std::vector<Growth> run() {
    std::vector<std::vector<std::uint32_t>> below(tubes_.size());
    for (std::uint32_t t = 0; t < tubes_.size(); ++t)
      for (const std::uint32_t upper : tubes_[t].above) below[upper].push_back(t);
    for (const std::uint32_t t : from_the_plate_up()) begin_tube(t, below[t]);
    for (std::uint32_t t = 0; t < tubes_.size(); ++t)
      if (root_of(t) == t && bodies_[t].owner != none) close(bodies_[t], none);
    for (Growth& growth : islands_) take_join_layer(growth);
    return std::move(islands_);
  }

 private:
  /// A body that does not stand has an owner and tubes that are still to be charged.
  struct Body {
    std::uint32_t owner = none;  ///< index into islands_; none: stands on the plate
    struct Open {
      std::uint32_t tube, from;  ///< layers from here on are not charged yet
    };
    std::vector<Open> open;
  };

  /// Rising layers; within one layer in the order of pieces.
  std::vector<std::uint32_t> from_the_plate_up() const {
    std::vector<std::uint32_t> order(tubes_.size());
    std::iota(order.begin(), order.end(), 0u);
    std::sort(order.begin(), order.end(), [&](std::uint32_t p, std::uint32_t q) {
      return std::tie(tubes_[p].bottom, tubes_[p].piece) < std::tie(tubes_[q].bottom, tubes_[q].piece);
    });
    return order;
  }

  std::uint32_t root_of(std::uint32_t t) {
    while (parent_[t] != t) t = parent_[t] = parent_[parent_[t]];
    return t;
  }

  void begin_tube(std::uint32_t t, const std::vector<std::uint32_t>& below) {
    const std::uint32_t layer = tubes_[t].bottom;
    if (below.empty()) {
      if (layer == 1) return;  // stands: no owner, nothing to charge
      bodies_[t].owner = static_cast<std::uint32_t>(islands_.size());
      bodies_[t].open.push_back({t, layer});
      const detail::Slice& first = tubes_[t].log.lowest();
      Growth growth;
      growth.tube = t;
      growth.island.layer = growth.island.last_layer = layer;
      growth.island.area_px = first.area_px;
      growth.island.piece_box = first.box;
      islands_.push_back(std::move(growth));
      return;
    }
    std::uint32_t body = root_of(below.front());
    for (const std::uint32_t lower : below) body = meet(body, root_of(lower), layer);
    parent_[t] = body;
    if (bodies_[body].owner != none) bodies_[body].open.push_back({t, layer});
  }

  /// Two bodies become one at `layer`; returns its root.
  std::uint32_t meet(std::uint32_t p, std::uint32_t q, std::uint32_t layer) {
    if (p == q) return p;
    if (elder(q, p)) std::swap(p, q);
    Body &stays = bodies_[p], &ends = bodies_[q];
    if (ends.owner != none) {
      Island& island = islands_[ends.owner].island;
      charge(ends, layer - 1);
      if (stays.owner == none)
        island.joins_layer = layer;
      else
        islands_[ends.owner].ends_in = stays.owner;
      if (stays.owner != none) stays.open.insert(stays.open.end(), ends.open.begin(), ends.open.end());
      ends = Body{};
    }
    parent_[q] = p;
    return p;
  }

  /// A standing body comes before every floating one, then the one whose island began lower, then by box.
  bool elder(std::uint32_t p, std::uint32_t q) const {
    const std::uint32_t a = bodies_[p].owner, b = bodies_[q].owner;
    if (a == none || b == none) return a == none && b != none;
    return order_of(islands_[a]) < order_of(islands_[b]);
  }

  std::tuple<std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t> order_of(const Growth& growth) const {
    const Island& island = growth.island;
    return {island.layer, island.piece_box.y0, island.piece_box.x0, tubes_[growth.tube].piece};
  }

  /// Charges all open tubes of a body to its island up to layer `last`; tubes that end there are done.
  void charge(Body& body, std::uint32_t last) {
    Island& island = islands_[body.owner].island;
    std::size_t kept = 0;
    for (const Body::Open open : body.open) {
      const Tube& tube = tubes_[open.tube];
      charge_tube(island, tube, open.from, std::min(last, tube.top));
      if (tube.top > last) body.open[kept++] = {open.tube, std::max(open.from, last + 1)};
    }
    body.open.resize(kept);
  }

  void charge_tube(Island& island, const Tube& tube, std::uint32_t from, std::uint32_t to) {
    if (from > to) return;
    tube.log.for_each([&](std::uint32_t at, std::uint32_t count, const detail::Slice& slice) {
      const std::uint32_t high = std::min(tube.top - at, to), low = std::max(tube.top - at - (count - 1), from);
      if (low > high) return;
      island.volume_mm3 += static_cast<double>(slice.area_px) * (high - low + 1) * slice.height_mm * pixel_mm2_;
      island.body_box = join(island.body_box, slice.box);
    });
    island.last_layer = std::max(island.last_layer, to);
  }

  void close(Body& body, std::uint32_t last) {
    charge(body, last);
    body = Body{};
  }

  /// An island that grew into another one's body joins where that one does.
  void take_join_layer(Growth& growth) {
    const Growth* at = &growth;
    while (at->ends_in != none) at = &islands_[at->ends_in];
    growth.island.joins_layer = at->island.joins_layer;
  }

  const std::vector<Tube>& tubes_;
  double pixel_mm2_;
  std::vector<std::uint32_t> parent_;
  std::vector<Body> bodies_;
  std::vector<Growth> islands_;
};

}  // namespace

struct IslandTracker::State {
  Pitch pitch;
  std::vector<Tube> tubes;
  std::vector<std::uint32_t> tube_of;  ///< of each piece of the layer added last

  /// For each piece of the new layer: the tube it carries on, or none.
  std::vector<std::uint32_t> carried_on(std::size_t pieces, const std::vector<Contact>& contacts_above) const {
    std::vector<std::uint32_t> above(pieces, 0), below(tube_of.size(), 0), tube(pieces, none);
    for (const Contact& contact : contacts_above) {
      ++above[contact.a];
      ++below[contact.b];
    }
    for (const Contact& contact : contacts_above)
      if (above[contact.a] == 1 && below[contact.b] == 1) tube[contact.a] = tube_of[contact.b];
    return tube;
  }
};

IslandTracker::IslandTracker(Pitch pitch) : state_(std::make_unique<State>()) {
  state_->pitch = pitch;
}
IslandTracker::~IslandTracker() = default;
IslandTracker::IslandTracker(IslandTracker&&) noexcept = default;
IslandTracker& IslandTracker::operator=(IslandTracker&&) noexcept = default;

void IslandTracker::add(std::uint32_t number, double height_mm, const Pieces& pieces,
                        const std::vector<Contact>& contacts_above) {
  State& state = *state_;
  std::vector<std::uint32_t> tube_of = state.carried_on(pieces.pieces.size(), contacts_above);
  std::vector<bool> is_new(pieces.pieces.size(), false);
  for (std::uint32_t i = 0; i < pieces.pieces.size(); ++i) {
    if (tube_of[i] == none) {
      is_new[i] = true;
      tube_of[i] = static_cast<std::uint32_t>(state.tubes.size());
      state.tubes.emplace_back();
      state.tubes.back().top = number;
    }
    Tube& tube = state.tubes[tube_of[i]];
    tube.bottom = number;
    tube.piece = i;
    tube.log.push({pieces.pieces[i].area_px, pieces.pieces[i].box, height_mm});
  }
  for (const Contact& contact : contacts_above)
    if (is_new[contact.a]) state.tubes[tube_of[contact.a]].above.push_back(state.tube_of[contact.b]);
  state.tube_of = std::move(tube_of);
}

IslandTracker::Found IslandTracker::finish() const {
  std::vector<Growth> islands = PlateUp(state_->tubes, state_->pitch).run();
  std::stable_sort(islands.begin(), islands.end(), [](const Growth& p, const Growth& q) {
    return std::tie(p.island.layer, p.island.piece_box.y0, p.island.piece_box.x0) <
           std::tie(q.island.layer, q.island.piece_box.y0, q.island.piece_box.x0);
  });
  Found found;
  for (const Growth& growth : islands)
    (growth.island.area_px >= least_island_px ? found.islands : found.specks).push_back(growth.island);
  return found;
}

}  // namespace hairline
