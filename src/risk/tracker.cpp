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
#include "ended_detail.hpp"
#include "hairline/risk.hpp"
#include "lost_runs.hpp"
#include "normal.hpp"

namespace hairline {
namespace {

using namespace risk;

// One layer of the predicted print.
struct Standing {
  Mask solid;
  Pieces pieces;
  std::vector<std::uint32_t> node;  // body of each piece
};

// The piece of `whole` that piece `number` of the predicted layer was cut from.
std::uint32_t piece_around(const Standing& part, std::uint32_t number, const Mask& whole, const Pieces& pieces) {
  const std::uint32_t row = part.pieces.pieces[number].box.y0;
  std::uint32_t span = part.solid.rows[row].first;
  while (part.pieces.of_span[span] != number) ++span;
  const auto spans = whole.row(row);
  const auto before = [at = part.solid.spans[span].begin](const Span& one) { return one.end <= at; };
  const auto around = std::partition_point(spans.begin(), spans.end(), before);
  return pieces.of_span[whole.rows[row].first + static_cast<std::size_t>(around - spans.begin())];
}

// A piece of the predicted print with nothing beneath it, though the mask had something there.
struct Start {
  std::uint32_t layer = 0, body = 0;
  BoxPx box;
  double volume_mm3 = 0;
  std::vector<std::uint32_t> details;  // it rested on, listed ones: indices
};

// Voxels of one fate on their way to details, contenders and the loss curve.
struct FateState {
  Fate fate;
  DetailForest forest;
  JudgedRuns now;  // of the layer added last
  LossVolume curve;
  explicit FateState(Fate which) : fate(which) {}
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

  void process(RiskLayer layer, CriticalLayer critical);
  void judge(const LayerFacts& facts, std::vector<CriticalRun> runs, const std::vector<ThinPlace>& thin,
             FateState& state);
  void follow_bodies(RiskLayer layer, std::vector<LostRun> lost);
  void weigh_loads(std::uint32_t number);
  void close(std::uint32_t number, FateState& state);
  void list(Fate fate, const DetailSum& sum, const Bonds* bonds);
  void contend(Fate fate, const DetailSum& sum);
  void settle_loads();
  void number_details();
};

void RiskTracker::State::list(Fate fate, const DetailSum& sum, const Bonds* bonds) {
  if (sum.volume_mm3 < context.settings.least_detail_mm3) {
    (fate == Fate::vanish ? found.crumbs.vanish : found.crumbs.fuse) += 1;
    (fate == Fate::vanish ? found.crumbs.vanish_mm3 : found.crumbs.fuse_mm3) += sum.volume_mm3;
    return;
  }
  const auto index = static_cast<std::uint32_t>(listed.size());
  listed.push_back(ended(context, certainty, fate, sum));
  if (bonds == nullptr) return;
  for (const std::uint32_t start : bonds->starts) starts[start].details.push_back(index);
  if (!bonds->loads.empty() || !bonds->resting.empty())
    listed.back().hold.reset(new Hold{bonds->loads, bonds->resting, 0});
}

void RiskTracker::State::contend(Fate fate, const DetailSum& sum) {
  if (sum.volume_mm3 >= context.settings.least_detail_mm3) contenders.push_back(ended(context, certainty, fate, sum));
}

// Before layer `number` joins the bodies: what the details that end above it carry.
void RiskTracker::State::weigh_loads(std::uint32_t number) {
  vanish.forest.each_bound_untouched(number, [this](Bonds& bonds) {
    std::vector<std::uint32_t> bodies;
    for (const std::uint32_t body : bonds.held) note(bodies, standing.find(body));
    for (const std::uint32_t body : bodies) bonds.loads.push_back({body, standing.body(body).volume_mm3});
  });
}

// Takes in the details that layer `number` does not touch; 0: all.
void RiskTracker::State::close(std::uint32_t number, FateState& state) {
  state.forest.close(
      number, [&](const DetailSum& sum, const Bonds* bonds) { list(state.fate, sum, bonds); },
      [&](const DetailSum& sum) { contend(state.fate, sum); });
}

// Sorts a layer's voxels into details at the judged exposure, contenders over the range, and the loss curve.
void RiskTracker::State::judge(const LayerFacts& facts, std::vector<CriticalRun> runs,
                               const std::vector<ThinPlace>& thin, FateState& state) {
  const bool is_vanish = state.fate == Fate::vanish;
  JudgedRuns& now = state.now;
  now.runs = std::move(runs);
  now.bins.resize(now.runs.size());
  now.flips.resize(now.runs.size());
  state.forest.begin_layer();
  const double exposure_s = context.exposure_s;
  const double range_end_s = is_vanish ? context.range_from_s : context.range_to_s;
  for (std::uint32_t i = 0; i < now.runs.size(); ++i) {
    const CriticalRun& run = now.runs[i];
    const auto critical_s = static_cast<double>(run.critical_s);
    const auto log_critical = static_cast<double>(std::log(run.critical_s));
    const double depth_slope = static_cast<double>(run.depth_slope) + facts.height_slope;
    const std::uint32_t voxels = run.end - run.begin;
    const auto n = static_cast<float>(voxels);
    const std::int32_t bin = bin_of(log_critical, median_bins);
    now.bins[i] = {voxels, bin, n * static_cast<float>(median_bins * log_critical - bin), n * run.blur_slope,
                   n * static_cast<float>(depth_slope)};

    const bool flips = is_vanish ? critical_s > exposure_s : critical_s <= exposure_s;
    now.flips[i] = flips;
    const double beyond = is_vanish ? log_critical - log_exposure : log_exposure - log_critical;
    const bool risky =
        (flips && least_z <= 0) ||  // then its spread does not matter
        beyond >= least_z * certainty.log_sd(state.fate, static_cast<double>(run.blur_slope), depth_slope);
    const bool ranged = is_vanish ? critical_s >= range_end_s : critical_s <= range_end_s;
    const Sets sets = (risky ? at_risk : 0) + (ranged ? in_range : 0);
    if (sets != 0) state.forest.take(run, i, sets, flips);
    if (ranged) state.curve.add(bin_of(log_critical, loss_bins), voxels * facts.voxel_mm3);
  }
  state.forest.finish_layer(facts, now, thin);
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

  // Which drawn body each standing one was cut from, noted at its birth: it keeps it for good. Nodes are numbered in
  // the order of birth.
  for (std::uint32_t i = 0; i < now.node.size(); ++i) {
    if (now.node[i] < drawn_of.size()) continue;
    drawn_of.push_back(drawn_node[loses ? piece_around(now, i, layer.solid, layer.pieces) : i]);
  }

  // Lost voxels of this layer and the bodies above and beside them; lost voxels of the layer above and the bodies
  // beneath.
  if (loses) {
    if (above) {
      meet_spans(lost, above->solid, 0, [&](std::uint32_t node, std::size_t span) {
        note(vanish.forest.bonds(node).held, above->node[above->pieces.of_span[span]]);
      });
    }
    meet_spans(lost, now.solid, 1, [&](std::uint32_t node, std::size_t span) {
      note(vanish.forest.bonds(node).held, now.node[now.pieces.of_span[span]]);
    });
  }
  if (lost_before) {
    meet_spans(lost_above, now.solid, 0, [&](std::uint32_t node, std::size_t span) {
      note(vanish.forest.bonds(node).resting, now.node[now.pieces.of_span[span]]);
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
        note(vanish.forest.bonds(node).starts, static_cast<std::uint32_t>(starts.size()));
      starts.push_back(
          {layer.number + 1, above->node[piece], one.box, static_cast<double>(one.area_px) * above_mm3, {}});
    }
  }
  lost_above = std::move(lost);
  above = std::move(now);
}

void RiskTracker::State::process(RiskLayer layer, CriticalLayer critical) {
  const std::uint32_t number = layer.number;
  const double height_mm = context.layers[number - 1].height_mm;
  const auto facts = [&](Fate fate) {
    return LayerFacts{number, context.pitch.pixel_mm2() * height_mm, certainty.height_slope(fate, height_mm)};
  };
  judge(facts(Fate::vanish), std::move(critical.vanish), layer.thin.walls, vanish);
  judge(facts(Fate::fuse), std::move(critical.fuse), layer.thin.gaps, fuse);
  weigh_loads(number);
  follow_bodies(std::move(layer), lost_runs(vanish.now, vanish.forest.stretches()));
  close(number, vanish);
  close(number, fuse);
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
      fall.box = loose ? box_mm(context, whole.box, whole.from_layer, whole.to_layer)
                       : box_mm(context, start.box, start.layer, start.layer);
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
    const Detail detail = detail_of(context, one);
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
    found.details.push_back(detail_of(context, *rank.one));
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
  for (const EndedDetail& one : s.contenders) s.found.contenders.push_back(contender_of(s.context, one));
  s.found.vanish_curve = s.vanish.curve.curve();
  s.found.fuse_curve = s.fuse.curve.curve();
  return std::move(s.found);
}

}  // namespace hairline
