// Questions to a person: what is answered is checked as it is typed, and kept coupon by coupon.
#pragma once
#include <functional>

#include "../calibrate/reading_fields.hpp"
#include "commands.hpp"

namespace hairline::cli {

// The answer to a question, asked again until it fits (`misfit` says ""). None where the input ends before, or the
// person stops it.
Result<std::optional<std::string>> ask(const std::string& question,
                                       const std::function<std::string(const std::string& answer)>& misfit,
                                       const Progress& progress);

// What a person is told before the questions of a coupon.
inline constexpr const char* how_to_answer =
    "Type what you read, as on the sheet; an empty line where you did not. Decimal commas and units are understood\n"
    "(0.08, 0,08, 80 um). Of walls and slots type x, y and slanted: 0.08 0.09 0.085. A ? shows what is expected,\n"
    "a < goes back to the question before.\n";

// What was answered of one coupon; `ended`: before the last question, by the end of input, an interrupt, or no
// exposure.
struct CouponAnswers {
  Cells cells;
  bool ended = false;
};
// Asks the sheet's questions but those that `known` answers.
Result<CouponAnswers> ask_coupon(const ResinRecord& record, const Cells& known, const Context& context);

struct HowToTake {
  bool replace = false;
  std::string today;
};
// take_readings, with a word on stderr where other runs cannot be kept away.
Result<TakenReadings> take_in(const std::string& file, const std::vector<AnyReading>& readings, const HowToTake& how,
                              const Context& context);
// The same of answers; what could not be added is told with the call to go on by.
Result<TakenReadings> take_answers(const std::string& file, const Cells& cells, const HowToTake& how,
                                   const Context& context, const ResinRecord& record);

}  // namespace hairline::cli
