/// Words that suggestion, levers and reasons share.
#pragma once
#include <string>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline::plan {

/// "3.3, 3.4 and 3.5 s".
std::string times_text(const std::vector<double>& times_s);
/// Of a row that loss_beside gives: "at 2.55 s 3 gaps are".
std::string beside_text(const TimeRow& row, double exposure_s);

}  // namespace hairline::plan
