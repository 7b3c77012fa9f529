#include "hairline/verdict.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace hairline {
namespace {

std::string mm(double value) {
  return fmt::format("{:.2f} mm", value);
}
std::string height_text(double z_mm) {
  return fmt::format("{:.1f}", z_mm);
}

// "3 details", "1 detail".
std::string counted(std::size_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

bool holds(const Detail& detail, const VerdictBounds& bounds) {
  return detail.probability >= bounds.least_chance &&
         (detail.avoidable || detail.carries_mm3 > bounds.least_carried_mm3);
}

std::string detail_reason(const Detail& detail) {
  const std::string where =
      fmt::format("{}, {}", layers_text(detail.from_layer, detail.to_layer, detail.box), place_text(detail.box));
  if (detail.fate == Fate::fuse) {
    return fmt::format(
        "A {} will close on {}.",
        detail.flat ? "flat gap " + mm(detail.width_mm) + " high" : "gap " + mm(detail.width_mm) + " wide", where);
  }
  const std::string carried =
      detail.carries_mm3 > 0 ? fmt::format(" and takes {:.1f} mm3 with it", detail.carries_mm3) : std::string();
  return fmt::format("A part {} thin will be missing on {}{}.", mm(detail.width_mm), where, carried);
}

// One sentence for the gravest detail of a fate, and how many more there are.
void add_details(const Evidence& evidence, const VerdictBounds& bounds, Fate fate, std::vector<std::string>& reasons) {
  const Detail* worst = nullptr;
  std::size_t more = 0;
  for (const Detail& detail : evidence.details) {
    if (detail.fate != fate || !holds(detail, bounds)) continue;
    if (worst == nullptr) {
      worst = &detail;
    } else {
      ++more;
    }
  }
  if (worst == nullptr) return;
  std::string reason = detail_reason(*worst);
  if (more > 0) {
    reason += fate == Fate::fuse
                  ? fmt::format(" {} will close as well.", counted(more, "other gap", "other gaps"))
                  : fmt::format(" {} will be missing as well.", counted(more, "other part", "other parts"));
  }
  reasons.push_back(std::move(reason));
}

bool grave(const IslandRow& island, const VerdictBounds& bounds) {
  return island.area_mm2 >= bounds.least_island_mm2 || island.volume_mm3 >= bounds.least_island_mm3;
}

std::string island_reason(const IslandRow& island) {
  const std::string joins = island.joins_layer ? fmt::format("until layer {}", *island.joins_layer) : "to its very end";
  return fmt::format("An island of {:.2f} mm2 starts in mid-resin on layer {} ({} mm up), {}, and hangs on nothing {}.",
                     island.area_mm2, island.layer, height_text(island.height_mm), place_text(island.box), joins);
}

void add_falls(const Evidence& evidence, const VerdictBounds& bounds, Judgement& judgement) {
  for (const Fall& fall : evidence.falls) {
    if (!fall.loose || fall.volume_mm3 <= bounds.least_carried_mm3) continue;
    judgement.verdict = Verdict::hold;
    judgement.reasons.push_back(
        fmt::format("A body of {:.1f} mm3 comes loose from layer {} ({} mm up) on, {}: what holds it will be missing.",
                    fall.volume_mm3, fall.layer, height_text(fall.box.from.z), place_text(fall.box)));
    return;
  }
}

// A print that does not cure as a whole is no matter of details, whether or not another time could save it.
void add_whole(const Evidence& evidence, const VerdictBounds& bounds, Judgement& judgement) {
  double lost_mm3 = 0;
  for (const Detail& detail : evidence.details) {
    if (detail.fate == Fate::vanish) lost_mm3 += detail.lost_fraction * detail.volume_mm3;
  }
  if (lost_mm3 <= bounds.most_lost_share * evidence.solid_mm3) return;
  judgement.verdict = Verdict::hold;
  judgement.reasons.push_back(
      fmt::format("{:.0f} % of the print will not cure through its layers at {:.2f} s: the time is too short for this "
                  "layer height.",
                  100 * lost_mm3 / evidence.solid_mm3, evidence.exposure_s));
}

void add_islands(const Evidence& evidence, const VerdictBounds& bounds, Judgement& judgement) {
  const IslandRow* worst = nullptr;
  std::size_t more = 0;
  for (const IslandRow& island : evidence.islands) {
    if (!grave(island, bounds)) continue;
    ++more;
    if (worst == nullptr || island.volume_mm3 > worst->volume_mm3) worst = &island;
  }
  if (worst == nullptr) return;
  judgement.verdict = Verdict::hold;
  std::string reason = island_reason(*worst);
  if (more > 1) reason += fmt::format(" {} like it.", counted(more - 1, "other", "others"));
  judgement.reasons.push_back(std::move(reason));
}

void add_cautions(const Evidence& evidence, const VerdictBounds& bounds, Judgement& judgement) {
  std::size_t maybe = 0, lasting = 0, small_islands = 0;
  for (const Detail& detail : evidence.details) {
    if (holds(detail, bounds)) continue;
    (detail.probability >= bounds.least_chance ? lasting : maybe) += 1;
  }
  for (const IslandRow& island : evidence.islands) small_islands += !grave(island, bounds);
  std::vector<std::string> cautions;
  if (lasting > 0) {
    cautions.push_back(fmt::format("{} will be lost at every time the record covers: only another shape saves {}.",
                                   counted(lasting, "detail", "details"), lasting == 1 ? "it" : "them"));
  }
  if (maybe > 0) {
    cautions.push_back(fmt::format("{} may fail at {:.2f} s, though more likely not.",
                                   counted(maybe, "detail", "details"), evidence.exposure_s));
  }
  const std::uint32_t crumbs = evidence.crumbs.vanish + evidence.crumbs.fuse;
  if (crumbs > 0) {
    cautions.push_back(fmt::format("{} too small to list may fail ({:.3f} mm3 together).",
                                   counted(crumbs, "crumb", "crumbs"),
                                   evidence.crumbs.vanish_mm3 + evidence.crumbs.fuse_mm3));
  }
  if (small_islands > 0)
    cautions.push_back(fmt::format("{} under 1 mm2 in mid-resin.",
                                   counted(small_islands, "small island starts", "small islands start")));
  if (evidence.speck_count > 0)
    cautions.push_back(fmt::format("{} on nothing.", counted(evidence.speck_count, "speck of under 4 pixels hangs",
                                                             "specks of under 4 pixels hang")));
  for (const BaseReport::Finding& finding : evidence.base.findings) {
    if (!finding.comes_off) cautions.push_back(finding.text);
  }
  if (cautions.empty()) return;
  judgement.verdict = std::max(judgement.verdict, Verdict::caution);
  judgement.reasons.insert(judgement.reasons.end(), cautions.begin(), cautions.end());
}

}  // namespace

std::string layers_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box) {
  if (from_layer == to_layer) return fmt::format("layer {} ({} mm up)", from_layer, height_text(box.from.z));
  return fmt::format("layers {} to {} ({} to {} mm up)", from_layer, to_layer, height_text(box.from.z),
                     height_text(box.to.z));
}

std::string place_text(const BoxMm& box) {
  return fmt::format("at x {:.1f}, y {:.1f} mm", 0.5 * (box.from.x + box.to.x), 0.5 * (box.from.y + box.to.y));
}

void judge_base(BaseReport& base, double normal_s, const BaseBounds& bounds) {
  const double common_s = 10 * normal_s;
  if (base.base_layers == 0) {
    base.findings.push_back({fmt::format("There is no base layer: the first layers get the normal exposure and may not "
                                         "stick; set about 5 base layers "
                                         "of {:.0f} s.",
                                         common_s),
                             true});
  } else if (base.exposure_ratio < bounds.least_ratio) {
    base.findings.push_back({fmt::format("The base exposure of {:.4g} s is only {:.1f} times the normal one: the print "
                                         "may come off the plate; raise it to "
                                         "about {:.0f} s.",
                                         base.base_s, base.exposure_ratio, common_s),
                             true});
  } else if (base.exposure_ratio > bounds.most_ratio) {
    base.findings.push_back({fmt::format("The base exposure of {:.4g} s is {:.1f} times the normal one: the print may "
                                         "have to be chiselled off the plate; "
                                         "lower it to about {:.0f} s.",
                                         base.base_s, base.exposure_ratio, common_s),
                             false});
  }
  if (base.largest_layer_mm2 > 0 && base.contact_mm2 < bounds.least_share * base.largest_layer_mm2) {
    base.findings.push_back({fmt::format("Layer 1 touches the plate with {:.1f} mm2 only, {:.0f} % of the largest "
                                         "layer ({:.1f} mm2 on layer {}): the print may be "
                                         "pulled off; add a raft or a wider base.",
                                         base.contact_mm2, 100 * base.contact_mm2 / base.largest_layer_mm2,
                                         base.largest_layer_mm2, base.largest_layer),
                             true});
  }
}

Judgement judge(const Evidence& evidence, const VerdictBounds& bounds) {
  Judgement judgement;
  add_whole(evidence, bounds, judgement);
  add_falls(evidence, bounds, judgement);
  add_details(evidence, bounds, Fate::vanish, judgement.reasons);
  add_details(evidence, bounds, Fate::fuse, judgement.reasons);
  if (!judgement.reasons.empty()) judgement.verdict = Verdict::hold;
  add_islands(evidence, bounds, judgement);
  for (const BaseReport::Finding& finding : evidence.base.findings) {
    if (!finding.comes_off) continue;
    judgement.verdict = Verdict::hold;
    judgement.reasons.push_back(finding.text);
  }
  add_cautions(evidence, bounds, judgement);
  return judgement;
}

}  // namespace hairline
