/// What is kept of a detail once no layer can touch it any more.
#pragma once
#include <cstdint>
#include <memory>
#include <vector>

#include "detail_sum.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

/// What a detail holds: loads, and the bodies beneath it.
struct Hold {
  std::vector<Load> loads;
  std::vector<std::uint32_t> resting;
  double carries_mm3 = 0;
};

/// A detail that has ended. Kept small: there may be a hundred thousand.
struct EndedDetail {
  Fate fate = Fate::vanish;
  bool flat = false;
  std::uint32_t from_layer = 0, to_layer = 0, id = 0;
  BoxPx box;
  double volume_mm3 = 0, width_mm = 0, critical_exposure_s = 0, log_sd = 0, lost_fraction = 0;
  std::unique_ptr<Hold> hold;  ///< null: nothing
};

/// Sums up what is known of a detail.
EndedDetail ended(const RiskContext& context, const Certainty& certainty, Fate fate, const DetailSum& sum);
/// The same in the words of the report.
Detail detail_of(const RiskContext& context, const EndedDetail& one);
Contender contender_of(const RiskContext& context, const EndedDetail& one);
BoxMm box_mm(const RiskContext& context, const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer);

}  // namespace hairline::risk
