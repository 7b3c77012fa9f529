// What came out of a record's prints, for a person.
#include <fmt/format.h>

#include <cmath>

#include "hairline/outcome.hpp"
#include "words.hpp"

namespace hairline {
namespace {

std::string prints_text(const OutcomeSummary& summary) {
  std::string text = count_text(summary.prints, "print", "prints") + " looked at";
  if (summary.fine > 0) text += fmt::format(", {} fine", summary.fine);
  if (summary.came_off > 0) text += fmt::format(", {} came off the plate", summary.came_off);
  text += ".";
  if (summary.earlier > 0)
    text += fmt::format(" {} no more.",
                        count_text(summary.earlier, "print of an earlier fit counts", "prints of earlier fits count"));
  return text;
}

TableRow row_of(const char* name, const Tally& tally) {
  return {{name, fmt::format("{}", tally.looked_at), fmt::format("{:.1f} +- {:.1f}", tally.expected, tally.spread),
           fmt::format("{}", tally.seen), fmt::format("{}", tally.looked_at - tally.seen)}};
}

Table table_of(const OutcomeSummary& summary) {
  Table table{{{"", TableColumn::Kind::text, 14},
               {"looked at", TableColumn::Kind::number, 11},
               {"should be lost", TableColumn::Kind::number, 16},
               {"were lost", TableColumn::Kind::number, 11},
               {"were there", TableColumn::Kind::number, 12}},
              {row_of("will be lost", summary.will), row_of("may be lost", summary.may)}};
  table.rows.push_back({{"not said", "-", "-", fmt::format("{}", summary.unforeseen), "-"}});
  return table;
}

// A share of the dose as a person says it: 0.09 is "9 %"; the sign is said in words.
std::string off_text(double log) {
  return fmt::format("{:.0f} %", 100 * std::abs(std::expm1(log)));
}

std::string side_text(double log) {
  if (std::lround(100 * std::expm1(log)) == 0) return "as the record says";
  return fmt::format("{} {}", off_text(log), log > 0 ? "stronger" : "weaker");
}

std::string dose_text(const DoseShift& dose) {
  const std::string range = fmt::format("from {} to {}", side_text(dose.low), side_text(dose.high));
  if (std::lround(100 * std::expm1(dose.log)) == 0)
    return fmt::format("Lamp and resin seem as strong as in the record (90 % sure: {}).", range);
  return fmt::format("The lamp or the resin seems about {} than in the record (90 % sure: {}).", side_text(dose.log),
                     range);
}

std::string advice_text(const OutcomeSummary& summary) {
  const std::string coupon = summary.coupon_s
                                 ? fmt::format("Print a coupon at {} and read it.", exposure_text(*summary.coupon_s))
                                 : std::string("Print new coupons and read them.");
  switch (summary.new_coupon) {
    case NewCoupon::no:
      return "Nothing here asks for a new coupon.";
    case NewCoupon::dose:
      return "That is more than the record's own doubt. " + coupon;
    case NewCoupon::unforeseen:
      return fmt::format("{} of {} prints lost something that was not said. {}", summary.unforeseen_prints,
                         summary.prints, coupon);
    case NewCoupon::came_off:
      return fmt::format("{} prints came off the plate. {} Note what its base did, too: lifted, held or welded.",
                         summary.came_off, coupon);
  }
  return {};
}

}  // namespace

Document say_outcomes(const OutcomeSummary& summary) {
  if (summary.prints == 0) {
    Document said{Paragraph{"Nothing is noted yet of what came out of its prints."}};
    if (summary.earlier > 0) said.push_back(Paragraph{prints_text(summary)});
    return said;
  }
  Document said{Paragraph{prints_text(summary)}, table_of(summary)};
  if (summary.dose) said.push_back(Paragraph{dose_text(*summary.dose)});
  said.push_back(Paragraph{advice_text(summary), summary.new_coupon == NewCoupon::no ? Tone::good : Tone::doubtful});
  return said;
}

}  // namespace hairline
