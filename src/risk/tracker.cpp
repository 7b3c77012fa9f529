/// From critical voxels to details, to what they carry, and to what falls with them (design 6.7; docs/exposure.md).
///
/// Two graphs of pieces run side by side, both from the top down: `drawn`, the masks as they are, and `standing`, the
/// masks less the voxels that are lost at the judged exposure. A standing body that never reaches the plate, though the
/// drawn one it was cut from does, hangs on the lost voxels it touches.
#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
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

// Volume a detail carried in one body when its lowest layer was done: all of it was printed later than the detail
// began.
struct Load {
  std::uint32_t body = 0;
  double volume_mm3 = 0;
};

struct ListedDetail {
  std::uint32_t node = 0;  // in its forest
  Detail detail;
  std::vector<Load> loads;
};

// A piece of the predicted print with nothing beneath it, though the mask had something there.
struct Start {
  std::uint32_t layer = 0, body = 0;
  BoxPx box;
  double volume_mm3 = 0;
  std::vector<std::uint32_t> details;  // nodes of the vanish forest
};

// Voxels that are gone at the judged exposure, with the nodes of their details.
struct LostRuns {
  std::vector<CriticalRun> runs;
  std::vector<std::uint32_t> node;
};

LostRuns lost_runs(const JudgedRuns& judged, const std::vector<std::uint32_t>& node, double exposure_s) {
  LostRuns lost;
  for (std::size_t i = 0; i < judged.runs.size(); ++i) {
    if (node[i] == no_node || !(judged.runs[i].critical_s > exposure_s)) continue;
    lost.runs.push_back(judged.runs[i]);
    lost.node.push_back(node[i]);
  }
  return lost;
}

Mask mask_of(const std::vector<CriticalRun>& runs, Size size) {
  Mask mask;
  mask.size = size;
  mask.rows.reserve(size.height_px);
  std::size_t i = 0;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; i < runs.size() && runs[i].row == r; ++i) {
      if (mask.spans.size() > first && mask.spans.back().end == runs[i].begin) {
        mask.spans.back().end = runs[i].end;
      } else {
        mask.spans.push_back({runs[i].begin, runs[i].end});
      }
    }
    mask.rows.push_back({first, static_cast<std::uint32_t>(mask.spans.size())});
  }
  return mask;
}

// Calls meet(detail's node, span index) for lost runs and spans of a mask that share a pixel or, with slack 1, touch
// sideways.
template <class Meet>
void meet_spans(const LostRuns& lost, const Mask& mask, std::uint32_t slack, Meet meet) {
  for (std::size_t i = 0; i < lost.runs.size(); ++i) {
    const CriticalRun& run = lost.runs[i];
    const std::uint32_t first_row = run.row < slack ? 0 : run.row - slack;
    for (std::uint32_t r = first_row; r <= run.row + slack && r < mask.size.height_px; ++r) {
      const auto row = mask.row(r);
      auto span = std::lower_bound(row.begin(), row.end(), run.begin,
                                   [slack](const Span& s, std::uint32_t at) { return s.end + slack <= at; });
      for (; span != row.end() && span->begin < run.end + slack; ++span) {
        meet(lost.node[i], static_cast<std::size_t>(&*span - mask.spans.data()));
      }
    }
  }
}

// Voxels of one fate on their way to details, contenders and the loss curve.
struct FateState {
  Fate fate;
  DetailForest details, contenders;
  JudgedRuns now, above;  // of the layer added last and the one before
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
  std::vector<ListedDetail> listed;
  RiskFound found;

  BodyForest drawn, standing;
  std::optional<Standing> above;                              // the layer before, as predicted
  LostRuns lost_above;                                        // what it lost
  std::vector<std::uint32_t> drawn_of;                        // standing body node -> drawn body node
  std::set<std::pair<std::uint32_t, std::uint32_t>> resting;  // (body, detail above it)
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
  void follow_bodies(RiskLayer layer, LostRuns lost);
  void list(Fate fate, const std::vector<ClosedDetail>& closed);
  void contend(Fate fate, const std::vector<ClosedDetail>& closed);
  Detail detail_of(Fate fate, const DetailSum& sum) const;
  void settle_loads();
};

Detail RiskTracker::State::detail_of(Fate fate, const DetailSum& sum) const {
  const MedianCritical middle = median(sum.bins.sorted());
  Detail detail;
  detail.fate = fate;
  detail.from_layer = sum.from_layer;
  detail.to_layer = sum.to_layer;
  detail.box = box_mm(sum.box, sum.from_layer, sum.to_layer);
  detail.volume_mm3 = sum.volume_mm3;
  detail.flat = sum.flat;
  detail.critical_exposure_s = middle.critical_s;
  detail.log_sd = certainty.log_sd(fate, middle.blur_slope, middle.depth_slope);
  detail.probability = chance(fate, middle.critical_s, context.exposure_s, detail.log_sd);
  detail.lost_fraction = static_cast<double>(sum.flipped) / static_cast<double>(sum.voxels);
  detail.avoidable = fate == Fate::vanish ? middle.critical_s <= context.model.valid_to_s
                                          : middle.critical_s > context.model.valid_from_s;
  if (std::isfinite(sum.width_mm)) {
    detail.width_mm = static_cast<double>(sum.width_mm);
  } else {  // no medial line inside it: the width that a straight wall or gap of equal light would have
    detail.width_mm = fate == Fate::vanish ? wall_limit_mm(context.model, middle.critical_s)
                                           : slot_limit_mm(context.model, middle.critical_s);
  }
  return detail;
}

void RiskTracker::State::list(Fate fate, const std::vector<ClosedDetail>& closed) {
  for (const ClosedDetail& one : closed) {
    if (one.sum.volume_mm3 < context.settings.least_detail_mm3) {
      (fate == Fate::vanish ? found.crumbs.vanish : found.crumbs.fuse) += 1;
      (fate == Fate::vanish ? found.crumbs.vanish_mm3 : found.crumbs.fuse_mm3) += one.sum.volume_mm3;
      continue;
    }
    std::set<std::uint32_t> bodies;
    for (const std::uint32_t body : one.sum.bodies) bodies.insert(standing.find(body));
    std::vector<Load> loads;
    for (const std::uint32_t body : bodies) loads.push_back({body, standing.body(body).volume_mm3});
    listed.push_back({one.node, detail_of(fate, one.sum), std::move(loads)});
  }
}

void RiskTracker::State::contend(Fate fate, const std::vector<ClosedDetail>& closed) {
  for (const ClosedDetail& one : closed) {
    if (one.sum.volume_mm3 < context.settings.least_detail_mm3) continue;
    const Detail detail = detail_of(fate, one.sum);
    found.contenders.push_back({fate, detail.from_layer, detail.to_layer, detail.box, detail.volume_mm3,
                                detail.width_mm, detail.critical_exposure_s, detail.log_sd, detail.flat});
  }
}

// Sorts a layer's voxels into details at the judged exposure, contenders over the range, and the loss curve.
void RiskTracker::State::judge(const LayerFacts& facts, std::vector<CriticalRun> runs,
                               const std::vector<ThinPlace>& thin, FateState& state) {
  const bool is_vanish = state.fate == Fate::vanish;
  std::swap(state.now, state.above);
  JudgedRuns& now = state.now;
  now.runs = std::move(runs);
  now.log_critical.resize(now.runs.size());
  now.sets.resize(now.runs.size());
  for (std::size_t i = 0; i < now.runs.size(); ++i) {
    const CriticalRun& run = now.runs[i];
    const double log_critical = std::log(static_cast<double>(run.critical_s));
    const double sd = certainty.log_sd(state.fate, static_cast<double>(run.blur_slope),
                                       static_cast<double>(run.depth_slope) + facts.height_slope);
    const double beyond = is_vanish ? log_critical - log_exposure : log_exposure - log_critical;
    const double critical_s = static_cast<double>(run.critical_s);
    const bool within = is_vanish ? critical_s >= context.range_from_s : critical_s <= context.range_to_s;
    now.log_critical[i] = log_critical;
    now.sets[i] = static_cast<std::uint8_t>((beyond >= least_z * sd ? at_risk : 0) | (within ? in_range : 0));
    if (within) state.curve.add(log_critical, (run.end - run.begin) * facts.voxel_mm3);
  }
  std::vector<ClosedDetail> closed;
  state.details.add(facts, now, state.above, thin, closed);
  list(state.fate, closed);
  closed.clear();
  state.contenders.add(facts, now, state.above, thin, closed);
  contend(state.fate, closed);
}

// Adds a layer to both graphs of pieces and notes which bodies the lost voxels hold.
void RiskTracker::State::follow_bodies(RiskLayer layer, LostRuns lost) {
  const LayerPlan& plan = context.layers[layer.number - 1];
  const double voxel_mm3 = context.pitch.pixel_mm2() * plan.height_mm;
  const auto& drawn_node = drawn.add(layer.number, voxel_mm3, layer.pieces, layer.contacts_above);
  const bool loses = !lost.runs.empty(), lost_before = !lost_above.runs.empty();

  Standing now;
  if (loses) {
    now.solid = minus(layer.solid, mask_of(lost.runs, context.size));
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
        vanish.details.touch_body(node, above->node[above->pieces.of_span[span]]);
      });
    }
    meet_spans(lost, now.solid, 1, [&](std::uint32_t node, std::size_t span) {
      vanish.details.touch_body(node, now.node[now.pieces.of_span[span]]);
    });
  }
  if (lost_before) {
    meet_spans(lost_above, now.solid, 0, [&](std::uint32_t node, std::size_t span) {
      resting.emplace(now.node[now.pieces.of_span[span]], node);
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
    for (const auto& [piece, details] : causes) {
      const Piece& one = above->pieces.pieces[piece];
      starts.push_back({layer.number + 1,
                        above->node[piece],
                        one.box,
                        static_cast<double>(one.area_px) * above_mm3,
                        {details.begin(), details.end()}});
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
  follow_bodies(std::move(layer), lost_runs(vanish.now, vanish.details.nodes(), context.exposure_s));
}

// Bodies that lost their way to the plate, summed up for each detail they hung on, directly or through others.
void RiskTracker::State::settle_loads() {
  const auto fallen = [&](std::uint32_t body) {
    return !standing.body(body).grounded && drawn.body(drawn_of[standing.find(body)]).grounded;
  };
  std::map<std::uint32_t, std::size_t> at_node;  // vanish node -> listed detail
  for (std::size_t i = 0; i < listed.size(); ++i) {
    if (listed[i].detail.fate == Fate::vanish) at_node[vanish.details.find(listed[i].node)] = i;
  }
  std::map<std::uint32_t, std::set<std::size_t>> resting_on;  // body -> details above it
  for (const auto& [body, detail] : resting) {
    const auto at = at_node.find(vanish.details.find(detail));
    if (at != at_node.end()) resting_on[standing.find(body)].insert(at->second);
  }
  for (ListedDetail& one : listed) {
    if (one.detail.fate != Fate::vanish) continue;
    // Directly: all loads are parts of the print at one moment, so they do not overlap.
    std::set<std::uint32_t> reached;
    double carried = 0;
    for (const Load& load : one.loads) {
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
        if (listed[other].detail.from_layer <= one.detail.from_layer) continue;
        for (const Load& further : listed[other].loads) {
          if (!fallen(further.body) || !reached.insert(standing.find(further.body)).second) continue;
          carried += further.volume_mm3;
          todo.push_back(standing.find(further.body));
        }
      }
    }
    one.detail.carries_mm3 = carried;
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
    for (const std::uint32_t detail : start.details) {
      const auto listed_at = at_node.find(vanish.details.find(detail));
      if (listed_at != at_node.end()) found.falls[at].details.push_back(static_cast<std::uint32_t>(listed_at->second));
    }
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
  for (FateState* state : {&s.vanish, &s.fuse}) {
    std::vector<ClosedDetail> closed;
    state->details.finish(closed);
    s.list(state->fate, closed);
    closed.clear();
    state->contenders.finish(closed);
    s.contend(state->fate, closed);
  }
  s.settle_loads();

  // Worst first: what flips rather than not, then by the volume that is expected to go wrong.
  std::vector<std::size_t> order(s.listed.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  const auto rank = [&](std::size_t i) {
    const Detail& d = s.listed[i].detail;
    return std::tuple{d.probability < 0.5, -d.probability * (d.volume_mm3 + d.carries_mm3),
                      d.from_layer,        d.box.from.y,
                      d.box.from.x,        d.fate};
  };
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return rank(a) < rank(b); });
  std::vector<std::uint32_t> id_of(order.size());
  for (std::size_t i = 0; i < order.size(); ++i) {
    id_of[order[i]] = static_cast<std::uint32_t>(i + 1);
    s.found.details.push_back(s.listed[order[i]].detail);
    s.found.details.back().id = static_cast<std::uint32_t>(i + 1);
  }
  for (Fall& fall : s.found.falls) {
    for (std::uint32_t& detail : fall.details) detail = id_of[detail];
    std::sort(fall.details.begin(), fall.details.end());
    fall.details.erase(std::unique(fall.details.begin(), fall.details.end()), fall.details.end());
  }
  std::stable_sort(s.found.falls.begin(), s.found.falls.end(),
                   [](const Fall& a, const Fall& b) { return a.volume_mm3 > b.volume_mm3; });
  s.found.vanish_curve = s.vanish.curve.curve();
  s.found.fuse_curve = s.fuse.curve.curve();
  return std::move(s.found);
}

}  // namespace hairline
