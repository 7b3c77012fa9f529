/// What `suggest` needs, made up in a few words: contenders with a critical exposure, and a job of plain layers.
#pragma once
#include <vector>

#include "hairline/plan.hpp"

namespace hairline::plan_test {

/// blur 0.06 mm, bond time 1.6 s, fuse time 0.55 s, Dp 0.16 mm, valid from 1 to 5 s.
CureModel model();

struct Job {
  CureModel model = plan_test::model();
  double exposure_s = 2.5;
  double factor = 1;  ///< of every layer's time
  std::optional<double> base_s = 25;
  std::vector<BaseReading> base_readings;
  std::vector<IslandRow> islands;
  SweepSettings sweep;
};

/// A wall / an upright slot with this critical exposure, as wide as the closed form says, on layers 11 to 20.
Contender vanishing(double critical_s, double log_sd = 0.05);
Contender fusing(double critical_s, double log_sd = 0.05);
/// A flat gap with this critical exposure.
Contender flat(double critical_s, double log_sd = 0.05);

Suggestion suggest_for(const Job& job, std::vector<Contender> contenders);

}  // namespace hairline::plan_test
