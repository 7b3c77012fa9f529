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
#include <deque>
#include <memory_resource>
#include <numeric>
#include <tuple>
#include <utility>

#include "../base/root_of.hpp"
#include "hairline/track.hpp"
#include "tube_log.hpp"

namespace hairline {
namespace {

constexpr std::uint32_t none = UINT32_MAX;

struct Tube {
  std::uint32_t top = 0, bottom = 0;  ///< layers
  std::uint32_t piece = 0;            ///< number of its lowest piece among the pieces of that layer
  std::uint32_t first_link = 0;       ///< where its links begin; they end where the next tube's do
  std::size_t log_end = 0;
};

/// Tubes in the order of their birth; links and logs of all of them lie in two lists, since most are short.
struct Tubes {
  /// What stays till the end lies together, apart from what layers take and give back.
  std::pmr::monotonic_buffer_resource room{std::size_t{1} << 16};
  std::pmr::deque<Tube> tubes{&room};
  std::pmr::deque<std::uint8_t> logs{&room};    ///< of tubes that have ended
  std::pmr::deque<std::uint32_t> links{&room};  ///< tubes whose lowest piece lies on this one's highest; most have none
  std::vector<double> height_mm;                ///< of the layers, from the top down

  /// Calls see(upper) for each tube whose lowest piece lies on tube t's highest.
  template <class See>
  void each_above(std::size_t t, See see) const {
    const std::size_t end = t + 1 < tubes.size() ? tubes[t + 1].first_link : links.size();
    for (std::size_t i = tubes[t].first_link; i < end; ++i) see(links[i]);
  }
  inner::TubeLogReader log(const Tube& tube) const { return {logs, tube.log_end, tube.top - tube.bottom + 1}; }
};

/// What is found about an island while its body grows.
struct Growth {
  std::uint32_t tube = 0;  ///< the tube it begins with
  Island island;
};

/// From the plate up: bodies, and the islands that own them.
class PlateUp {
 public:
  PlateUp(const Tubes& all, Pitch pitch)
      : all_(all), tubes_(all.tubes), pixel_mm2_(pitch.pixel_mm2()), parent_(tubes_.size()), bodies_(tubes_.size()) {
    std::iota(parent_.begin(), parent_.end(), 0u);
    height_below_mm_.reserve(all.height_mm.size() + 1);
    height_below_mm_.push_back(0);
    for (auto height = all.height_mm.rbegin(); height != all.height_mm.rend(); ++height)
      height_below_mm_.push_back(height_below_mm_.back() + *height);
  }

  std::vector<Growth> run() {
    std::vector<std::vector<std::uint32_t>> below(tubes_.size());
    for (std::uint32_t t = 0; t < tubes_.size(); ++t)
      all_.each_above(t, [&](std::uint32_t upper) { below[upper].push_back(t); });
    for (const std::uint32_t t : from_the_plate_up()) begin_tube(t, below[t]);
    for (std::uint32_t t = 0; t < tubes_.size(); ++t)
      if (body_of(t) == t && bodies_[t].owner != none) charge(bodies_[t], none);
    for (std::uint32_t i = 0; i < islands_.size(); ++i)
      islands_[i].island.joins_layer = islands_[root_of(grew_into_, i)].island.joins_layer;
    return std::move(islands_);
  }

 private:
  /// A tube of a body that does not stand: layers from `from` on are not charged yet.
  struct Open {
    std::uint32_t top, from;
    inner::TubeLogReader log;    ///< read up to there
    std::uint32_t left = 0;      ///< layers of the stretch it is at
    std::uint32_t after = none;  ///< the next one of the chain, as index into open_
  };
  /// Put together at no cost, however long they are.
  struct Chain {
    std::uint32_t first = none, last = none;
  };
  /// A body that does not stand has an owner and tubes that are still to be charged. Where many bodies meet on a layer,
  /// tubes go from owner to owner without being looked at again.
  struct Body {
    std::uint32_t owner = none;  ///< index into islands_; none: stands on the plate
    std::uint32_t layer = 0;     ///< the tubes of `charged` are charged up to the layer before this one
    Chain open, charged;
  };
  struct Stretch {
    inner::Slice slice;
    std::uint32_t low, high;  ///< layers
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

  std::uint32_t body_of(std::uint32_t t) { return root_of(parent_, t); }

  void begin_tube(std::uint32_t t, const std::vector<std::uint32_t>& below) {
    const std::uint32_t layer = tubes_[t].bottom;
    if (below.empty()) {
      if (layer == 1) return;  // stands: no owner, nothing to charge
      bodies_[t].owner = static_cast<std::uint32_t>(islands_.size());
      open_tube(bodies_[t], t);
      inner::TubeLogReader log = all_.log(tubes_[t]);
      log.next();
      const inner::Slice& first = log.slice();
      Growth growth;
      growth.tube = t;
      growth.island.layer = growth.island.last_layer = layer;
      growth.island.area_px = first.area_px;
      growth.island.piece_box = first.box;
      islands_.push_back(growth);
      grew_into_.push_back(bodies_[t].owner);
      return;
    }
    std::uint32_t body = body_of(below.front());
    for (const std::uint32_t lower : below) body = meet(body, body_of(lower), layer);
    parent_[t] = body;
    if (bodies_[body].owner != none) open_tube(bodies_[body], t);
  }

  void append(Chain& chain, Chain more) {
    if (more.first == none) return;
    (chain.first == none ? chain.first : open_[chain.last].after) = more.first;
    chain.last = more.last;
  }

  /// From now on things happen on `layer`: what was charged before is open again.
  void go_on(Body& body, std::uint32_t layer) {
    if (body.layer == layer) return;
    append(body.open, std::exchange(body.charged, {}));
    body.layer = layer;
  }

  void open_tube(Body& body, std::uint32_t t) {
    const Tube& tube = tubes_[t];
    go_on(body, tube.bottom);
    const auto at = static_cast<std::uint32_t>(open_.size());
    open_.push_back({tube.top, tube.bottom, all_.log(tube)});
    append(body.charged, {at, at});
  }

  /// Two bodies become one at `layer`; returns its root.
  std::uint32_t meet(std::uint32_t p, std::uint32_t q, std::uint32_t layer) {
    if (p == q) return p;
    if (elder(q, p)) std::swap(p, q);
    Body &stays = bodies_[p], &ends = bodies_[q];
    if (ends.owner != none) {
      charge(ends, layer);
      if (stays.owner == none) {
        islands_[ends.owner].island.joins_layer = layer;
      } else {
        grew_into_[ends.owner] = stays.owner;
        go_on(stays, layer);
        append(stays.charged, ends.charged);
      }
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

  /// Charges all open tubes of a body to its island up to the layer before `layer`; tubes that end there are done.
  void charge(Body& body, std::uint32_t layer) {
    go_on(body, layer);
    Chain kept;
    for (std::uint32_t at = body.open.first; at != none;) {
      Open& open = open_[at];
      charge_tube(islands_[body.owner].island, open, std::min(layer - 1, open.top));
      const std::uint32_t after = std::exchange(open.after, none);
      if (open.top >= layer) append(kept, {at, at});
      at = after;
    }
    append(kept, body.charged);
    body.open = {}, body.charged = kept;
  }

  /// Up to layer `to`. The highest stretch is added first.
  void charge_tube(Island& island, Open& open, std::uint32_t to) {
    stretches_.clear();
    while (open.from <= to) {
      if (open.left == 0) {
        open.log.next();
        open.left = open.log.count();
      }
      const std::uint32_t layers = std::min(open.left, to - open.from + 1);
      stretches_.push_back({open.log.slice(), open.from, open.from + layers - 1});
      open.from += layers, open.left -= layers;
    }
    for (auto stretch = stretches_.rbegin(); stretch != stretches_.rend(); ++stretch) {
      const double height_mm = height_below_mm_[stretch->high] - height_below_mm_[stretch->low - 1];
      island.volume_mm3 += static_cast<double>(stretch->slice.area_px) * height_mm * pixel_mm2_;
      island.body_box = join(island.body_box, stretch->slice.box);
    }
    if (!stretches_.empty()) island.last_layer = std::max(island.last_layer, to);
  }

  const Tubes& all_;
  const std::pmr::deque<Tube>& tubes_;
  double pixel_mm2_;
  std::vector<double> height_below_mm_;  // of layers 1 to i, at i
  std::vector<std::uint32_t> parent_;
  std::vector<Body> bodies_;
  std::vector<Growth> islands_;
  std::vector<std::uint32_t> grew_into_;  // the island whose body each one grew into, or itself
  std::deque<Open> open_;
  std::vector<Stretch> stretches_;  // of the tube being charged
};

}  // namespace

struct IslandTracker::State {
  /// A tube that reaches the layer added last.
  struct Open {
    std::uint32_t tube = none;
    inner::TubeLog log;
  };
  Pitch pitch;
  Tubes all;
  std::vector<Open> open;              ///< of each piece of the layer added last
  std::vector<std::uint32_t> tube_of;  ///< likewise

  /// For each piece of the new layer: the piece above whose tube it carries on, or none.
  std::vector<std::uint32_t> carried_on(std::size_t pieces, const std::vector<Contact>& contacts_above) const {
    std::vector<std::uint32_t> above(pieces, 0), below(open.size(), 0), from(pieces, none);
    for (const Contact& contact : contacts_above) {
      ++above[contact.a];
      ++below[contact.b];
    }
    for (const Contact& contact : contacts_above)
      if (above[contact.a] == 1 && below[contact.b] == 1) from[contact.a] = contact.b;
    return from;
  }

  std::uint32_t begin_tube(std::uint32_t layer) {
    Tube tube;
    tube.top = layer;
    tube.first_link = static_cast<std::uint32_t>(all.links.size());
    all.tubes.push_back(tube);
    return static_cast<std::uint32_t>(all.tubes.size() - 1);
  }

  void end_open() {
    for (Open& one : open) {
      if (one.tube == none) continue;
      one.log.finish(all.logs);
      all.tubes[one.tube].log_end = all.logs.size();
    }
    open.clear();
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
  const std::vector<std::uint32_t> from = state.carried_on(pieces.pieces.size(), contacts_above);
  state.all.height_mm.push_back(height_mm);
  std::vector<State::Open> open(pieces.pieces.size());
  auto contact = contacts_above.begin();
  for (std::uint32_t i = 0; i < open.size(); ++i) {
    if (from[i] != none) {
      open[i] = std::exchange(state.open[from[i]], {});
    } else {
      open[i].tube = state.begin_tube(number);
      while (contact != contacts_above.end() && contact->a < i) ++contact;
      for (; contact != contacts_above.end() && contact->a == i; ++contact)
        state.all.links.push_back(state.tube_of[contact->b]);
    }
    Tube& tube = state.all.tubes[open[i].tube];
    tube.bottom = number;
    tube.piece = i;
    open[i].log.push({pieces.pieces[i].area_px, pieces.pieces[i].box});
  }
  state.end_open();
  state.open = std::move(open);
  state.tube_of.clear();
  for (const State::Open& tube : state.open) state.tube_of.push_back(tube.tube);
}

std::uint64_t IslandTracker::bytes() const {
  constexpr std::uint64_t tube_bytes = 320;  // with its body, what lies below it, and the island it may be
  const Tubes& all = state_->all;
  return all.tubes.size() * tube_bytes + all.links.size() * 24 + all.logs.size() +
         state_->open.size() * (sizeof(State::Open) + 64);
}

IslandTracker::Found IslandTracker::finish() {
  state_->end_open();
  std::vector<Growth> islands = PlateUp(state_->all, state_->pitch).run();
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
