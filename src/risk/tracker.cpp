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

namespace hairline {
namespace {

using namespace risk;

// A layer's geometry, waiting for its critical lists.
struct WaitingLayer {
  std::uint32_t number = 0;
  Mask solid;
  Pieces pieces;
  ThinPlaces thin;
  std::vector<Contact> contacts_above;
};

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

Mask mask_of(const std::vector<CriticalRun>& runs, double above_s, Size size) {
  Mask mask;
  mask.size = size;
  mask.rows.reserve(size.height_px);
  std::size_t i = 0;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; i < runs.size() && runs[i].row == r; ++i) {
      if (!(runs[i].critical_s > above_s)) continue;
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

// Calls meet(run, span index) for lost runs and spans of a mask that share a pixel or, with slack 1, touch sideways.
template <class Meet>
void meet_spans(const std::vector<CriticalRun>& runs, double above_s, const Mask& mask, std::uint32_t slack,
                Meet meet) {
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const CriticalRun& run = runs[i];
    if (!(run.critical_s > above_s)) continue;
    const std::uint32_t first_row = run.row < slack ? 0 : run.row - slack;
    for (std::uint32_t r = first_row; r <= run.row + slack && r < mask.size.height_px; ++r) {
      const auto row = mask.row(r);
      auto span = std::lower_bound(row.begin(), row.end(), run.begin,
                                   [slack](const Span& s, std::uint32_t at) { return s.end + slack <= at; });
      for (; span != row.end() && span->begin < run.end + slack; ++span) {
        meet(i, static_cast<std::size_t>(&*span - mask.spans.data()));
      }
    }
  }
}

std::vector<CriticalRun> only(const std::vector<CriticalRun>& runs, auto keep) {
  std::vector<CriticalRun> kept;
  std::copy_if(runs.begin(), runs.end(), std::back_inserter(kept), keep);
  return kept;
}

void add_to_curve(std::map<std::int32_t, double>& curve, const std::vector<CriticalRun>& runs, double voxel_mm3) {
  for (const CriticalRun& run : runs) {
    const auto bin = static_cast<std::int32_t>(std::floor(1000 * std::log(static_cast<double>(run.critical_s))));
    curve[bin] += (run.end - run.begin) * voxel_mm3;
  }
}

}  // namespace

struct RiskTracker::State {
  RiskContext context;
  Certainty certainty;
  std::deque<WaitingLayer> waiting;
  DetailForest vanish{Fate::vanish}, fuse{Fate::fuse};
  DetailForest vanish_range{Fate::vanish}, fuse_range{Fate::fuse};
  std::vector<ListedDetail> listed;
  RiskFound found;
  std::map<std::int32_t, double> vanish_curve, fuse_curve;

  BodyForest drawn, standing;
  std::optional<Standing> above;        // the layer before, as predicted
  std::vector<CriticalRun> lost_above;  // its vanish runs, with their nodes
  std::vector<std::uint32_t> lost_above_node;
  std::vector<std::uint32_t> drawn_of;                        // standing body node -> drawn body node
  std::set<std::pair<std::uint32_t, std::uint32_t>> resting;  // (body, detail above it)
  std::vector<Start> starts;

  explicit State(RiskContext with) : context(std::move(with)), certainty(certainty_of(context)) {}

  double own_chance(Fate fate, const CriticalRun& run, double height_slope) const {
    const double sd = certainty.log_sd(fate, static_cast<double>(run.blur_slope),
                                       static_cast<double>(run.depth_slope) + height_slope);
    return chance(fate, static_cast<double>(run.critical_s), context.exposure_s, sd);
  }
  BoxMm box_mm(const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer) const {
    const LayerPlan &low = context.layers[from_layer - 1], &high = context.layers[to_layer - 1];
    return {{box.x0 * context.pitch.x_mm, box.y0 * context.pitch.y_mm, low.bottom_mm},
            {box.x1 * context.pitch.x_mm, box.y1 * context.pitch.y_mm, high.bottom_mm + high.height_mm}};
  }

  void process(WaitingLayer layer, const CriticalLayer* critical);
  void judge(const WaitingLayer& layer, const CriticalLayer& critical, std::vector<CriticalRun>& risky);
  void follow_bodies(WaitingLayer layer, const std::vector<CriticalRun>& risky, const std::vector<std::uint32_t>& node);
  void list(Fate fate, const std::vector<ClosedDetail>& closed);
  void contend(Fate fate, const std::vector<ClosedDetail>& closed);
  Detail detail_of(Fate fate, const DetailSum& sum) const;
  void settle_loads();
};

Detail RiskTracker::State::detail_of(Fate fate, const DetailSum& sum) const {
  const MedianCritical middle = median(sum.bins);
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
    std::vector<Load> loads;
    std::set<std::uint32_t> bodies;
    for (const std::uint32_t body : one.sum.bodies) bodies.insert(standing.find(body));
    for (const std::uint32_t body : bodies) loads.push_back({body, standing.body(body).volume_mm3});
    if (one.sum.volume_mm3 >= context.settings.least_detail_mm3) {
      listed.push_back({one.node, detail_of(fate, one.sum), std::move(loads)});
      continue;
    }
    (fate == Fate::vanish ? found.crumbs.vanish : found.crumbs.fuse) += 1;
    (fate == Fate::vanish ? found.crumbs.vanish_mm3 : found.crumbs.fuse_mm3) += one.sum.volume_mm3;
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

// Sorts a layer's voxels into details at the judged exposure and contenders over the range. `risky`: vanish runs that
// are part of a detail, in the order of the nodes the vanish forest holds for them.
void RiskTracker::State::judge(const WaitingLayer& layer, const CriticalLayer& critical,
                               std::vector<CriticalRun>& risky) {
  const double height_mm = context.layers[layer.number - 1].height_mm;
  const double voxel_mm3 = context.pitch.pixel_mm2() * height_mm;
  for (const Fate fate : {Fate::vanish, Fate::fuse}) {
    const bool is_vanish = fate == Fate::vanish;
    const auto& runs = is_vanish ? critical.vanish : critical.fuse;
    const auto& thin = is_vanish ? layer.thin.walls : layer.thin.gaps;
    const LayerFacts facts{layer.number, voxel_mm3, certainty.height_slope(fate, height_mm), context.exposure_s};
    std::vector<CriticalRun> at_risk = only(runs, [&](const CriticalRun& run) {
      return own_chance(fate, run, facts.height_slope) >= context.settings.least_chance;
    });
    const std::vector<CriticalRun> in_range = only(runs, [&](const CriticalRun& run) {
      return is_vanish ? run.critical_s >= context.range_from_s : run.critical_s <= context.range_to_s;
    });
    std::vector<ClosedDetail> closed;
    (is_vanish ? vanish : fuse).add(facts, at_risk, thin, closed);
    list(fate, closed);
    closed.clear();
    (is_vanish ? vanish_range : fuse_range).add(facts, in_range, thin, closed);
    contend(fate, closed);
    add_to_curve(is_vanish ? vanish_curve : fuse_curve, in_range, voxel_mm3);
    if (is_vanish) risky = std::move(at_risk);
  }
}

// Adds a layer to both graphs of pieces and notes which bodies the lost voxels hold.
void RiskTracker::State::follow_bodies(WaitingLayer layer, const std::vector<CriticalRun>& risky,
                                       const std::vector<std::uint32_t>& node) {
  const LayerPlan& plan = context.layers[layer.number - 1];
  const double voxel_mm3 = context.pitch.pixel_mm2() * plan.height_mm;
  const double lost_above_s = context.exposure_s;
  const auto& drawn_node = drawn.add(layer.number, voxel_mm3, layer.pieces, layer.contacts_above);
  const bool loses =
      std::any_of(risky.begin(), risky.end(), [&](const CriticalRun& r) { return r.critical_s > lost_above_s; });
  const bool lost_before = !lost_above.empty();

  Standing now;
  if (loses) {
    now.solid = minus(layer.solid, mask_of(risky, lost_above_s, context.size));
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
      meet_spans(risky, lost_above_s, above->solid, 0, [&](std::size_t run, std::size_t span) {
        vanish.touch_body(node[run], above->node[above->pieces.of_span[span]]);
      });
    }
    meet_spans(risky, lost_above_s, now.solid, 1, [&](std::size_t run, std::size_t span) {
      vanish.touch_body(node[run], now.node[now.pieces.of_span[span]]);
    });
  }
  if (lost_before) {
    meet_spans(lost_above, lost_above_s, now.solid, 0, [&](std::size_t run, std::size_t span) {
      resting.emplace(now.node[now.pieces.of_span[span]], lost_above_node[run]);
    });
  }

  // Pieces of the layer above that this layer no longer supports, but did as drawn.
  if (loses && above) {
    std::vector<bool> held(above->pieces.pieces.size(), false);
    for (const Contact& contact : contacts) held[contact.b] = true;
    std::map<std::uint32_t, std::set<std::uint32_t>> causes;  // piece above -> details it rested on
    meet_spans(risky, lost_above_s, above->solid, 0, [&](std::size_t run, std::size_t span) {
      const std::uint32_t piece = above->pieces.of_span[span];
      if (!held[piece]) causes[piece].insert(node[run]);
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
  lost_above.clear();
  lost_above_node.clear();
  if (loses) {
    lost_above = risky;
    lost_above_node = node;
  }
  above = std::move(now);
}

void RiskTracker::State::process(WaitingLayer layer, const CriticalLayer* critical) {
  std::vector<CriticalRun> risky;
  static const CriticalLayer nothing;
  judge(layer, critical == nullptr ? nothing : *critical, risky);
  const std::vector<std::uint32_t> node = vanish.nodes();
  follow_bodies(std::move(layer), risky, node);
}

// Bodies that lost their way to the plate, summed up for each detail they hung on, directly or through others.
void RiskTracker::State::settle_loads() {
  const auto fallen = [&](std::uint32_t body) {
    return !standing.body(body).grounded && drawn.body(drawn_of[standing.find(body)]).grounded;
  };
  std::map<std::uint32_t, std::size_t> at_node;  // vanish node -> listed detail
  for (std::size_t i = 0; i < listed.size(); ++i) {
    if (listed[i].detail.fate == Fate::vanish) at_node[vanish.find(listed[i].node)] = i;
  }
  std::map<std::uint32_t, std::set<std::size_t>> resting_on;  // body -> details above it
  for (const auto& [body, detail] : resting) {
    const auto at = at_node.find(vanish.find(detail));
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
      const auto listed_at = at_node.find(vanish.find(detail));
      if (listed_at != at_node.end()) found.falls[at].details.push_back(static_cast<std::uint32_t>(listed_at->second));
    }
  }
}

RiskTracker::RiskTracker(RiskContext context) : state_(std::make_unique<State>(std::move(context))) {}
RiskTracker::~RiskTracker() = default;
RiskTracker::RiskTracker(RiskTracker&&) noexcept = default;
RiskTracker& RiskTracker::operator=(RiskTracker&&) noexcept = default;

void RiskTracker::add_layer(std::uint32_t number, Mask solid, Pieces pieces, ThinPlaces thin,
                            std::vector<Contact> contacts_above) {
  state_->waiting.push_back({number, std::move(solid), std::move(pieces), std::move(thin), std::move(contacts_above)});
}

void RiskTracker::add_critical(const CriticalLayer& critical) {
  WaitingLayer layer = std::move(state_->waiting.front());
  state_->waiting.pop_front();
  state_->process(std::move(layer), &critical);
}

RiskFound RiskTracker::finish() {
  State& s = *state_;
  while (!s.waiting.empty()) {  // base and transition layers: nothing critical, but they hold what is above
    WaitingLayer layer = std::move(s.waiting.front());
    s.waiting.pop_front();
    s.process(std::move(layer), nullptr);
  }
  for (const Fate fate : {Fate::vanish, Fate::fuse}) {
    std::vector<ClosedDetail> closed;
    (fate == Fate::vanish ? s.vanish : s.fuse).finish(closed);
    s.list(fate, closed);
    closed.clear();
    (fate == Fate::vanish ? s.vanish_range : s.fuse_range).finish(closed);
    s.contend(fate, closed);
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
  s.found.vanish_curve.bins.assign(s.vanish_curve.begin(), s.vanish_curve.end());
  s.found.fuse_curve.bins.assign(s.fuse_curve.begin(), s.fuse_curve.end());
  return std::move(s.found);
}

}  // namespace hairline
