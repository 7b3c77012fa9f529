/// From critical voxels to details at each of the times, to what they carry, and to what falls with them
/// (docs/exposure.md, "Details").
///
/// A layer is worked on once the layer below it is known. What does not depend on the time (stretches, the layer's
/// core, how they lie to each other) is worked out once; then each time joins its own parts and bodies, several times
/// at once, since none knows of another. So a row of the sweep is what a check at that time finds, by construction.
#include <oneapi/tbb/enumerable_thread_specific.h>
#include <oneapi/tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
#include <set>
#include <span>

#include "../base/normal.hpp"
#include "box_set.hpp"
#include "boxes.hpp"
#include "bulk.hpp"
#include "candidates.hpp"
#include "close_looks.hpp"
#include "losses.hpp"
#include "pictures.hpp"

namespace hairline {
namespace {

using namespace risk;

const LayerStretches no_stretches;

// Everything that goes on at one of the times.
struct TimeState {
  std::uint32_t time;  // its index
  Parts vanish, fuse;
  Standing standing;
  std::vector<HeldTogether> held_together;
  bool hopeless = false;                       // bulk fails: nothing more is asked of it
  double vanish_mm3 = 0, base_vanish_mm3 = 0;  // of all `will` parts, whatever their size
  double bulk_lost_mm3 = 0;
  explicit TimeState(std::uint32_t index) : time(index) {}
};

// Buffers of one thread; hold nothing between layers.
struct JoinScratch {
  LayerUnion united;
  LotsNow lots;
};

std::uint64_t bytes_of(const RiskLayer& layer) {
  return layer.solid.rows.size() * sizeof(RowRange) + layer.solid.spans.size() * (sizeof(Span) + 4) +
         layer.pieces.pieces.size() * sizeof(Piece) + layer.contacts_above.size() * sizeof(Contact) +
         (layer.thin.walls.size() + layer.thin.gaps.size()) * sizeof(ThinPlace);
}

std::uint64_t bytes_of(const CriticalLayer& layer) {
  return (layer.vanish.size() + layer.fuse.size()) * sizeof(CriticalRun) + layer.propped.size() * sizeof(RowSpan);
}

std::uint64_t bytes_of(const CutLayer& layer) {
  const std::size_t links = layer.beside.capacity() + layer.above.capacity() + layer.below_above.capacity();
  return layer.cut.bytes() + links * sizeof(Link) + layer.contacts.capacity() * sizeof(Contact) +
         layer.drawn.capacity() * 4 + layer.core->solid.spans.capacity() * (sizeof(Span) + 4) +
         layer.core->pieces.pieces.capacity() * sizeof(Piece);
}

// From here on the store is looked through more often.
constexpr std::uint64_t much_kept_bytes = 64'000'000;

// Of a critical run while its layer is cut and joined to the one above, and of a part on its way to the report (with
// its detail, and the words for it) or, at other times than the job's own, to a row.
constexpr std::uint64_t cut_bytes = 110, told_bytes = 1500, counted_bytes = 700;

// What a layer adds at one time, at most: each of its elements a body, each of its stretches a part.
std::uint64_t most_added(const CutLayer& layer, const LayerStretches& gaps) {
  return layer.element_count() * (2 * (sizeof(Body) + 4) + 8 * 4) +
         layer.cut.stretches.size() * (sizeof(Part) + bonds_bytes) + gaps.stretches.size() * sizeof(Part);
}

// Adds one to the number, and what it is to the volume, of its fate.
void count_in(auto& sums, Fate fate, double volume_mm3) {
  const bool vanish = fate == Fate::vanish;
  (vanish ? sums.vanish : sums.fuse) += 1;
  (vanish ? sums.vanish_mm3 : sums.fuse_mm3) += volume_mm3;
}

}  // namespace

struct RiskTracker::State {
  RiskContext context;
  Certainty certainty;
  BulkLayers bulk;
  double least_z = 0;
  std::size_t judged = 0;  // index of the job's own time
  std::deque<RiskLayer> waiting;
  std::deque<CriticalLayer> ready;
  std::uint64_t waiting_bytes = 0;  // of both
  std::uint64_t over_bytes = 0;     // held when it was too much
  std::deque<TimeState> times;
  std::vector<TimeParts> ended;  // of each time
  RunStore store;
  Bodies drawn;
  std::vector<std::uint32_t> drawn_nodes;  // body of each piece of the layer followed last
  std::optional<CutLayer> above;
  std::shared_ptr<const Drawn> above_drawn;
  LayerStretches gaps_above;
  oneapi::tbb::enumerable_thread_specific<JoinScratch> scratch;
  RiskFound found;
  std::vector<std::uint32_t> listed;  // index among the ended parts of the judged time, for each id

  explicit State(RiskContext with)
      : context(std::move(with)),
        certainty(certainty_of(context)),
        bulk(context),
        least_z(normal_quantile(context.settings.least_chance)) {
    const auto& all = context.times_s;
    judged = static_cast<std::size_t>(std::lower_bound(all.begin(), all.end(), context.exposure_s) - all.begin());
    for (std::uint32_t i = 0; i < all.size(); ++i) {
      ended.push_back({i, i == judged, {}});
      times.emplace_back(i);
    }
  }

  // use(time) for all of them, on all threads there are; `use` writes to that time, and what has ended of it, only.
  void for_each_time(auto use) {
    oneapi::tbb::parallel_for(std::size_t{0}, times.size(), [&](std::size_t i) { use(times[i]); });
  }
  bool is_base(std::uint32_t number) const { return context.layers[number - 1].kind != LayerKind::normal; }
  LayerFacts facts_of(std::uint32_t number) const;
  LotRule rule_of(std::uint32_t number) const;
  std::uint64_t bytes() const;
  bool fits(std::uint64_t more_bytes, std::uint64_t most_bytes);
  void process(const RiskLayer* below, std::uint64_t most_bytes);
  LayerStretches take(Fate fate, std::vector<CriticalRun>& runs, const std::vector<ThinPlace>& thin, StoredLayer& into);
  void follow_drawn(const LayerFacts& facts, const RiskLayer& layer);
  void weigh_solid(const LayerFacts& facts, const RiskLayer& layer, const CriticalLayer& critical);
  void note_propped(const RiskLayer& layer, const std::vector<RowSpan>& propped);
  void add_at(TimeState& at, const CutLayer& layer, const LayerStretches& gaps);
  bool add_at_all(const CutLayer& layer, const LayerStretches& gaps, std::uint64_t most_bytes);
  void close(TimeState& at, Parts& parts, Fate fate, std::uint32_t number);
  void count_crumb(Fate fate, const Part& part);
  std::optional<std::uint32_t> end(TimeState& at, Fate fate, Part part, bool at_border);
  void prune(std::uint32_t number);
  bool fails(const TimeState& at) const;
  void give_up_hopeless();
  TimeRow row_of(const TimeState& at) const;
  void end_all();
  void conclude_all();
  void find_avoidable();
  void list();
};

LayerFacts RiskTracker::State::facts_of(std::uint32_t number) const {
  const bool base = is_base(number), border = number < context.layers.size() && base != is_base(number + 1);
  return {number, context.pitch.pixel_mm2() * context.layers[number - 1].height_mm, base, border};
}

LotRule RiskTracker::State::rule_of(std::uint32_t number) const {
  LotRule rule{least_z, times_of_layer(context, number)};
  while (rule.first_time < times.size() && times[rule.first_time].hopeless) ++rule.first_time;
  return rule;
}

void RiskTracker::State::follow_drawn(const LayerFacts& facts, const RiskLayer& layer) {
  std::vector<std::uint32_t> nodes(layer.pieces.pieces.size(), none);
  for (const Contact& contact : layer.contacts_above) {
    std::uint32_t& node = nodes[contact.a];
    node = node == none ? drawn.find(drawn_nodes[contact.b]) : drawn.join(node, drawn_nodes[contact.b]);
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    nodes[i] = nodes[i] == none ? drawn.make(facts.number) : drawn.find(nodes[i]);
    const Piece& piece = layer.pieces.pieces[i];
    drawn.add(nodes[i], facts.number, static_cast<double>(piece.area_px) * facts.voxel_mm3, piece.box);
  }
  drawn_nodes = std::move(nodes);
}

// How much solid there is, and where bulk is.
void RiskTracker::State::weigh_solid(const LayerFacts& facts, const RiskLayer& layer, const CriticalLayer& critical) {
  double solid_mm3 = 0;
  for (const Piece& piece : layer.pieces.pieces) solid_mm3 += static_cast<double>(piece.area_px) * facts.voxel_mm3;
  found.solid_mm3 += solid_mm3;
  if (!facts.base) found.normal_mm3 += solid_mm3;
  if (!critical.has_bulk) return;
  if (bulk.note(facts.number) && !facts.base) give_up_hopeless();
  // Where bulk does not bond nothing does: what is not thin, and so not listed, is bulk.
  const PrintedLayer& printed = context.layers[facts.number - 1];
  double thin_mm3 = 0;
  for (const CriticalRun& run : critical.vanish) thin_mm3 += (run.end - run.begin) * facts.voxel_mm3;
  for (TimeState& at : times)
    if (printed.time_s(context.times_s[at.time]) < bond_time_s(context.model, printed.height_mm))
      (facts.base ? at.base_vanish_mm3 : at.bulk_lost_mm3) += solid_mm3 - thin_mm3;
}

void RiskTracker::State::note_propped(const RiskLayer& layer, const std::vector<RowSpan>& propped) {
  if (propped.empty()) return;
  std::vector<std::uint64_t> pixels(layer.pieces.pieces.size(), 0);
  RowScan scan(layer.solid);
  for (const RowSpan& span : propped)
    scan.meet(span.row, span.begin, span.end, [&](std::uint32_t k, std::int64_t from, std::int64_t to) {
      pixels[layer.pieces.of_span[k]] += static_cast<std::uint64_t>(to - from);
    });
  for (std::size_t i = 0; i < pixels.size(); ++i) {
    const Piece& piece = layer.pieces.pieces[i];
    if (pixels[i] >= 4 && 10 * pixels[i] >= piece.area_px)
      found.propped.push_back({layer.number, piece.area_px, piece.box});
  }
}

void RiskTracker::State::count_crumb(Fate fate, const Part& part) {
  count_in(found.crumbs, fate, part.volume_mm3);
  if (part.lot != Lot::will || !is_deep(depth_mm(part, context), context.settings)) return;
  found.crumbs.deep_mm3 += part.volume_mm3;
  const Crumbs::Place place{fate, part.from_layer, part.to_layer, box_mm(context, part)};
  if (!found.crumbs.longest || over(extent_mm(place.box), extent_mm(found.crumbs.longest->box)))
    found.crumbs.longest = place;
}

// What becomes of a part that nothing touches any more: its index among those kept, or nothing. `at_border`: it lies on
// one of the base.
std::optional<std::uint32_t> RiskTracker::State::end(TimeState& at, Fate fate, Part part, bool at_border) {
  const bool crumb = is_crumb(part, context.settings);
  const bool carries = fate == Fate::vanish && at.standing.may_carry(part, at_border);
  if (fate == Fate::vanish && part.lot == Lot::will)
    (part.base ? at.base_vanish_mm3 : at.vanish_mm3) += part.volume_mm3;
  if (!carries) part.bonds.reset();
  if (!carries && crumb) {
    if (at.time == judged) count_crumb(fate, part);
    return std::nullopt;
  }
  if (!carries && at.time != judged && (part.base || !needs_look(fate, part, context))) return std::nullopt;
  std::vector<EndedPart>& kept = ended[at.time].parts;
  kept.push_back({fate, std::move(part), 0, {}});
  return static_cast<std::uint32_t>(kept.size() - 1);
}

void RiskTracker::State::close(TimeState& at, Parts& parts, Fate fate, std::uint32_t number) {
  using Ties = std::span<const Standing::Border::value_type>;
  const Ties border = fate == Fate::vanish ? Ties(at.standing.border()) : Ties();
  std::vector<std::uint32_t> bordering;
  for (const auto& tie : border) bordering.push_back(tie.first);
  std::sort(bordering.begin(), bordering.end());
  std::map<std::uint32_t, std::uint32_t> kept;  // open number -> index, of those at the border
  parts.close(number, [&](std::uint32_t open, Part part) {
    const bool at_border = std::binary_search(bordering.begin(), bordering.end(), open);
    const auto index = end(at, fate, std::move(part), at_border);
    if (index && at_border) kept.emplace(open, *index);
  });
  for (const auto& [open, part] : border)
    if (const auto at_index = kept.find(open); at_index != kept.end()) note(parts.bonds(part).parts, at_index->second);
}

void RiskTracker::State::add_at(TimeState& at, const CutLayer& layer, const LayerStretches& gaps) {
  const CutLayer* higher = above ? &*above : nullptr;
  const LayerStretches& walls_above = higher ? higher->cut : no_stretches;
  auto& [united, lots] = scratch.local();
  lots.find(at.time, layer.cut, walls_above);
  at.vanish.add(layer.facts, layer.cut, walls_above.stretches, lots, united);
  at.standing.add(layer, higher, lots, at.vanish, at.time == judged, united);
  close(at, at.vanish, Fate::vanish, layer.facts.number);
  at.vanish.let_go(united);
  lots.find(at.time, gaps, gaps_above);
  at.fuse.add(layer.facts, gaps, gaps_above.stretches, lots, united);
  close(at, at.fuse, Fate::fuse, layer.facts.number);
  at.fuse.let_go(united);
}

// False when it would be too much.
bool RiskTracker::State::add_at_all(const CutLayer& layer, const LayerStretches& gaps, std::uint64_t most_bytes) {
  const std::uint64_t more = bytes_of(layer) + gaps.bytes() + most_added(layer, gaps);
  const auto add = [&](TimeState& at) {
    if (!at.hopeless) add_at(at, layer, gaps);
  };
  if (bytes() + times.size() * more <= most_bytes) {
    for_each_time(add);
    return true;
  }
  for (TimeState& at : times) {  // in turn, so that what it answers does not depend on the threads
    if (!fits(more, most_bytes)) return false;
    add(at);
  }
  return true;
}

// Packs a layer's runs for the store. They go as soon as that is done: there may be millions of a layer.
LayerStretches RiskTracker::State::take(Fate fate, std::vector<CriticalRun>& runs, const std::vector<ThinPlace>& thin,
                                        StoredLayer& into) {
  const double height_mm = context.layers[into.number - 1].height_mm;
  const std::vector<RiskRun> kept =
      risk_runs(fate, runs, certainty, certainty.height_slope(fate, height_mm), into.rule, thin);
  runs = std::vector<CriticalRun>();
  (fate == Fate::vanish ? into.vanish : into.fuse) = PackedRuns(kept);
  return stretches_of(fate, kept);
}

// The highest layer that waits; `below`: the one beneath it, null under layer 1.
void RiskTracker::State::process(const RiskLayer* below, std::uint64_t most_bytes) {
  if (!fits((ready.front().vanish.size() + ready.front().fuse.size()) * cut_bytes, most_bytes)) return;
  RiskLayer layer = std::move(waiting.front());
  CriticalLayer critical = std::move(ready.front());
  waiting.pop_front();
  ready.pop_front();
  waiting_bytes -= bytes_of(layer) + bytes_of(critical);
  const LayerFacts facts = facts_of(layer.number);
  weigh_solid(facts, layer, critical);
  note_propped(layer, critical.propped);
  StoredLayer stored{facts.number, facts.base, rule_of(facts.number), {}, {}, {}, {}};
  LayerStretches walls = take(Fate::vanish, critical.vanish, layer.thin.walls, stored);
  LayerStretches gaps = take(Fate::fuse, critical.fuse, layer.thin.gaps, stored);
  critical = {};
  layer.thin = {};
  follow_drawn(facts, layer);
  const auto drawn_here = std::make_shared<const Drawn>(Drawn{std::move(layer.solid), std::move(layer.pieces)});
  const Surroundings around{context.layers[facts.number - 1], *drawn_here, above_drawn.get(), below};
  find_touches(walls, context.pitch, around, above ? above->cut.stretches : no_stretches.stretches);
  find_touches(gaps, context.pitch, around, gaps_above.stretches);
  stored.solid = std::make_shared<const Mask>(drawn_here->solid);  // without spare room, and without pieces
  store.add(std::move(stored));
  CutLayer now = cut_layer(facts, drawn_here, drawn_nodes, std::move(walls), std::move(layer.contacts_above),
                           above ? &*above : nullptr);
  above_drawn = drawn_here;
  if (!add_at_all(now, gaps, most_bytes)) return;
  now.cut.keep_lots();
  gaps.keep_lots();
  above = std::move(now);
  gaps_above = std::move(gaps);
  if (facts.number % (store.bytes() < much_kept_bytes ? 32 : 8) == 0) prune(facts.number);
}

std::uint64_t RiskTracker::State::bytes() const {
  std::uint64_t bytes =
      waiting_bytes + store.bytes() + drawn.bytes() + gaps_above.bytes() + found.propped.capacity() * sizeof(Propped);
  if (above) bytes += bytes_of(*above);
  for (const TimeState& at : times)
    bytes += at.vanish.bytes() + at.fuse.bytes() + at.standing.bytes() +
             ended[at.time].parts.size() * (at.time == judged ? told_bytes : counted_bytes);
  return bytes;
}

bool RiskTracker::State::fits(std::uint64_t more_bytes, std::uint64_t most_bytes) {
  if (const std::uint64_t all = bytes() + more_bytes; all > most_bytes) over_bytes = all;
  return over_bytes == 0;
}

// Runs of layers that no open part reaches stay only where something may be looked at again.
void RiskTracker::State::prune(std::uint32_t number) {
  std::uint32_t highest = number;
  for (TimeState& at : times)
    for (Parts* parts : {&at.vanish, &at.fuse})
      parts->each_open([&](const Part& part) { highest = std::max(highest, part.to_layer); });
  highest = layers_wanted(highest, highest, context).to_layer;
  const auto beyond = static_cast<std::uint32_t>(context.layers.size() + 1);
  const std::uint32_t pruned_to = std::min(store.pruned_to(), beyond);
  if (highest + 8 > pruned_to) return;
  std::uint32_t settled_from = pruned_to;  // parts from here up want nothing below what was pruned before
  while (settled_from < beyond && layers_wanted(settled_from, settled_from, context).from_layer < pruned_to)
    ++settled_from;
  std::vector<BoxVoxels> run_boxes, solid_boxes;
  for (const TimeParts& at : ended) {
    auto one = std::partition_point(at.parts.begin(), at.parts.end(), [settled_from](const EndedPart& part) {
      return part.part.from_layer >= settled_from;
    });
    for (; one != at.parts.end(); ++one) {
      run_boxes.push_back(lots_wanted(one->part, context));
      if (needs_look(one->fate, one->part, context)) solid_boxes.push_back(solid_wanted(one->fate, one->part, context));
    }
  }
  store.prune(highest, std::move(run_boxes), std::move(solid_boxes));
}

// A row at whose time bulk fails says only that, whatever the layers below bring.
void RiskTracker::State::give_up_hopeless() {
  for (TimeState& at : times) {
    if (at.hopeless || at.time == judged || !at_least(bulk.chance_at(context.times_s[at.time]), will_chance)) continue;
    ended[at.time].parts = std::vector<EndedPart>();
    at = TimeState(at.time);
    at.hopeless = true;
  }
}

bool RiskTracker::State::fails(const TimeState& at) const {
  if (at_least(bulk.chance_at(context.times_s[at.time]), will_chance)) return true;
  return at.vanish_mm3 + at.base_vanish_mm3 + at.bulk_lost_mm3 > 0.5 * found.solid_mm3;
}

namespace {

bool avoidable(const Detail& detail, const RiskContext& context, std::optional<double> sound_from_s) {
  if (!detail.critical_exposure_s || !sound_from_s) return false;
  return detail.fate == Fate::vanish ? *detail.critical_exposure_s <= context.model.valid_to_s
                                     : *detail.critical_exposure_s > *sound_from_s;
}

// Worst first; to a millionth of a mm, so that like ones come in the order of their place and not of rounding.
void sort_worst_first(std::vector<Detail>& details) {
  const auto order = [](const Detail& one) {
    const double harm = one.harm_mm * one.probability;
    return std::tuple{
        !one.lost, -1e-6 * std::round(1e6 * harm), one.from_layer, one.box.from.y, one.box.from.x, one.fate, one.state};
  };
  std::stable_sort(details.begin(), details.end(),
                   [&](const Detail& a, const Detail& b) { return order(a) < order(b); });
}

}  // namespace

TimeRow RiskTracker::State::row_of(const TimeState& at) const {
  TimeRow row;
  row.point.exposure_s = context.times_s[at.time];
  row.whole_fails = fails(at);
  if (const auto worst = bulk.least_sure(row.point.exposure_s, false)) row.point.bulk_chance = worst->chance;
  if (row.whole_fails) {
    row.point.bulk_chance = row.point.uncured_share = 1;
    return row;
  }
  if (found.normal_mm3 > 0) row.point.uncured_share = (at.vanish_mm3 + at.bulk_lost_mm3) / found.normal_mm3;
  for (const Candidate& one : ended[at.time].candidates)
    if (one.detail.lost && !one.detail.base) row.lost.push_back(one.detail);
  sort_worst_first(row.lost);
  if (!at.held_together.empty()) row.shared_load_mm3 = at.held_together.front().solid.volume_mm3;
  for (Detail& detail : row.lost) {
    detail.id = static_cast<std::uint32_t>(&detail - row.lost.data() + 1);
    row.point.expected_losses += detail.probability;
    row.point.expected_mm += detail.probability * detail.harm_mm;
    if (detail.fate == Fate::fuse) row.point.expected_fuse_mm += detail.probability * detail.harm_mm;
    if (detail.state == hairline::State::will) count_in(row.point, detail.fate, detail.volume_mm3);
  }
  return row;
}

// The job's own time: all details, and what falls.
void RiskTracker::State::list() {
  TimeState& at = times[judged];
  const std::vector<EndedPart>& parts = ended[judged].parts;
  for (const EndedPart& one : parts)
    if (is_crumb(one.part, context.settings) && !carries_enough(one, context.settings)) count_crumb(one.fate, one.part);
  found.rounding.not_looked_at = ended[judged].not_looked_at;
  for (const Candidate& one : ended[judged].candidates) {
    found.details.push_back(one.detail);
    found.details.back().id = one.part;  // while they are sorted
    if (one.detail.lost) continue;
    count_in(found.rounding, one.detail.fate, one.detail.volume_mm3);
    if (one.look || one.like || !is_deep(one.detail.depth_mm, context.settings))
      found.rounding.deepest_mm =
          std::max(found.rounding.deepest_mm, std::min(one.detail.depth_mm, one.detail.reach_mm.value_or(INFINITY)));
  }
  sort_worst_first(found.details);
  std::vector<std::uint32_t> id_of(parts.size(), 0);
  for (std::size_t i = 0; i < found.details.size(); ++i) {
    listed.push_back(found.details[i].id);
    found.details[i].id = id_of[listed.back()] = static_cast<std::uint32_t>(i + 1);
  }
  for (const auto& [solid, holding] : at.held_together)
    found.shared_loads.push_back({solid.from_layer, box_mm(context, solid), solid.volume_mm3, holding});
  found.falls = at.standing.falls(parts, drawn, context);
  for (Fall& fall : found.falls) {
    std::set<std::uint32_t> ids;
    for (const std::uint32_t part : fall.details)
      if (id_of[part] > 0) ids.insert(id_of[part]);
    fall.details.assign(ids.begin(), ids.end());
  }
}

RiskTracker::RiskTracker(RiskContext context) : state_(std::make_unique<State>(std::move(context))) {}
RiskTracker::~RiskTracker() = default;
RiskTracker::RiskTracker(RiskTracker&&) noexcept = default;
RiskTracker& RiskTracker::operator=(RiskTracker&&) noexcept = default;

void RiskTracker::add_layer(RiskLayer layer) {
  state_->waiting_bytes += bytes_of(layer);
  state_->waiting.push_back(std::move(layer));
}

std::uint64_t RiskTracker::bytes() const {
  return std::max(state_->over_bytes, state_->bytes());
}

void RiskTracker::add_critical(CriticalLayer critical, std::uint64_t most_bytes) {
  State& s = *state_;
  s.waiting_bytes += bytes_of(critical);
  s.ready.push_back(std::move(critical));
  while (!s.ready.empty() && s.over_bytes == 0) {
    const bool last = s.waiting.front().number == 1;
    if (!last && s.waiting.size() < 2) return;
    s.process(last ? nullptr : &s.waiting[1], most_bytes);
  }
}

// The last parts end; then it is known what each carries.
void RiskTracker::State::end_all() {
  above.reset();
  above_drawn.reset();
  for_each_time([&](TimeState& at) {
    at.standing.weigh(0, at.vanish);
    close(at, at.vanish, Fate::vanish, 0);
    close(at, at.fuse, Fate::fuse, 0);
  });
  for (TimeState& at : times) {  // in turn: all of them look into the bodies as drawn
    std::vector<EndedPart>& parts = ended[at.time].parts;
    if (fails(at)) parts.clear();
    at.held_together = at.standing.settle(parts, drawn, context);
  }
}

// By the critical exposure; or because nothing is lost in its place at a row with more light for a part, less for a
// gap, what still flips there being rounding.
void RiskTracker::State::find_avoidable() {
  const auto will_be_lost = [&](std::size_t row, Fate fate) {
    std::vector<BoxMm> boxes;
    for (const Candidate& one : ended[row].candidates)
      if (one.detail.lost && one.detail.state == hairline::State::will && one.detail.fate == fate)
        boxes.push_back(one.detail.box);
    return BoxSet(std::move(boxes));
  };
  const std::optional<double> sound_from_s = bulk.holds_from_s();
  struct Row {
    std::size_t index;
    BoxSet parts, gaps;  // that will be lost there
  };
  std::vector<Row> sound;  // of the record, at which bulk holds
  for (std::size_t i = 0; i < times.size(); ++i) {
    const double time_s = context.times_s[i];
    if (covers(context.model, time_s) && !fails(times[i]) && bulk.chance_at(time_s) < sure_bulk_chance)
      sound.push_back({i, will_be_lost(i, Fate::vanish), will_be_lost(i, Fate::fuse)});
  }
  for (std::size_t i = 0; i < ended.size(); ++i) {
    for (Candidate& one : ended[i].candidates) {
      Detail& detail = one.detail;
      detail.avoidable = avoidable(detail, context, sound_from_s);
      if (!detail.lost || detail.base || detail.avoidable) continue;
      detail.avoidable = std::any_of(sound.begin(), sound.end(), [&](const Row& row) {
        return detail.fate == Fate::vanish ? row.index > i && !row.parts.overlaps(detail.box)
                                           : row.index < i && !row.gaps.overlaps(detail.box);
      });
    }
  }
}

// Rows of all times, and all that is found at the job's own.
void RiskTracker::State::conclude_all() {
  found.bulk = bulk.least_sure(context.exposure_s, false);
  found.base_bulk = bulk.least_sure(context.exposure_s, true);
  find_lost(context, ended);
  describe_lost(ended, store, context);
  for_each_time([&](TimeState& at) { conclude(ended[at.time], at.standing, store, context); });
  find_avoidable();
  for (const TimeState& at : times) found.rows.push_back(row_of(at));
  const TimeState& own = times[judged];
  found.whole_fails = fails(own);
  found.bulk_lost_mm3 = own.bulk_lost_mm3;
  found.base_vanish_mm3 = own.base_vanish_mm3;
  found.uncured_share = found.rows[judged].point.uncured_share;
  if (found.whole_fails)
    found.crumbs = {};  // nothing is listed
  else
    list();
}

Result<RiskFound> RiskTracker::finish(const SolidOf& solid_of) {
  State& s = *state_;
  s.end_all();
  list_candidates(s.ended, s.context);
  if (auto looked = look_closely(s.ended, s.store, s.context, solid_of); !looked) return tl::unexpected(looked.error());
  s.conclude_all();
  for (TimeParts& at : s.ended) at.candidates = std::vector<Candidate>();
  if (auto read = s.store.all_read(); !read) return tl::unexpected(std::move(read.error()));
  return std::move(s.found);
}

Result<std::vector<DetailPictures>> RiskTracker::draw(const std::vector<std::uint32_t>& ids, double suggested_s,
                                                      const SolidOf& solid_of) const {
  const State& s = *state_;
  const std::vector<double>& all = s.context.times_s;
  PictureTimes times{static_cast<std::uint32_t>(s.judged), {}};
  for (std::uint32_t i = 0; i < all.size(); ++i)
    if (i != s.judged && std::abs(all[i] - suggested_s) < 1e-9) times.suggested = i;
  std::vector<const EndedPart*> parts;
  for (const std::uint32_t id : ids) parts.push_back(&s.ended[s.judged].parts[s.listed[id - 1]]);
  auto drawn = draw_details(parts, times, s.store, s.context, solid_of);
  if (auto read = s.store.all_read(); !read) return tl::unexpected(std::move(read.error()));
  for (std::size_t i = 0; drawn && i < ids.size(); ++i) (*drawn)[i].id = ids[i];
  return drawn;
}

}  // namespace hairline
