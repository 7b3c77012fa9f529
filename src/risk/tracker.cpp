/// From critical voxels to details, to what they carry, and to what falls with them (design 6.7; docs/exposure.md).
///
/// Two graphs of pieces run side by side, both from the top down: `drawn`, the masks as they are, and `standing`, the
/// masks less the voxels that are lost at the judged exposure. A standing body that never reaches the plate, though the
/// drawn one it was cut from does, hangs on the lost voxels it touches.
#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
#include <memory_resource>
#include <numeric>
#include <set>

#include "body_forest.hpp"
#include "detail_forest.hpp"
#include "hairline/risk.hpp"
#include "normal.hpp"

namespace hairline {
namespace {

using namespace risk;

// One layer of the predicted print.
struct Standing {
  Mask solid;
  Pieces pieces;
  std::vector<std::uint32_t> node;         // body of each piece
  std::vector<std::uint32_t> drawn_piece;  // piece of the drawn layer it was cut from
};

// What a detail holds: loads, and the bodies beneath it.
struct Hold {
  std::vector<Load> loads;
  std::vector<std::uint32_t> resting;
  double carries_mm3 = 0;
};

// A detail that has ended. Kept small: there may be a hundred thousand.
struct EndedDetail {
  Fate fate = Fate::vanish;
  bool flat = false;
  float lost_fraction = 0;
  std::uint32_t from_layer = 0, to_layer = 0, id = 0;
  BoxPx box;
  double volume_mm3 = 0, width_mm = 0, critical_exposure_s = 0, log_sd = 0;
  std::unique_ptr<Hold> hold;  // null: nothing
};

// A piece of the predicted print with nothing beneath it, though the mask had something there.
struct Start {
  std::uint32_t layer = 0, body = 0;
  BoxPx box;
  double volume_mm3 = 0;
  std::vector<std::uint32_t> details;  // it rested on, listed ones: indices
};

// Voxels that are gone at the judged exposure, with the nodes of their details; sorted.
struct LostRun {
  std::uint32_t row = 0, begin = 0, end = 0, node = 0;
};

std::vector<LostRun> lost_runs(const JudgedRuns& judged, const std::vector<Stretch>& stretches, double exposure_s) {
  std::vector<LostRun> lost;
  for (const Stretch& stretch : stretches) {
    bool going_on = false;
    for (std::size_t i = stretch.first_run; i < stretch.end_run; ++i) {
      const CriticalRun& run = judged.runs[i];
      const bool is_lost = run.critical_s > exposure_s;
      if (is_lost && going_on) lost.back().end = run.end;
      if (is_lost && !going_on) lost.push_back({run.row, run.begin, run.end, stretch.node});
      going_on = is_lost;
    }
  }
  return lost;
}

Mask mask_of(const std::vector<LostRun>& runs, Size size) {
  Mask mask;
  mask.size = size;
  mask.rows.reserve(size.height_px);
  mask.spans.reserve(runs.size());
  std::size_t i = 0;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; i < runs.size() && runs[i].row == r; ++i) mask.spans.push_back({runs[i].begin, runs[i].end});
    mask.rows.push_back({first, static_cast<std::uint32_t>(mask.spans.size())});
  }
  return mask;
}

// Calls meet(detail's node, span index) for lost runs and spans of a mask that share a pixel or, with slack 1, touch
// sideways.
template <class Meet>
void meet_spans(const std::vector<LostRun>& lost, const Mask& mask, std::uint32_t slack, Meet meet) {
  for (const LostRun& run : lost) {
    const std::uint32_t first_row = run.row < slack ? 0 : run.row - slack;
    for (std::uint32_t r = first_row; r <= run.row + slack && r < mask.size.height_px; ++r) {
      const auto row = mask.row(r);
      auto span = std::lower_bound(row.begin(), row.end(), run.begin,
                                   [slack](const Span& s, std::uint32_t at) { return s.end + slack <= at; });
      for (; span != row.end() && span->begin < run.end + slack; ++span) {
        meet(run.node, static_cast<std::size_t>(&*span - mask.spans.data()));
      }
    }
  }
}

// Voxels of one fate on their way to details, contenders and the loss curve.
struct FateState {
  Fate fate;
  DetailForest details, contenders;
  JudgedRuns now;  // of the layer added last
  LossVolume curve;
  explicit FateState(Fate which) : fate(which), details(which, at_risk), contenders(which, in_range) {}
};

}  // namespace

struct RiskTracker::State {
  RiskContext context;
  Certainty certainty;
  double least_z = 0, log_exposure = 0;  // a voxel is at risk from least_z spreads on
  std::deque<RiskLayer> waiting;
  FateState vanish{Fate::vanish}, fuse{Fate::fuse};
  // What stays till the end lies together, apart from what layers take and give back.
  std::pmr::monotonic_buffer_resource room{std::size_t{1} << 16};
  std::pmr::deque<EndedDetail> listed{&room}, contenders{&room};
  RiskFound found;

  BodyForest drawn, standing;
  std::optional<Standing> above;        // the layer before, as predicted
  std::vector<LostRun> lost_above;      // what it lost
  std::vector<std::uint32_t> drawn_of;  // standing body node -> drawn body node
  std::vector<Start> starts;

  explicit State(RiskContext with)
      : context(std::move(with)),
        certainty(certainty_of(context)),
        least_z(normal_quantile(context.settings.least_chance)),
        log_exposure(std::log(context.exposure_s)) {}

  BoxMm box_mm(const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer) const {
    const LayerPlan &low = context.layers[from_layer - 1], &high = context.layers[to_layer - 1];
    return {{box.x0 * context.pitch.x_mm, box.y0 * context.pitch.y_mm, low.bottom_mm},
            {box.x1 * context.pitch.x_mm, box.y1 * context.pitch.y_mm, high.bottom_mm + high.height_mm}};
  }

  void process(RiskLayer layer, CriticalLayer critical);
  void judge(const LayerFacts& facts, std::vector<CriticalRun> runs, const std::vector<ThinPlace>& thin,
             FateState& state);
  void follow_bodies(RiskLayer layer, std::vector<LostRun> lost);
  void weigh_loads(std::uint32_t number);
  void close(std::uint32_t number, FateState& state);
  void list(Fate fate, const DetailSum& sum);
  void contend(Fate fate, const DetailSum& sum);
  EndedDetail ended(Fate fate, const DetailSum& sum) const;
  Detail detail_of(const EndedDetail& one) const;
  Contender contender_of(const EndedDetail& one) const;
  void settle_loads();
  void number_details();
};

EndedDetail RiskTracker::State::ended(Fate fate, const DetailSum& sum) const {
  const MedianCritical middle = median(sum.bins.sorted());
  EndedDetail one;
  one.fate = fate;
  one.flat = sum.flat;
  one.lost_fraction = static_cast<float>(static_cast<double>(sum.flipped) / static_cast<double>(sum.voxels));
  one.from_layer = sum.from_layer;
  one.to_layer = sum.to_layer;
  one.box = sum.box;
  one.volume_mm3 = sum.volume_mm3;
  one.critical_exposure_s = middle.critical_s;
  one.log_sd = certainty.log_sd(fate, middle.blur_slope, middle.depth_slope);
  if (std::isfinite(sum.width_mm)) {
    one.width_mm = static_cast<double>(sum.width_mm);
  } else {  // no medial line inside it: the width that a straight wall or gap of equal light would have
    one.width_mm = fate == Fate::vanish ? wall_limit_mm(context.model, middle.critical_s)
                                        : slot_limit_mm(context.model, middle.critical_s);
  }
  return one;
}

Detail RiskTracker::State::detail_of(const EndedDetail& one) const {
  Detail detail;
  detail.id = one.id;
  detail.fate = one.fate;
  detail.from_layer = one.from_layer;
  detail.to_layer = one.to_layer;
  detail.box = box_mm(one.box, one.from_layer, one.to_layer);
  detail.volume_mm3 = one.volume_mm3;
  detail.width_mm = one.width_mm;
  detail.flat = one.flat;
  detail.critical_exposure_s = one.critical_exposure_s;
  detail.log_sd = one.log_sd;
  detail.probability = chance(one.fate, one.critical_exposure_s, context.exposure_s, one.log_sd);
  detail.lost_fraction = static_cast<double>(one.lost_fraction);
  detail.avoidable = one.fate == Fate::vanish ? one.critical_exposure_s <= context.model.valid_to_s
                                              : one.critical_exposure_s > context.model.valid_from_s;
  if (one.hold) detail.carries_mm3 = one.hold->carries_mm3;
  return detail;
}

Contender RiskTracker::State::contender_of(const EndedDetail& one) const {
  return {one.fate,
          one.from_layer,
          one.to_layer,
          box_mm(one.box, one.from_layer, one.to_layer),
          one.volume_mm3,
          one.width_mm,
          one.critical_exposure_s,
          one.log_sd,
          one.flat};
}

void RiskTracker::State::list(Fate fate, const DetailSum& sum) {
  if (sum.volume_mm3 < context.settings.least_detail_mm3) {
    (fate == Fate::vanish ? found.crumbs.vanish : found.crumbs.fuse) += 1;
    (fate == Fate::vanish ? found.crumbs.vanish_mm3 : found.crumbs.fuse_mm3) += sum.volume_mm3;
    return;
  }
  for (const std::uint32_t start : sum.starts)
    starts[start].details.push_back(static_cast<std::uint32_t>(listed.size()));
  listed.push_back(ended(fate, sum));
  if (!sum.loads.empty() || !sum.resting.empty()) listed.back().hold.reset(new Hold{sum.loads, sum.resting, 0});
}

void RiskTracker::State::contend(Fate fate, const DetailSum& sum) {
  if (sum.volume_mm3 >= context.settings.least_detail_mm3) contenders.push_back(ended(fate, sum));
}

// Before layer `number` joins the bodies: what the details that end above it carry.
void RiskTracker::State::weigh_loads(std::uint32_t number) {
  vanish.details.each_untouched(number, [this](DetailSum& sum) {
    std::vector<std::uint32_t> bodies;
    for (const std::uint32_t body : sum.held) note(bodies, standing.find(body));
    for (const std::uint32_t body : bodies) sum.loads.push_back({body, standing.body(body).volume_mm3});
  });
}

// Takes in the details that layer `number` does not touch; 0: all.
void RiskTracker::State::close(std::uint32_t number, FateState& state) {
  std::vector<DetailSum> closed;
  state.details.close(number, closed);
  for (const DetailSum& sum : closed) list(state.fate, sum);
  closed.clear();
  state.contenders.close(number, closed);
  for (const DetailSum& sum : closed) contend(state.fate, sum);
}

// Sorts a layer's voxels into details at the judged exposure, contenders over the range, and the loss curve.
void RiskTracker::State::judge(const LayerFacts& facts, std::vector<CriticalRun> runs,
                               const std::vector<ThinPlace>& thin, FateState& state) {
  const bool is_vanish = state.fate == Fate::vanish;
  JudgedRuns& now = state.now;
  now.runs = std::move(runs);
  now.beyond.resize(now.runs.size());
  now.bin.resize(now.runs.size());
  now.sets.resize(now.runs.size());
  for (std::size_t i = 0; i < now.runs.size(); ++i) {
    const CriticalRun& run = now.runs[i];
    const double log_critical = std::log(static_cast<double>(run.critical_s));
    const double sd = certainty.log_sd(state.fate, static_cast<double>(run.blur_slope),
                                       static_cast<double>(run.depth_slope) + facts.height_slope);
    const double beyond = is_vanish ? log_critical - log_exposure : log_exposure - log_critical;
    const double critical_s = static_cast<double>(run.critical_s);
    const bool within = is_vanish ? critical_s >= context.range_from_s : critical_s <= context.range_to_s;
    now.bin[i] = bin_of(log_critical);
    now.beyond[i] = static_cast<float>(1000 * log_critical - now.bin[i]);
    now.sets[i] = static_cast<std::uint8_t>((beyond >= least_z * sd ? at_risk : 0) | (within ? in_range : 0));
    if (within) state.curve.add(now.bin[i], (run.end - run.begin) * facts.voxel_mm3);
  }
  state.details.add(facts, now, thin);
  state.contenders.add(facts, now, thin);
}

// Adds a layer to both graphs of pieces and notes which bodies the lost voxels hold.
void RiskTracker::State::follow_bodies(RiskLayer layer, std::vector<LostRun> lost) {
  const LayerPlan& plan = context.layers[layer.number - 1];
  const double voxel_mm3 = context.pitch.pixel_mm2() * plan.height_mm;
  const auto& drawn_node = drawn.add(layer.number, voxel_mm3, layer.pieces, layer.contacts_above);
  const bool loses = !lost.empty(), lost_before = !lost_above.empty();

  Standing now;
  if (loses) {
    now.solid = minus(layer.solid, mask_of(lost, context.size));
    now.pieces = find_pieces(now.solid);
  } else {
    now.solid = std::move(layer.solid);
    now.pieces = std::move(layer.pieces);
  }
  std::vector<Contact> contacts;
  if (!loses && !lost_before) {
    contacts = std::move(layer.contacts_above);
  } else if (above) {
    contacts = find_contacts(now.solid, now.pieces, above->solid, above->pieces);
  }
  now.node = standing.add(layer.number, voxel_mm3, now.pieces, contacts);

  // Which drawn body each standing one was cut from (noted at its birth: a body keeps its drawn body for good).
  now.drawn_piece.resize(now.pieces.pieces.size());
  if (!loses) {
    for (std::uint32_t i = 0; i < now.drawn_piece.size(); ++i) now.drawn_piece[i] = i;
  } else {
    for (const Contact& same : find_contacts(now.solid, now.pieces, layer.solid, layer.pieces))
      now.drawn_piece[same.a] = same.b;
  }
  for (std::size_t i = 0; i < now.node.size(); ++i) {  // nodes are numbered in the order of birth
    if (now.node[i] >= drawn_of.size()) drawn_of.push_back(drawn_node[now.drawn_piece[i]]);
  }

  // Lost voxels of this layer and the bodies above and beside them; lost voxels of the layer above and the bodies
  // beneath.
  if (loses) {
    if (above) {
      meet_spans(lost, above->solid, 0, [&](std::uint32_t node, std::size_t span) {
        note(vanish.details.sum(node).held, above->node[above->pieces.of_span[span]]);
      });
    }
    meet_spans(lost, now.solid, 1, [&](std::uint32_t node, std::size_t span) {
      note(vanish.details.sum(node).held, now.node[now.pieces.of_span[span]]);
    });
  }
  if (lost_before) {
    meet_spans(lost_above, now.solid, 0, [&](std::uint32_t node, std::size_t span) {
      note(vanish.details.sum(node).resting, now.node[now.pieces.of_span[span]]);
    });
  }

  // Pieces of the layer above that this layer no longer supports, but did as drawn.
  if (loses && above) {
    std::vector<bool> held(above->pieces.pieces.size(), false);
    for (const Contact& contact : contacts) held[contact.b] = true;
    std::map<std::uint32_t, std::set<std::uint32_t>> causes;  // piece above -> details it rested on
    meet_spans(lost, above->solid, 0, [&](std::uint32_t node, std::size_t span) {
      const std::uint32_t piece = above->pieces.of_span[span];
      if (!held[piece]) causes[piece].insert(node);
    });
    const double above_mm3 = context.pitch.pixel_mm2() * context.layers[layer.number].height_mm;
    for (const auto& [piece, nodes] : causes) {
      const Piece& one = above->pieces.pieces[piece];
      for (const std::uint32_t node : nodes)
        note(vanish.details.sum(node).starts, static_cast<std::uint32_t>(starts.size()));
      starts.push_back(
          {layer.number + 1, above->node[piece], one.box, static_cast<double>(one.area_px) * above_mm3, {}});
    }
  }
  lost_above = std::move(lost);
  above = std::move(now);
}

void RiskTracker::State::process(RiskLayer layer, CriticalLayer critical) {
  const double height_mm = context.layers[layer.number - 1].height_mm;
  const auto facts = [&](Fate fate) {
    return LayerFacts{layer.number, context.pitch.pixel_mm2() * height_mm, certainty.height_slope(fate, height_mm),
                      context.exposure_s};
  };
  judge(facts(Fate::vanish), std::move(critical.vanish), layer.thin.walls, vanish);
  judge(facts(Fate::fuse), std::move(critical.fuse), layer.thin.gaps, fuse);
  weigh_loads(layer.number);
  follow_bodies(std::move(layer), lost_runs(vanish.now, vanish.details.stretches(), context.exposure_s));
  close(layer.number, vanish);
  close(layer.number, fuse);
}

// Bodies that lost their way to the plate, summed up for each detail they hung on, directly or through others.
void RiskTracker::State::settle_loads() {
  const auto fallen = [&](std::uint32_t body) {
    return !standing.body(body).grounded && drawn.body(drawn_of[standing.find(body)]).grounded;
  };
  std::map<std::uint32_t, std::set<std::size_t>> resting_on;  // body -> details above it
  for (std::size_t i = 0; i < listed.size(); ++i) {
    if (!listed[i].hold) continue;
    for (const std::uint32_t body : listed[i].hold->resting) resting_on[standing.find(body)].insert(i);
  }
  for (EndedDetail& one : listed) {
    if (!one.hold) continue;
    // Directly: all loads are parts of the print at one moment, so they do not overlap.
    std::set<std::uint32_t> reached;
    double carried = 0;
    for (const Load& load : one.hold->loads) {
      if (!fallen(load.body)) continue;
      carried += load.volume_mm3;
      reached.insert(standing.find(load.body));
    }
    // And what stands on the fallen bodies through other lost details, higher up.
    std::vector<std::uint32_t> todo(reached.begin(), reached.end());
    while (!todo.empty()) {
      const std::uint32_t body = todo.back();
      todo.pop_back();
      for (const std::size_t other : resting_on[body]) {
        if (listed[other].from_layer <= one.from_layer) continue;
        for (const Load& further : listed[other].hold->loads) {
          if (!fallen(further.body) || !reached.insert(standing.find(further.body)).second) continue;
          carried += further.volume_mm3;
          todo.push_back(standing.find(further.body));
        }
      }
    }
    one.hold->carries_mm3 = carried;
  }

  std::map<std::uint32_t, std::size_t> fall_of_body;
  for (const Start& start : starts) {
    const std::uint32_t body = standing.find(start.body);
    const bool loose = fallen(body);
    if (!loose && !standing.body(body).grounded) continue;  // part of an island the masks have themselves
    std::size_t at = found.falls.size();
    if (loose) at = fall_of_body.try_emplace(body, at).first->second;
    if (at == found.falls.size()) {
      found.falls.emplace_back();
      Fall& fall = found.falls.back();
      const Body& whole = standing.body(body);
      fall.loose = loose;
      fall.layer = loose ? whole.from_layer : start.layer;
      fall.box =
          loose ? box_mm(whole.box, whole.from_layer, whole.to_layer) : box_mm(start.box, start.layer, start.layer);
      fall.volume_mm3 = loose ? whole.volume_mm3 : start.volume_mm3;
    }
    auto& details = found.falls[at].details;
    details.insert(details.end(), start.details.begin(), start.details.end());
  }
}

// Worst first: what flips rather than not, then by the volume that is expected to go wrong; to a millionth of a mm3, so
// that like ones come in the order of their place and not of rounding.
void RiskTracker::State::number_details() {
  struct Rank {
    bool holds = false;
    double expected_mm3 = 0;
    EndedDetail* one = nullptr;
  };
  std::vector<Rank> ranks;
  ranks.reserve(listed.size());
  for (EndedDetail& one : listed) {
    const Detail detail = detail_of(one);
    const double expected_mm3 = detail.probability * (detail.volume_mm3 + detail.carries_mm3);
    ranks.push_back({detail.probability < 0.5, 1e-6 * std::round(1e6 * expected_mm3), &one});
  }
  const auto order = [](const Rank& rank) {
    const EndedDetail& one = *rank.one;
    return std::tuple{rank.holds, -rank.expected_mm3, one.from_layer, one.box.y0, one.box.x0, one.fate};
  };
  std::sort(ranks.begin(), ranks.end(), [&](const Rank& a, const Rank& b) { return order(a) < order(b); });
  found.details.reserve(ranks.size());
  for (const Rank& rank : ranks) {
    rank.one->id = static_cast<std::uint32_t>(found.details.size() + 1);
    found.details.push_back(detail_of(*rank.one));
  }
}

RiskTracker::RiskTracker(RiskContext context) : state_(std::make_unique<State>(std::move(context))) {}
RiskTracker::~RiskTracker() = default;
RiskTracker::RiskTracker(RiskTracker&&) noexcept = default;
RiskTracker& RiskTracker::operator=(RiskTracker&&) noexcept = default;

void RiskTracker::add_layer(RiskLayer layer) {
  state_->waiting.push_back(std::move(layer));
}

void RiskTracker::add_critical(CriticalLayer critical) {
  RiskLayer layer = std::move(state_->waiting.front());
  state_->waiting.pop_front();
  state_->process(std::move(layer), std::move(critical));
}

RiskFound RiskTracker::finish() {
  State& s = *state_;
  while (!s.waiting.empty()) {  // base and transition layers: nothing critical, but they hold what is above
    RiskLayer layer = std::move(s.waiting.front());
    s.waiting.pop_front();
    s.process(std::move(layer), {});
  }
  s.weigh_loads(0);
  s.close(0, s.vanish);
  s.close(0, s.fuse);
  s.settle_loads();

  s.number_details();
  for (Fall& fall : s.found.falls) {
    for (std::uint32_t& detail : fall.details) detail = s.listed[detail].id;
    std::sort(fall.details.begin(), fall.details.end());
    fall.details.erase(std::unique(fall.details.begin(), fall.details.end()), fall.details.end());
  }
  std::stable_sort(s.found.falls.begin(), s.found.falls.end(),
                   [](const Fall& a, const Fall& b) { return a.volume_mm3 > b.volume_mm3; });
  s.found.contenders.reserve(s.contenders.size());
  for (const EndedDetail& one : s.contenders) s.found.contenders.push_back(s.contender_of(one));
  s.found.vanish_curve = s.vanish.curve.curve();
  s.found.fuse_curve = s.fuse.curve.curve();
  return std::move(s.found);
}

}  // namespace hairline
