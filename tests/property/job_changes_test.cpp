// What a report says a lost part needs is enough: the part is drawn anew, as thick or wide as was said, at another
// place among the pixels and turned another way, and at the time of the advice its chance is under 5 %.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <string>

#include "job_run.hpp"

using namespace hairline;

namespace {

enum class Kind { wall, pin, slot, hole, window };

// One part of this size on a plinth, or one gap in a block; its middle lies `x_mm`, `y_mm` beside the plate's.
struct Part {
  Kind kind = Kind::wall;
  double size_mm = 0, x_mm = 0, y_mm = 0, turned = 0, pitch_mm = 0.05;
};

bool inside_part(const Part& part, double x, double y) {
  if (part.kind == Kind::pin || part.kind == Kind::hole) return std::hypot(x, y) < part.size_mm / 2;
  const double along = x * std::cos(part.turned) + y * std::sin(part.turned);
  const double across = y * std::cos(part.turned) - x * std::sin(part.turned);
  return std::abs(across) < part.size_mm / 2 && std::abs(along) < 0.7;
}

stacks::Case drawn(const Part& part) {
  constexpr double side = 2.4, foot = 0.5, tall = 1;
  stacks::Case made;
  const auto pixels = static_cast<std::uint32_t>(std::lround(side / part.pitch_mm));
  made.settings = stacks::plain_settings({pixels, pixels}, 30, {part.pitch_mm, part.pitch_mm});
  made.model = stacks::plain_model(0.04);
  made.model.valid_from_s = 1.9, made.model.valid_to_s = 3.4;
  made.layers = stacks::draw(made.settings, [&](double x, double y, double z) {
    x -= side / 2, y -= side / 2;
    const bool block = std::max(std::abs(x), std::abs(y)) < side / 2 - 0.2;
    x -= part.x_mm, y -= part.y_mm;
    if (z < foot) return block;
    if (part.kind == Kind::window) return block && (std::abs(x) > 0.5 || z > foot + part.size_mm) && z < foot + tall;
    const bool here = inside_part(part, x, y);
    return part.kind == Kind::wall || part.kind == Kind::pin ? here : block && !here;
  });
  return made;
}

double least_size_mm(Kind kind, double pitch_mm) {
  if (kind == Kind::window) return 0.1;
  return (kind == Kind::pin || kind == Kind::hole ? 1.75 : 1.3) * pitch_mm;
}

// Draws a part that is lost, then as the report says; false where nothing is lost.
bool saved_as_said(Part part, stacks::Dice& dice, double exposure_s) {
  const auto place = [&] {
    part.x_mm = dice.between(0, part.pitch_mm), part.y_mm = dice.between(0, part.pitch_mm);
    part.turned = dice.chance(0.4) ? 0 : dice.between(0, std::numbers::pi);
  };
  place();
  const Report report = job_run::analyse_case(drawn(part), job_run::judged_at(exposure_s));
  if (report.suggestion->changes.empty()) return false;
  const Change& change = report.suggestion->changes.front();
  part.size_mm = change.needed_mm;
  place();
  CAPTURE(static_cast<int>(part.kind), change.width_mm, change.needed_mm, part.pitch_mm, part.turned);
  const Report again = job_run::analyse_case(drawn(part), job_run::judged_at(report.suggestion->exposure_s));
  for (const Detail& detail : again.details) CHECK_FALSE((detail.lost && detail.probability >= 0.05));
  return true;
}

}  // namespace

TEST_CASE("job: a lost part drawn as thick or wide as the report says is saved, wherever it lies") {
  stacks::Dice dice(812);
  int tried = 0;
  for (const Kind kind : {Kind::wall, Kind::pin, Kind::slot, Kind::hole, Kind::window})
    for (const double pitch_mm : {0.05, 0.03})
      for (int i = 0; i < 6; ++i)
        tried += saved_as_said({.kind = kind, .size_mm = least_size_mm(kind, pitch_mm), .pitch_mm = pitch_mm}, dice,
                               dice.between(1.95, 3));
  CHECK(tried >= 50);
}
