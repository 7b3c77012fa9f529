// What the report says, sentence by sentence, from its values. Where a sentence stands on the page is not decided here.
// Internal to src/report.
#pragma once
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "words.hpp"

namespace hairline {

// Lost details that are alike, the worst of them first, with what comes loose when they flip.
struct LossGroup {
  std::vector<const Detail*> members;
  std::optional<double> spacing_mm;
  std::vector<const Fall*> falls;  // those of which one of these is the worst cause
  bool grey = false;               // wide and grey in the masks, not thin
  std::string exception;           // " An exception of the job gives 1.70 s to layers 30 to 40."
};
// Worst group first.
std::vector<LossGroup> lost_groups(const Report& report, State state);
// "14 parts and 1 gap".
std::string members_text(const std::vector<LossGroup>& groups, std::size_t from);

// ---- the answer ----
// Is the judged time that of the job, not one that was asked for? "Keep" the first, "Stay at" the other.
bool judges_own_time(const Report& report);
const char* keep_word(const Report& report);
std::string job_text(const Report& report);
// What a group is, where, how surely it is lost, from which time on it is not, and what falls with it.
std::string loss_text(const LossGroup& group);
// What a detail is, its size and where it is: "thin part 0.14 mm thick, 8.3 mm long, layers 811 to 974 ...".
std::string loss_name(const Detail& detail);
// Whether a sentence speaks of what is at these layers and this place.
bool names_place(const std::string& text, std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box);

// ---- what can be done ----
struct Lever {
  const char* when;  // "tonight", "slicing", "model"
  std::string text;
};
// All of them but the time to set, by what they cost.
std::vector<Lever> levers(const Report& report);
// The first thing to do beside the time to set; empty when there is nothing to do.
std::string first_step(const Report& report, const std::vector<Lever>& levers);

// ---- times ----
bool nothing_solid(const Report& report);  // there is light in the normal layers at most: no time to speak of
// The print as a whole fails at this row's time.
bool whole_fails(const SweepPoint& point);
// "may not bond (12 %)", "18 % does not cure", "3 half lost"; else empty.
std::string doubt_of_row(const SweepPoint& point);
// The window in words, times worth a coupon, how far the rows stand apart.
std::vector<std::string> about_times(const Suggestion& suggestion, const CureModel& model);

// ---- what is worth knowing ----
std::vector<const IslandRow*> loose_islands(const Report& report);  // those that nothing holds, the biggest first
std::string island_text(const IslandRow& island);
std::string rounding_text(const Report& report);  // these are empty where there is nothing to say
std::string crumbs_text(const Report& report);
std::string small_falls_text(const Report& report);  // of bodies that hang on nothing listed
std::string held_islands_text(const Report& report);
std::string bond_text(const Report& report);
std::string base_text(const BaseReport& base);
std::string growth_text(const Report& report);  // how much thicker walls print, and what undoes it
std::vector<std::string> thinnest_texts(const std::vector<LayerRow>& layers);  // wall and gap, where there are any
std::string age_text(int days);                                                // "6 days old"
std::string record_text(const Report::Record& record);

}  // namespace hairline
