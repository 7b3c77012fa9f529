/// Layers with bulk, and how sure it is to bond.
#pragma once
#include <optional>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline::risk {

/// Layers that are alike count as one, the lowest of them.
class BulkLayers {
 public:
  explicit BulkLayers(const RiskContext& context) : context_(context) {}  ///< which must outlive this
  /// Layers from the top down; false where it is like one noted before.
  bool note(std::uint32_t number);
  /// Where it is least sure to bond, of normal layers or of base and transition layers; unset where there is none.
  std::optional<Bulk> least_sure(double exposure_s, bool base) const;
  /// Chance that normal layers' bulk does not bond where it is least sure; 0 without bulk.
  double chance_at(double exposure_s) const;
  /// The least time of the record's range from which on that is under sure_bulk_chance; unset: none.
  std::optional<double> holds_from_s() const;

 private:
  bool is_base(std::uint32_t number) const { return context_.layers[number - 1].kind != LayerKind::normal; }
  const RiskContext& context_;
  std::vector<std::uint32_t> layers_;
};

}  // namespace hairline::risk
