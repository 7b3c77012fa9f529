/// What is doubtful, and what is worth knowing, about holding this job against this record tonight.
#pragma once
#include "job.hpp"

namespace hairline {

/// The record's facts with doubts and notes, for the report.
Report::Record judge_record(const Against& against, double normal_s);

}  // namespace hairline
