/// What the person can do about it, in words and by what it costs.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"
#include "at_risk.hpp"
#include "changes.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// Where an exception of the job is to blame for what will be lost, or for bulk that may not bond.
std::optional<OwnTime> blamed_exception(const RiskFound& found, const RiskContext& context) {
  for (const Detail& detail : found.details) {
    if (!plan::will_be_lost(detail) || detail.base) continue;
    if (const auto own = own_time(detail, context.layers, context.exposure_s)) return own;
  }
  if (!found.bulk || !at_least(found.bulk->chance, verdict_bounds.caution_bulk_chance)) return {};
  if (!has_own_time(context.layers[found.bulk->layer - 1], Fate::vanish, context.exposure_s)) return {};
  Detail bulk;
  bulk.fate = Fate::vanish, bulk.from_layer = 1, bulk.to_layer = static_cast<std::uint32_t>(context.layers.size());
  return own_time(bulk, context.layers, context.exposure_s);
}

// Tonight: what is set at the printer or in the job's settings without slicing again.
void add_times(const RiskFound& found, const PlanContext& context, Suggestion& s) {
  s.exception = blamed_exception(found, context.risk);
  if (s.exception)
    s.tonight.push_back(fmt::format(
        "First give {} the time of the others, where an exception of the job gives {:.2f} s, and check again.",
        layer_numbers_text(s.exception->from_layer, s.exception->to_layer), s.exception->exposure_s));
  if (s.action == Action::change) s.tonight.push_back(fmt::format("Set the exposure to {:.2f} s.", s.exposure_s));
  if (s.base_s)
    s.tonight.push_back(
        fmt::format("Set the base exposure to {:.0f} s instead of {:.4g} s.", *s.base_s, *context.base_s));
  if (s.coupons) s.tonight.push_back(fmt::format("Print coupons at {}.", plan::times_text(s.coupons->exposures_s)));
}

// Does it stand on a part thinner than a pixel? Then that has to be thicker, and nothing else helps.
bool is_on_faint(const IslandRow& island, const std::vector<FaintPart>& faint) {
  const BoxMm start = island.start_box();
  return std::any_of(faint.begin(), faint.end(), [&](const FaintPart& part) {
    return part.from_layer < island.layer && island.layer <= part.to_layer + 1 && start.from.x < part.box.to.x &&
           part.box.from.x < start.to.x && start.from.y < part.box.to.y && part.box.from.y < start.to.y;
  });
}

void add_supports_of_islands(const PlanContext& context, Suggestion& s) {
  const std::vector<IslandRow>& islands = context.islands;
  constexpr std::size_t most = 3;
  std::size_t grave = 0, small = 0;
  for (const IslandRow& island : islands) {
    if (is_on_faint(island, context.faint)) continue;
    small += !island.held_by_fill && !is_grave(island);
    if (!is_grave(island) || ++grave > most) continue;
    s.slicing.push_back(fmt::format("Put supports under the island on {}, {}.",
                                    layer_text(island.layer, island.height_mm), place_text(island.start_box())));
  }
  if (grave > most)
    s.slicing.push_back(fmt::format("Likewise under {} of 1 mm2 or 1 mm3 and more.",
                                    count_text(grave - most, "other island", "other islands")));
  if (small == 0) return;
  const bool much = at_least(small_loose_mm3(islands), verdict_bounds.least_island_mm3);
  const char* too = grave > 0 ? " too" : "";
  s.slicing.push_back(
      small == 1
          ? fmt::format("Put a support under the small island{}{}.", too, much ? "" : ", or let it go")
          : fmt::format("Put supports under the {} small islands{}{}.", small, too, much ? "" : ", or let them go"));
}

void add_slicing(const RiskFound& found, const PlanContext& context, const TimeRow& then,
                 const std::optional<plan::BetterHeight>& height, Suggestion& s) {
  const auto grey = std::find_if(found.details.begin(), found.details.end(), [&](const Detail& detail) {
    return detail.lost && is_grey(detail, context.risk.model);
  });
  if (grey != found.details.end())
    s.slicing.push_back(fmt::format("Export #{} in full white: it is grey in the masks, not thin.", grey->id));
  add_supports_of_islands(context, s);
  // The worst of what stays lost, where it would not close upright too.
  if (!s.changes.empty() && s.changes.front().flat &&
      over(s.changes.front().width_mm, plan::safe_slot_mm(context.risk, s.exposure_s)))
    s.slicing.push_back(
        "Turn the part so that its low flat gaps stand upright: light then falls past them, not through them.");
  const std::vector<Detail>& lost = s.action == Action::change ? then.lost : found.details;
  if (std::any_of(lost.begin(), lost.end(), [](const Detail& detail) {
        return detail.lost && detail.state == State::will && detail.carries_mm3 > 0;
      }))
    s.slicing.push_back("Put a support under what hangs on a part that will be missing.");
  if (plan::is_on_doubtful(then.shared_load_mm3))
    s.slicing.push_back("Put more or thicker supports under what stands on parts that may be lost.");
  if (!height) return;  // last: it takes a record of its own, and longer
  const double longer = context.layer_height_mm / height->height_mm;
  s.slicing.push_back(
      fmt::format("With layers of {:.2f} mm everything would hold from {:.2f} to {:.2f} s (an estimate: print coupons "
                  "at that height first{}).",
                  height->height_mm, height->from_s, height->to_s,
                  longer > 1.05 ? fmt::format("; {:.1f} times as long", longer) : ""));
}

// Changes that are alike: same fate, both flat or neither, widths within a pixel of the first, worst one.
struct AlikeChanges {
  Change all;              // layers, box and greatest need of them together; width of the thinnest
  Change first;            // the worst one
  double thickest_mm = 0;  // width of the thickest
  std::size_t count = 0;
};

std::vector<AlikeChanges> alike(const std::vector<Change>& changes, double pixel_mm) {
  std::vector<AlikeChanges> groups;
  for (const Change& c : changes) {
    const auto group = std::find_if(groups.begin(), groups.end(), [&](const AlikeChanges& g) {
      return g.all.fate == c.fate && g.all.flat == c.flat && !over(std::abs(g.first.width_mm - c.width_mm), pixel_mm);
    });
    if (group == groups.end()) {
      groups.push_back({c, c, c.width_mm, 1});
      continue;
    }
    Change& all = group->all;
    all.from_layer = std::min(all.from_layer, c.from_layer), all.to_layer = std::max(all.to_layer, c.to_layer);
    all.box = join(all.box, c.box);
    all.width_mm = std::min(all.width_mm, c.width_mm), all.needed_mm = std::max(all.needed_mm, c.needed_mm);
    group->thickest_mm = std::max(group->thickest_mm, c.width_mm);
    ++group->count;
  }
  return groups;
}

// The number under which a change's detail is listed at the job's time; 0: it is not lost there.
std::uint32_t listed_id(const Change& c, const std::vector<Detail>& details) {
  const auto same = std::find_if(details.begin(), details.end(), [&c](const Detail& detail) {
    return detail.lost && detail.fate == c.fate && detail.from_layer == c.from_layer && detail.to_layer == c.to_layer &&
           detail.box.from.x == c.box.from.x && detail.box.from.y == c.box.from.y && detail.box.to.x == c.box.to.x &&
           detail.box.to.y == c.box.to.y;
  });
  return same == details.end() ? 0 : same->id;
}

std::string change_text(const AlikeChanges& group, std::uint32_t id) {
  const Change& c = group.all;
  const char* verb = c.fate == Fate::vanish ? "Thicken" : c.flat ? "Raise" : "Widen";
  const char* one = c.fate == Fate::vanish ? "part" : c.flat ? "flat gap" : "gap";
  const std::string sizes = range_text(c.width_mm, group.thickest_mm);
  if (id > 0) {
    const std::string others = group.count == 2 ? "one" : std::to_string(group.count - 1);
    const std::string like = group.count == 1 ? "" : fmt::format(" and the {} like it", others);
    return fmt::format("{} #{}{}: {:.2f} mm instead of {} mm.", verb, id, like, c.needed_mm, sizes);
  }
  const std::string what = group.count == 1 ? fmt::format("the {}", one) : fmt::format("{} {}s", group.count, one);
  const std::string place = group.count == 1 ? ", " + place_text(c.box) : "";
  return fmt::format("{} {} on {}{}: {:.2f} mm instead of {} mm.", verb, what,
                     layers_text(c.from_layer, c.to_layer, c.box), place, c.needed_mm, sizes);
}

void add_faint(const PlanContext& context, Suggestion& s) {
  const std::size_t count = context.faint.size();
  if (count == 0) return;
  const double needed_mm = plan::safe_pin_mm(context.risk, s.exposure_s);
  s.modelling.push_back(fmt::format(
      "Draw {} thinner than a pixel {}.", count == 1 ? "the part" : fmt::format("the {} parts", count),
      std::isfinite(needed_mm) ? fmt::format("at least {:.2f} mm thick", std::ceil(100 * needed_mm - tolerance) / 100)
                               : "thicker"));
}

void add_modelling(const RiskFound& found, const PlanContext& context, Suggestion& s) {
  add_faint(context, s);
  constexpr std::size_t most = 5;
  const std::vector<AlikeChanges> groups = alike(s.changes, std::min(context.risk.pitch.x_mm, context.risk.pitch.y_mm));
  std::size_t others = 0;
  for (std::size_t i = 0; i < groups.size(); ++i) {
    if (i < most)
      s.modelling.push_back(change_text(groups[i], listed_id(groups[i].first, found.details)));
    else
      others += groups[i].count;
  }
  if (others > 0) s.modelling.push_back(fmt::format("And {} more of other widths.", others));
}

}  // namespace

void plan::add_levers(const RiskFound& found, const PlanContext& context, const TimeRow& then,
                      const std::optional<BetterHeight>& height, Suggestion& suggestion) {
  add_times(found, context, suggestion);
  add_slicing(found, context, then, height, suggestion);
  add_modelling(found, context, suggestion);
}

}  // namespace hairline
