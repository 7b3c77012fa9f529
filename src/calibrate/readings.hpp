// Readings as JSON entries: the one place that knows their field names and ranges.
#pragma once
#include <array>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "hairline/record.hpp"

namespace hairline {

struct SizeField {
  const char* name;
  std::optional<double> BracketReading::*value;
};
/// The five sizes of a bracket reading, in the order of the file.
inline constexpr std::array<SizeField, 5> size_fields{
    {{"thinnest_wall_mm", &BracketReading::thinnest_wall_mm},
     {"narrowest_slot_mm", &BracketReading::narrowest_slot_mm},
     {"thinnest_pin_mm", &BracketReading::thinnest_pin_mm},
     {"smallest_hole_mm", &BracketReading::smallest_hole_mm},
     {"narrowest_flat_slot_mm", &BracketReading::narrowest_flat_slot_mm}}};

/// "Problem" of a reading that did not come from a file: the first field out of range, as an Error without a file.
std::optional<Error> problem_of(const BracketReading& reading);
std::optional<Error> problem_of(const CureDepthReading& reading);
std::optional<Error> problem_of(const BaseReading& reading);

/// The entry as it is written: known fields updated inside `reading.source`.
nlohmann::ordered_json to_json(const BracketReading& reading);
nlohmann::ordered_json to_json(const CureDepthReading& reading);
nlohmann::ordered_json to_json(const BaseReading& reading);

bool has_sizes(const BracketReading& reading);

}  // namespace hairline
