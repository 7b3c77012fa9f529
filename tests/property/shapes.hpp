/// Shapes whose loss a person would call, with the person's answer from closed forms (docs/shapes.md). Nothing here
/// asks the engine.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "hairline/risk.hpp"
#include "stacks.hpp"

namespace hairline::shapes {

/// `unsure`: near a limit, left out of the count.
enum class Answer : std::uint8_t { lost, harmless, unsure };

/// A resin on a printer. `model.layer_height_mm` may differ from `height_mm`.
struct Conditions {
  std::string label;
  CureModel model;
  double pitch_mm = 0.05, height_mm = 0.05;
};
/// Those of the set: blur of 0.03 to 0.07 mm, pixels of 0.022 to 0.06 mm, layers of 0.03 to 0.1 mm.
std::vector<Conditions> conditions();
/// How long a wide area takes to bond at this layer height, s.
double bond_s(const Conditions& c);

/// A shape on a stout plinth.
struct Drawn {
  stacks::Case job;
  BoxMm feature;  ///< where the answer looks
  Fate fate = Fate::vanish;
  std::function<Answer(double exposure_s)> answer;
};

struct Shape {
  std::string kind;  ///< as in docs/shapes.md
  std::string name;
  std::function<Drawn(const Conditions&)> draw;
};
/// The whole set, always in the same order.
std::vector<Shape> all();

}  // namespace hairline::shapes
