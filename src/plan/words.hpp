/// Words that plans and reports share. Internal to src/plan and src/report.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "at_risk.hpp"
#include "hairline/risk.hpp"

namespace hairline {

std::string mm_text(double mm);                  ///< "12.05"
std::string range_text(double from, double to);  ///< "1.20 to 1.40", one number when they read alike
/// "1 island", "3 islands".
std::string count_text(std::uint64_t count, const char* one, const char* many);
/// A volume or area to about three digits: "0.004", "14.2", "1204".
std::string amount_text(double amount);
/// "3 parts and 1 gap", "2 gaps", "nothing".
std::string parts_and_gaps(std::uint64_t parts, std::uint64_t gaps);
/// "layer 12 (0.6 mm up)"; "layers 811 to 974 (40.5 to 48.7 mm up)"; "at x 12.3, y 4.0 mm".
std::string layer_text(std::uint32_t layer, double height_mm);
/// "layer 30", "layers 30 to 40"
std::string layer_numbers_text(std::uint32_t from_layer, std::uint32_t to_layer);
std::string layers_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box);
std::string place_text(const BoxMm& box);
/// "0.90 mm on layer 61 (3.0 mm up), at x 1.9, y 2.8 mm"
std::string longest_text(const Crumbs::Place& longest);
/// " 8.0 mm3 hang on what may be lost then, so it stays on hold."
std::string hangs_text(double volume_mm3);
/// "the times asked for lie outside the record (1.80 to 3.20 s)"
std::string outside_record_text(const CureModel& model);
/// "18 % of the print does not cure"
std::string uncured_text(double share);

namespace plan {

/// "3.3, 3.4 and 3.5 s".
std::string times_text(const std::vector<double>& times_s);
/// Of a row that loss_beside gives: "at 2.55 s 3 gaps are".
std::string beside_text(const TimeRow& row, double exposure_s);
/// "6 gaps that are lost at 4.80 s are lost at 5.60 s too"
std::string also_lost_text(const AlsoLost& also, double exposure_s);

}  // namespace plan
}  // namespace hairline
