// Numbers and places as a person reads them. Internal to src/report.
#pragma once
#include <cstdint>
#include <string>

#include "hairline/risk.hpp"

namespace hairline {

std::string mm_text(double mm);          // "12.05"
std::string amount_text(double amount);  // volume or area to about three digits: "0.004", "14.2", "1204"
std::string exposure_text(double s);     // "2.55 s"
std::string percent_text(double share);  // "83 %", "over 99 %"
std::string number_text(double value);   // shortest form of at most four digits: "30", "0.05"
std::string layers_text(std::uint32_t from, std::uint32_t to);  // "layer 7", "layers 7 to 9"
std::string range_text(double from, double to);                 // "1.20 to 1.40", one number when they read alike
std::string spot_text(const BoxMm& box);                        // "x 1.20 to 1.40, y 8.00 to 8.10 mm"
std::string height_text(const BoxMm& box);                      // "40.50 to 48.70 mm up"
std::string count_text(std::uint64_t count, const char* one, const char* many);  // "1 island", "3 islands"
std::string capitalised(std::string text);                                       // first letter, ASCII only

}  // namespace hairline
