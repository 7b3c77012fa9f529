// Numbers and places as a person reads them. Internal to src/report.
#pragma once
#include <array>
#include <string>

#include "../base/numbers.hpp"
#include "../plan/words.hpp"
#include "hairline/report.hpp"

namespace hairline {

std::string rough_text(double amount);    // volume or area to two digits: "120", "9.5", "0.44"
std::string cost_text(double cost);       // "2.45", "under 0.01"; in whichever currency
std::string exposure_text(double s);      // "2.55 s"
std::string percent_text(double share);   // "83 %", "over 99 %"
std::string length_text(double mm);       // "8.3", "0.42": one decimal from 1 mm on
std::string spot_text(const BoxMm& box);  // "x 1.2 to 4.4, y 8.0 to 8.1 mm"
std::string joined(const std::vector<std::string>& parts, const char* between);  // those that are not empty

// Values as words, in the order of the enum; the argument only says which enum.
constexpr std::array<const char*, 3> words_for(Verdict) {
  return {"clear", "caution", "hold"};
}
constexpr std::array<const char*, 2> words_for(Fate) {
  return {"vanish", "fuse"};
}
constexpr std::array<const char*, 2> words_for(State) {
  return {"will", "may"};
}
constexpr std::array<const char*, 3> words_for(Action) {
  return {"keep", "change", "record"};
}
constexpr std::array<const char*, 3> words_for(LayerKind) {
  return {"base", "transition", "normal"};
}
constexpr std::array<const char*, 2> words_for(BlurShape) {
  return {"gaussian", "lorentzian"};
}
std::string in_capitals(Verdict verdict);  // "HOLD"
template <class Enum>
constexpr const char* word_of(Enum value) {
  return words_for(value)[static_cast<std::size_t>(value)];
}

}  // namespace hairline
