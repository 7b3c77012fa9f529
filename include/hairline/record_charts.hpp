/// Charts of a resin record as SVG elements for an HTML page: used by the record's page, the report's page and the
/// coupon sheet. They load nothing and hold no style: lines and marks are told apart by dashes and shapes, and coloured
/// by attributes (Okabe and Ito 2008, colours for all kinds of colour vision) which a page's CSS may override by the
/// classes "wall", "slot", "pin", "hole" and "use". Text has the page's own colour.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/record.hpp"

namespace hairline {

/// Thinnest wall and pin that stand, narrowest slot and hole that stay open, mm, against the exposure in s, with
/// readings on them, the time to use with its range, and the time of a job. Spans the model's range, all readings and
/// the job's time. Empty where that is one time.
std::string limit_chart(const CureModel& model, const std::vector<BracketReading>& readings,
                        const std::optional<TimeToUse>& use, std::optional<double> job_s = {});
/// How far each reading is off the fit, in standard deviations, against its exposure; beyond 4 drawn at the edge. Empty
/// without a fit or readings.
std::string residual_chart(const ResinRecord& record);

}  // namespace hairline
