// Slots and holes that print much narrower than drawn, in words.
#include <fmt/format.h>

#include <algorithm>

#include "hairline/verdict.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr double most_lost_share = 1.0 / 3, slack = 1e-6;
constexpr double least_side_mm2 =
    0.1;  // less of a width in the whole job is the odd crease (common practice, no source)

using Printed = std::optional<double> WidthGrowth::*;

bool is_tight(const WidthGrowth& width, Printed printed_mm, double closed_mm) {
  constexpr double step_mm = 0.05;  // a width stands for those half a step around it
  if (!(width.*printed_mm) || width.slot_mm2 < least_side_mm2 || width.drawn_mm < closed_mm + step_mm / 2) return false;
  return *(width.*printed_mm) < width.drawn_mm * (1 - most_lost_share - slack);
}

struct Words {
  const char *drawn, *print;
};

// "Slots drawn 0.10 to 0.15 mm wide stay open but print 0.04 to 0.09 mm"; empty where none is tight.
std::string sizes_text(const Growth& growth, Printed printed_mm, double closed_mm, const Words& words) {
  const WidthGrowth *narrowest = nullptr, *widest = nullptr;
  for (const WidthGrowth& width : growth.widths) {
    if (!is_tight(width, printed_mm, closed_mm)) continue;
    if (narrowest == nullptr) narrowest = &width;
    widest = &width;
  }
  if (narrowest == nullptr) return {};
  return fmt::format("{} {} mm {} {} mm", words.drawn, range_text(narrowest->drawn_mm, widest->drawn_mm), words.print,
                     range_text(*(narrowest->*printed_mm), *(widest->*printed_mm)));
}

}  // namespace

std::vector<std::string> tight_gaps(const Growth& growth, const std::vector<Detail>& details) {
  double closed_mm = 0;  // the widest gap of the list that will not stay open
  for (const Detail& detail : details)
    if (detail.lost && detail.fate == Fate::fuse && detail.state == State::will && !detail.flat)
      closed_mm = std::max(closed_mm, detail.width_mm);
  const char* print = "wide stay open but print";
  const std::string slots = sizes_text(growth, &WidthGrowth::slot_mm, closed_mm, {"Slots drawn", print});
  const std::string holes =
      sizes_text(growth, &WidthGrowth::hole_mm, closed_mm,
                 slots.empty() ? Words{"Round holes drawn", print} : Words{"round holes of", "print"});
  if (slots.empty() && holes.empty()) return {};
  const std::string text = slots + (slots.empty() || holes.empty() ? "" : ", ") + holes;
  double sides_mm2 = 0;
  for (const WidthGrowth& width : growth.widths)
    if (is_tight(width, &WidthGrowth::slot_mm, closed_mm) || is_tight(width, &WidthGrowth::hole_mm, closed_mm))
      sides_mm2 += width.slot_mm2;
  return {text +
          fmt::format(": over a third narrower. {} mm2 of gap sides are so; draw them wider.", amount_text(sides_mm2))};
}

}  // namespace hairline
