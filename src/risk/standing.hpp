/// What stands at one time, what its parts carry, and what falls (docs/exposure.md, "What a detail carries").
///
/// Two graphs of bodies run side by side, from the top down: `standing`, the masks less what will be lost, and `sure`,
/// less what may be lost as well. They are one as long as nothing may be lost.
///
/// A standing body that never reaches the plate, though the drawn one it was cut from does, hangs on the lost parts
/// between it and the plate. What hangs on one part that may be lost is what only that part joins to the plate. Both
/// are read off the blocks of a graph of bodies and parts (falls.cpp).
#pragma once
#include <utility>
#include <vector>

#include "cut_layer.hpp"
#include "parts.hpp"

namespace hairline::risk {

/// Some of the bodies that hang on parts of one lot, in the order in which Standing lists them.
struct BodyRange {
  std::uint32_t first = 0, last = 0;
  auto operator<=>(const BodyRange&) const = default;
};

/// A part that has ended and is worth keeping.
struct EndedPart {
  Fate fate = Fate::vanish;
  Part part;
  double carries_mm3 = 0;
  std::vector<BodyRange> bodies;  ///< those of them fall with it that are printed later
  bool drops = false;             ///< one that does is no crumb
};

/// Solid that several `may` parts hold together.
struct HeldTogether {
  Body solid;
  std::uint32_t parts = 0;
};

class Standing {
 public:
  /// Adds a layer, whose parts have been added before; what ends with it is weighed here and closed afterwards.
  /// `lots`: of the cut's stretches; `want_starts`: note which pieces begin in the air.
  void add(const CutLayer& layer, const CutLayer* above, const LotsNow& lots, Parts& parts, bool want_starts,
           LayerUnion& scratch);
  /// What the parts that end above layer `number` hold, before that layer joins the bodies; `add` asks it itself. 0:
  /// all that are left.
  void weigh(std::uint32_t number, Parts& parts);
  /// Parts (of the layer above, of this one) that touch across the border to the base, of the layer added last.
  using Border = std::vector<std::pair<std::uint32_t, std::uint32_t>>;
  const Border& border() const { return border_; }
  /// Does an ended part hold anything that its bonds must be kept for? `at_border`: it rests on a part of the base. One
  /// that does not, and may stay, goes with the body it is on.
  bool may_carry(const Part& part, bool at_border);

  std::uint64_t bytes() const;
  /// After all layers: fills in what the parts carry and the bodies that fall with them. What no single one of the
  /// `may` parts carries comes back, biggest first.
  std::vector<HeldTogether> settle(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context);
  /// What falls, with indices of `parts` in place of ids; biggest first. After `settle`.
  std::vector<Fall> falls(const std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context);
  /// The bodies that hang on parts of a lot.
  std::size_t hung_count(Lot lot) { return without(lot).hung.size(); }
  const Body& hung(Lot lot, std::size_t index) { return without(lot).bodies.at(without(lot).hung[index]); }

 private:
  /// What is left of the masks: its bodies, and those of the elements of the layer added last and of the one before;
  /// `none` where one is lost.
  struct Remains {
    Bodies bodies;
    std::vector<std::uint32_t> now, above;
    std::vector<std::uint32_t> hung;  ///< bodies that hang on parts that go
  };
  /// A piece of the predicted print with nothing beneath it, though the mask had something there.
  struct Start {
    std::uint32_t layer = 0, body = 0;
    BoxPx box;
    double volume_mm3 = 0;
  };

  void follow(Remains& remains, Lot most, const CutLayer& layer, const CutLayer* above, const LotsNow& lots,
              LayerUnion& scratch);
  void note_bonds(const CutLayer& layer, const CutLayer* above, const LotsNow& lots, Parts& parts);
  void note_starts(const CutLayer& layer, const CutLayer& above, const LotsNow& lots, Parts& parts);
  bool fallen(std::uint32_t body, Bodies& drawn);
  void hang_fallen(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context);
  std::vector<HeldTogether> hang_doubtful(std::vector<EndedPart>& parts, const RiskContext& context);
  Remains& without(Lot lot) { return lot == Lot::will || !split_ ? standing_ : sure_; }

  Remains standing_, sure_;
  bool split_ = false;                              // sure_ is followed too
  std::vector<std::uint32_t> group_, group_above_;  // of standing elements that touch in their layer: the first
  std::vector<std::uint32_t> drawn_of_;             // standing body node -> drawn body node
  std::vector<Start> starts_;
  Border border_;
};

}  // namespace hairline::risk
