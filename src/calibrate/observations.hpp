// Readings as the fit sees them: one observation for each size, look and cure depth, each with its likelihood.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/fit.hpp"

namespace hairline {

enum class Seen : std::uint8_t { wall, slot, pin, hole, flat_slot, block_width, slot_width, look, cure_depth };

struct Observation {
  Seen seen = Seen::wall;
  double exposure_s = 0;
  double drawn_mm = 0;            ///< of a block or a slot by caliper
  double read_mm = 0, sd_mm = 0;  ///< wedge and caliper; of a look: the size at which crisp has walls and slots alike
  bool step = false;              ///< read off a ladder: the limit lies in (low_mm, read_mm]
  double low_mm = 0;
  Look look = Look::crisp;
};

/// Every observation of a record, in the order of the file. A look counts only where no size was read.
std::vector<Observation> observations(const ResinRecord& record, const FitSettings& settings);

/// A width of a block or a slot, which growth moves.
inline bool by_caliper(Seen seen) {
  return seen == Seen::block_width || seen == Seen::slot_width;
}

/// "thinnest wall at 2.5 s"
std::string name_of(const Observation& observation);
const char* name_of(Seen seen);

/// What the model says would be read, mm; none for a look. `gel_time_s` is for cure depths.
std::optional<double> predicted_mm(const Observation& observation, const CureModel& model, double gel_time_s);

/// Negative log likelihood of one observation, up to a constant; `gel_time_s` is for cure depths.
double cost(const Observation& observation, const CureModel& model, double gel_time_s, const FitSettings& settings);

/// Log of read / predicted, in standard deviations; 0 where a step or a look is met.
double sigmas(const Observation& observation, const CureModel& model, double gel_time_s, const FitSettings& settings);

/// The next smaller step of the ISO 3 R10 ladder below a size (for one off the ladder: the same ratio below it).
double step_below_mm(double size_mm);
bool on_ladder(double size_mm);

}  // namespace hairline
