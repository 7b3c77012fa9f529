/// What `suggest` and `judge` need, made up in a few words: things that flip at a critical exposure, and a job of plain
/// layers. Rows follow from the things as the definition says: those with a chance of 5 % at a row's time are its
/// details.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/plan.hpp"

namespace hairline::plan_test {

/// blur 0.06 mm, bond time 1.6 s, fuse time 0.55 s, Dp 0.16 mm, valid from 1.8 to 3.2 s.
CureModel model();

struct Job {
  CureModel model = plan_test::model();
  double exposure_s = 2.5;
  double factor = 1;        ///< of every layer's time
  double height_mm = 0.05;  ///< of every layer
  bool has_bulk = true;
  std::optional<double> base_s = 25;
  std::vector<BaseReading> base_readings;
  std::vector<IslandRow> islands;
  SweepSettings sweep;
};

/// A lost wall / upright slot / flat gap with this critical exposure, as thick or wide as the closed form says, on
/// layers 11 to 20. Harm 1 mm.
Detail vanishing(double critical_s, double log_sd = 0.05);
Detail fusing(double critical_s, double log_sd = 0.05);
Detail flat(double critical_s, double log_sd = 0.05);
Detail harmful(Detail detail, double harm_mm);

RiskContext context_of(const Job& job);
/// With `avoidable` worked out over the rows of the valid range, as the tracker does.
RiskFound found_of(const RiskContext& context, const std::vector<Detail>& things, bool has_bulk = true);
Suggestion suggest_for(const Job& job, const std::vector<Detail>& things);

bool has(const std::string& text, const std::string& words);

}  // namespace hairline::plan_test
