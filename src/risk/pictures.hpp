/// Pictures of details, drawn once all is known from the runs that are kept (include/hairline/pictures.hpp).
#pragma once
#include <optional>
#include <vector>

#include "hairline/pictures.hpp"
#include "run_store.hpp"
#include "standing.hpp"

namespace hairline::risk {

/// Indices of RiskContext::times_s. `suggested` unset: the same time, or none.
struct PictureTimes {
  std::uint32_t judged = 0;
  std::optional<std::uint32_t> suggested;
};

/// Of parts at the judged time, in their order; ids are not set. Layers are gone through once, from the top down; solid
/// that is not kept is asked of `solid_of`, once for each layer. Fails only as that does.
Result<std::vector<DetailPictures>> draw_details(const std::vector<const EndedPart*>& parts, const PictureTimes& times,
                                                 const RunStore& store, const RiskContext& context,
                                                 const SolidOf& solid_of);

}  // namespace hairline::risk
