/// What hangs on the parts that vanish, and what falls with them (docs/exposure.md, "What a detail carries").
///
/// A standing body that never reaches the plate, though the drawn one it was cut from does, hangs on the lost parts
/// between it and the plate. What hangs on one part that may be lost is what only that part joins to the plate. Both
/// are read off the blocks of a graph of bodies and parts (Hopcroft and Tarjan 1973, from memory).
#pragma once
#include <functional>
#include <vector>

#include "bodies.hpp"
#include "parts.hpp"

namespace hairline::risk {

/// A part that has ended and is worth keeping.
struct EndedPart {
  Fate fate = Fate::vanish;
  Part part;
  double carries_mm3 = 0;
  std::vector<std::uint32_t> bodies;  ///< that fall with it, as named below
};

/// Names that tell bodies that stand without the `will` parts from those that stand without the `may` parts as well.
inline std::uint32_t standing_name(std::uint32_t body) {
  return 2 * body;
}
inline std::uint32_t sure_name(std::uint32_t body) {
  return 2 * body + 1;
}

/// A piece of the predicted print with nothing beneath it, though the mask had something there.
struct Start {
  std::uint32_t layer = 0, body = 0;
  BoxPx box;
  double volume_mm3 = 0;
};

/// Those that a part touches now, sorted.
std::vector<std::uint32_t> touched_by(const Bonds& bonds, Bodies& bodies);

/// Has a standing body lost its way to the plate?
using Fallen = std::function<bool(std::uint32_t body)>;

/// Fills in what the `will` parts carry, and the bodies that fall with them.
void hang_fallen(std::vector<EndedPart>& parts, Bodies& standing, const Fallen& fallen);
/// Solid that several `may` parts hold together.
struct HeldTogether {
  Body solid;
  std::uint32_t parts = 0;
};
/// The same for the `may` parts; what no single one of them carries comes back, biggest first.
std::vector<HeldTogether> hang_doubtful(std::vector<EndedPart>& parts, Bodies& sure);
/// What falls, with indices of `parts` in place of ids; biggest first.
std::vector<Fall> find_falls(const std::vector<EndedPart>& parts, const std::vector<Start>& starts, Bodies& standing,
                             const Fallen& fallen, const RiskContext& context);

}  // namespace hairline::risk
