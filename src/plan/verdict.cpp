/// The verdict and its reasons (docs/verdicts.md).
#include "hairline/verdict.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"
#include "at_risk.hpp"
#include "changes.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr std::uint32_t white_from = 230;  // masks that nowhere reach it have no bulk (docs/exposure.md)

// Sentences in the order in which they are given; those to hold come first.
struct Reasons {
  std::vector<std::string> hold, caution;
};

std::string grey_text(const Evidence& evidence) {
  return fmt::format("the masks are grey ({} of 255 at most). Export them with all solid in white.",
                     evidence.brightest_value);
}

bool is_grey_all_over(const Evidence& evidence) {
  return evidence.brightest_value < white_from;
}

// More than half of the normal layers' volume: said as what becomes of the print, not of small pieces.
bool is_most(double uncured_share) {
  return over(uncured_share, 0.5);
}

std::string percent(double share) {
  return at_least(share, 0.01) ? fmt::format("{:.0f} %", 100 * share) : fmt::format("{:.1f} %", 100 * share);
}

// ---- the print as a whole ----

std::string cures_text(const RiskContext& context, const Bulk& bulk) {
  const char* why = has_own_time(context.layers[bulk.layer - 1], Fate::vanish, context.exposure_s)
                        ? " by an exception of the job"
                        : "";
  return fmt::format("{} gets {:.2f} s{} and needs {:.2f} s{} to cure through.",
                     layer_text(bulk.layer, context.layers[bulk.layer - 1].bottom_mm), bulk.margin * bulk.bond_time_s,
                     why, bulk.bond_time_s, bulk.margin < 1 ? " at least" : ", give or take some per cent,");
}

// Is it the layer's height that asks for more time than it gets? At the record's own height the time would do.
bool too_thick(const RiskContext& context, const Bulk& bulk) {
  const bool thicker = over(context.layers[bulk.layer - 1].height_mm, context.model.layer_height_mm);
  return thicker && bulk.margin * bulk.bond_time_s > context.model.bond_time_s;
}

void add_whole(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  const RiskContext& context = *evidence.context;
  const std::string at = fmt::format(" at {:.2f} s", context.exposure_s);
  if (is_grey_all_over(evidence)) {
    reasons.hold.push_back("The print as a whole does not cure" + at + ": " + grey_text(evidence));
  } else if (risk.bulk && at_least(risk.bulk->chance, will_chance)) {
    const std::string blame = too_thick(context, *risk.bulk)
                                  ? fmt::format(" Layers of {:.2f} mm are too thick for this time.",
                                                context.layers[risk.bulk->layer - 1].height_mm)
                                  : " The time is too short.";
    reasons.hold.push_back("The print as a whole fails: " + cures_text(context, *risk.bulk) + blame);
  } else if (!risk.base_bulk || !at_least(risk.base_bulk->chance, will_chance)) {  // else the base, see below
    reasons.hold.push_back("More than half of the print does not cure" + at +
                           ": it is too thin, or its masks too grey, for this time.");
  }
}

void add_bulk(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  const auto add = [&](const Bulk& bulk, const std::string& what, const std::string& remedy) {
    if (!at_least(bulk.chance, verdict_bounds.caution_bulk_chance)) return;
    auto& list = at_least(bulk.chance, verdict_bounds.hold_bulk_chance) ? reasons.hold : reasons.caution;
    list.push_back(
        fmt::format("{} (chance {}): {} {}", what, percent(bulk.chance), cures_text(*evidence.context, bulk), remedy));
  };
  if (risk.bulk && !risk.whole_fails) {
    add(*risk.bulk, "The print as a whole may fail",
        too_thick(*evidence.context, *risk.bulk) ? "Slice thinner layers, or expose longer." : "Expose longer.");
  }
  if (risk.base_bulk) {
    add(*risk.base_bulk,
        at_least(risk.base_bulk->chance, will_chance) ? "The base does not cure" : "The base may not cure",
        "Expose the base longer, or slice it thinner.");
  }
}

// Most of the print may go though none of it is bulk: walls thin all over, or grey masks. It is at stake as bulk is.
void add_most(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  double flips_mm3 = 0;
  const Detail* largest = nullptr;
  for (const Detail& detail : risk.details) {
    if (detail.fate != Fate::vanish || detail.base) continue;
    flips_mm3 += detail.volume_mm3;
    if (largest == nullptr || detail.volume_mm3 > largest->volume_mm3) largest = &detail;
  }
  const bool most = is_most(risk.uncured_share);
  if (risk.whole_fails || (!most && !over(flips_mm3, 0.5 * risk.normal_mm3))) return;
  const std::string at = fmt::format(" at {:.2f} s", evidence.context->exposure_s);
  const std::string what =
      most ? uncured_text(risk.uncured_share) + at
           : fmt::format("More than half of the print may not cure{} (chance {})", at, percent(largest->probability));
  reasons.hold.push_back(what + ": " +
                         (is_grey_all_over(evidence) ? grey_text(evidence) : "it is too thin for this time."));
}

void add_volume(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  if (risk.whole_fails || !is_much_uncured(risk.uncured_share) || is_most(risk.uncured_share)) return;
  const std::string lost =
      fmt::format("{} at {:.2f} s", uncured_text(risk.uncured_share), evidence.context->exposure_s);
  reasons.hold.push_back(is_grey_all_over(evidence) ? lost + ": " + grey_text(evidence)
                                                    : lost + ", all small pieces counted.");
}

void add_crumbs(const RiskFound& risk, Reasons& reasons) {
  const Crumbs& crumbs = risk.crumbs;
  if (!are_seen(crumbs)) return;
  auto& list = over(crumbs.deep_mm3, verdict_bounds.hold_deep_crumbs_mm3) ? reasons.hold : reasons.caution;
  list.push_back(
      fmt::format("Spots too small to list, but deep enough to be seen, are lost: {} mm3 together, the "
                  "longest {}.",
                  amount_text(crumbs.deep_mm3), longest_text(*crumbs.longest)));
}

// ---- details ----

std::string place_of(const Detail& detail) {
  return fmt::format("{}on {}, {} (#{})", detail.base ? "in the base, " : "",
                     layers_text(detail.from_layer, detail.to_layer, detail.box), place_text(detail.box), detail.id);
}

// "A part 0.09 mm thin will be missing on layers ... (#1), and 14.0 mm3 hang on it."
std::string detail_text(const Detail& detail, const CureModel& model) {
  const bool gap = detail.fate == Fate::fuse, will = detail.state == State::will;
  const std::string what = is_grey(detail, model)
                               ? "A part that is grey in the masks"
                               : fmt::format("A {} {:.2f} mm {}", gap ? detail.flat ? "flat gap" : "gap" : "part",
                                             detail.width_mm, gap ? detail.flat ? "high" : "wide" : "thin");
  std::string becomes = fmt::format("{} {}", will ? "will" : "may", gap ? "close" : "be missing");
  if (detail.welds) becomes += " and weld two pieces together";
  if (detail.shuts) becomes += " and shut a way through";
  if (detail.breaks) becomes += " and leave a break";
  if (!will) becomes += fmt::format(" (chance {})", percent(detail.probability));
  const std::string carried =
      detail.carries_mm3 >= 0.05 ? fmt::format(", and {:.1f} mm3 hang on it", detail.carries_mm3) : "";
  return what + " " + becomes + " " + place_of(detail) + carried + ".";
}

// One sentence for the worst of the details that `counts` takes, and how many more of its fate there are.
void add_details(const Evidence& evidence, const auto& counts, std::vector<std::string>& list) {
  const RiskFound& risk = *evidence.risk;
  for (const Fate fate : {Fate::vanish, Fate::fuse}) {
    const Detail* worst = nullptr;
    std::size_t all = 0;
    for (const Detail& detail : risk.details) {
      if (detail.fate != fate || !counts(detail)) continue;
      if (++all == 1) worst = &detail;
    }
    if (worst == nullptr) continue;
    std::string text = detail_text(*worst, evidence.context->model);
    const char* modal = worst->state == State::will ? "will" : "may";
    if (all > 1)
      text += fmt::format(" So {} {}.", modal,
                          fate == Fate::vanish ? count_text(all - 1, "other part", "other parts")
                                               : count_text(all - 1, "other gap", "other gaps"));
    list.push_back(std::move(text));
  }
}

void add_falls(const RiskFound& risk, Reasons& reasons) {
  const auto grave =
      static_cast<std::size_t>(std::count_if(risk.falls.begin(), risk.falls.end(), [&](const Fall& fall) {
        return over(fall.volume_mm3, verdict_bounds.most_risked_mm3);
      }));
  if (grave == 0) return;
  const Fall& fall = risk.falls.front();
  constexpr std::size_t most_ids = 3;
  std::string ids;
  for (std::size_t i = 0; i < std::min(most_ids, fall.details.size()); ++i)
    ids += fmt::format("{}#{}", i == 0 ? " (" : ", ", fall.details[i]);
  if (fall.details.size() > most_ids) ids += fmt::format(" and {} more", fall.details.size() - most_ids);
  if (!ids.empty()) ids += ")";
  std::string text = fmt::format(
      "A {} of {:.1f} mm3 {} on {}, {}: what {} it will be missing{}.", fall.loose ? "body" : "piece", fall.volume_mm3,
      fall.loose ? "comes loose" : "starts on nothing", layer_text(fall.layer, fall.box.from.z), place_text(fall.box),
      fall.loose ? "holds" : "lies under", ids);
  if (grave > 1) text += fmt::format(" {}.", count_text(grave - 1, "other falls as well", "others fall as well"));
  reasons.hold.push_back(std::move(text));
}

// What only doubtful parts hold, though no single one of them.
void add_shared_loads(const RiskFound& risk, Reasons& reasons) {
  std::size_t others = 0;
  for (const SharedLoad& load : risk.shared_loads) others += plan::is_on_doubtful(load.volume_mm3);
  if (others == 0) return;
  const SharedLoad& worst = risk.shared_loads.front();
  std::string text =
      fmt::format("{:.1f} mm3 from {} on, {}, stand only on {} parts that may each be lost: they may go together.",
                  worst.volume_mm3, layer_text(worst.layer, worst.box.from.z), place_text(worst.box), worst.parts);
  if (others > 1) text += fmt::format(" So {}.", count_text(others - 1, "other body does", "other bodies do"));
  reasons.caution.push_back(std::move(text));
}

// Nothing is named, but something is lost at a time so near that it may be lost at this one.
void add_beside(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  if (std::any_of(risk.details.begin(), risk.details.end(), plan::is_named)) return;
  const double exposure_s = evidence.context->exposure_s;
  for (const TimeRow& row : risk.rows) {
    if (row.point.exposure_s != exposure_s) continue;
    if (const auto also = plan::also_lost(risk.rows, row, true); also.losses() > 0)
      reasons.caution.push_back(
          fmt::format("Nothing is listed as lost, but {}.", plan::also_lost_text(also, exposure_s)));
    const TimeRow* beside = plan::loss_beside(risk.rows, row);
    if (beside == nullptr) continue;
    const double way = std::abs(std::log(beside->point.exposure_s / exposure_s));
    const bool dose = way < 2 * evidence.context->settings.dose_spread;  // farther off only the record can be
    reasons.caution.push_back(fmt::format("Nothing is lost at {:.2f} s, but {}: {} may be that much off.", exposure_s,
                                          plan::beside_text(*beside, exposure_s),
                                          dose ? "the dose of a print" : "the record"));
  }
}

void add_parts(const Evidence& evidence, Reasons& reasons) {
  const RiskFound& risk = *evidence.risk;
  add_most(evidence, reasons);
  add_falls(risk, reasons);
  const auto other_risk = [](const Detail& detail) {
    return plan::may_be_lost(detail) && !plan::is_grave_risk(detail);
  };
  add_details(evidence, plan::will_be_lost, reasons.hold);
  add_details(evidence, plan::is_grave_risk, reasons.hold);
  add_volume(evidence, reasons);
  add_details(evidence, other_risk, reasons.caution);
  add_shared_loads(risk, reasons);
  add_beside(evidence, reasons);
  add_crumbs(risk, reasons);
}

// ---- islands ----

void add_islands(const Evidence& evidence, bool grave, std::vector<std::string>& list) {
  const IslandRow* worst = nullptr;
  std::size_t all = 0;
  for (const IslandRow& island : evidence.islands) {
    if (island.held_by_fill || is_grave(island) != grave) continue;
    ++all;
    if (worst == nullptr || island.volume_mm3 > worst->volume_mm3) worst = &island;
  }
  if (worst == nullptr) return;
  const std::string until = worst->joins_layer ? fmt::format("until layer {}", *worst->joins_layer) : "to its very end";
  std::string text = fmt::format("{} island of {:.2f} mm2 starts in mid-resin on {}, {}, and hangs on nothing {}.",
                                 grave ? "An" : "A small", worst->area_mm2, layer_text(worst->layer, worst->height_mm),
                                 place_text(worst->start_box()), until);
  if (all > 1) text += fmt::format(" {} like it.", count_text(all - 1, "other is", "others are"));
  const double loose_mm3 = grave ? 0 : small_loose_mm3(evidence.islands);
  if (at_least(loose_mm3, verdict_bounds.least_island_mm3))
    text += fmt::format(" In all {} mm3 come loose in the vat.", amount_text(loose_mm3));
  list.push_back(std::move(text));
}

void add_faint(const Evidence& evidence, Reasons& reasons) {
  if (evidence.faint.empty() || evidence.nothing_solid) return;
  const FaintPart& tallest = *std::max_element(
      evidence.faint.begin(), evidence.faint.end(),
      [](const FaintPart& a, const FaintPart& b) { return a.box.to.z - a.box.from.z < b.box.to.z - b.box.from.z; });
  const std::string place =
      layers_text(tallest.from_layer, tallest.to_layer, tallest.box) + ", " + place_text(tallest.box);
  const std::size_t count = evidence.faint.size();
  const std::string step = evidence.risk == nullptr ? " Draw such parts thicker." : "";  // else a suggestion says it
  reasons.caution.push_back(
      count == 1 ? fmt::format("A part on {} is thinner than a pixel, only grey in the masks: hardly anything of it "
                               "will cure.",
                               place) +
                       step
                 : fmt::format("{} parts are thinner than a pixel, only grey in the masks: hardly anything of them "
                               "will cure (the tallest: {}).",
                               count, place) +
                       step);
}

// "Layer 31 is", "Layers 7 to 9 are"; numbers are rising, and at least one.
std::string layers_are(const std::vector<std::uint32_t>& layers) {
  const std::uint32_t first = layers.front(), last = layers.back();
  if (layers.size() == 1) return fmt::format("Layer {} is", first);
  if (last - first + 1 == layers.size())
    return fmt::format("Layers {} {} {} are", first, layers.size() == 2 ? "and" : "to", last);
  return fmt::format("{} layers from {} to {} are", layers.size(), first, last);
}

// Hardly ever meant: said first.
void add_wrong_layers(const Evidence& evidence, Reasons& reasons) {
  if (evidence.nothing_solid) return;
  const WrongLayers wrong = wrong_layers(evidence.layers, evidence.faint);
  std::vector<std::string>& list = reasons.hold.empty() ? reasons.caution : reasons.hold;
  const auto say = [&list](const std::string& what, bool one) {
    list.insert(list.begin(),
                fmt::format("{}: export the job again, unless {} meant.", what, one ? "that is" : "they are"));
  };
  if (!wrong.strange.empty())
    say(layers_are(wrong.strange) +
            " like neither neighbour, while those are like each other, as if a picture was mixed up",
        true);
  if (!wrong.empty.empty())
    say(layers_are(wrong.empty) + " empty, with the print going on above", wrong.empty.size() == 1);
}

}  // namespace

bool is_grey(const Detail& detail, const CureModel& model) {
  if (detail.fate != Fate::vanish || !detail.critical_exposure_s) return false;
  const BoxMm& box = detail.box;
  const double x_mm = box.to.x - box.from.x, y_mm = box.to.y - box.from.y, z_mm = box.to.z - box.from.z;
  const double by_light_mm = wall_limit_mm(model, *detail.critical_exposure_s);
  return std::abs(detail.width_mm - by_light_mm) < 1e-4 * by_light_mm && std::min(x_mm, y_mm) > 5 * detail.width_mm &&
         detail.volume_mm3 > 0.5 * x_mm * y_mm * z_mm;
}

bool are_seen(const Crumbs& crumbs) {
  return at_least(crumbs.deep_mm3, verdict_bounds.caution_deep_crumbs_mm3) ||
         (crumbs.longest && at_least(extent_mm(crumbs.longest->box), verdict_bounds.caution_crumb_extent_mm));
}

bool is_grave(const IslandRow& island) {
  return !island.held_by_fill && (at_least(island.area_mm2, verdict_bounds.least_island_mm2) ||
                                  at_least(island.volume_mm3, verdict_bounds.least_island_mm3));
}

double small_loose_mm3(const std::vector<IslandRow>& islands) {
  double loose_mm3 = 0;
  for (const IslandRow& island : islands)
    if (!island.held_by_fill && !island.joins_layer && !is_grave(island)) loose_mm3 += island.volume_mm3;
  return loose_mm3;
}

bool is_much_uncured(double share) {
  return over(share, verdict_bounds.most_vanishing);
}

Judgement judge(const Evidence& evidence) {
  Reasons reasons;
  if (evidence.nothing_solid) reasons.hold.push_back("Nothing is solid in the normal layers: " + grey_text(evidence));
  if (evidence.risk != nullptr) {
    if (evidence.risk->whole_fails && !evidence.nothing_solid) add_whole(evidence, reasons);
    add_bulk(evidence, reasons);
  }
  for (const BaseReport::Finding& finding : evidence.base.findings)
    if (finding.comes_off) reasons.hold.push_back(finding.text);
  if (evidence.risk != nullptr) add_parts(evidence, reasons);
  add_islands(evidence, true, reasons.hold);
  add_faint(evidence, reasons);
  add_islands(evidence, false, reasons.caution);
  for (const BaseReport::Finding& finding : evidence.base.findings)
    if (!finding.comes_off) reasons.caution.push_back(finding.text);
  reasons.caution.insert(reasons.caution.end(), evidence.doubts.begin(), evidence.doubts.end());
  add_wrong_layers(evidence, reasons);

  Judgement judgement;
  judgement.verdict = !reasons.hold.empty()      ? Verdict::hold
                      : !reasons.caution.empty() ? Verdict::caution
                                                 : Verdict::clear;
  judgement.reasons = std::move(reasons.hold);
  judgement.reasons.insert(judgement.reasons.end(), reasons.caution.begin(), reasons.caution.end());
  return judgement;
}

}  // namespace hairline
