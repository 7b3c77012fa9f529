#include "questions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "../base/ascii.hpp"
#include "hairline/files.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"

namespace hairline::cli {

Result<std::optional<std::string>> ask(const std::string& question,
                                       const std::function<std::string(const std::string& answer)>& misfit,
                                       const Progress& progress) {
  for (;;) {
    if (auto printed = print(question + ": "); !printed) return tl::unexpected(printed.error());
    auto answer = read_line(progress);
    if (!answer) return std::optional<std::string>();
    *answer = std::string(trimmed(*answer));
    const std::string wrong = misfit(*answer);
    if (wrong.empty()) return answer;
    std::istringstream lines(wrong);
    for (std::string line; std::getline(lines, line);)
      if (auto printed = print("  " + visible(line) + "\n"); !printed) return tl::unexpected(printed.error());
  }
}

namespace {

// Answers as options, for another try.
std::string as_call(const std::string& file, const Cells& cells) {
  std::string call = "hairline record read " + shell_word(file);
  for (const FieldRule& rule : reading_rules()) {
    const auto cell = cells.find(rule.key);
    if (cell == cells.end() || !*rule.option) continue;
    std::string value = cell->second;
    if (rule.holds == Holds::number) std::replace(value.begin(), value.end(), ',', '.');
    call += fmt::format(" {} {}", rule.option, shell_word(value));
  }
  return call;
}

constexpr const char* go_back = "<";

}  // namespace

Result<CouponAnswers> ask_coupon(const ResinRecord& record, const Cells& known, const Context& context) {
  CouponAnswers answers{known};
  std::vector<FieldRule> open = asked_rules();
  std::erase_if(open, [&](const FieldRule& rule) { return known.count(rule.key) > 0; });
  for (std::size_t i = 0; i < open.size(); ++i) {
    const FieldRule& rule = open[i];
    const auto wrong = [&](const std::string& text) {
      return text == go_back ? std::string() : answer_misfit(rule, text, record);
    };
    const auto answer = ask(fmt::format("{}  {}", rule.letter, rule.question), wrong, context.progress);
    if (!answer) return tl::unexpected(answer.error());
    if (*answer == go_back) {
      i -= i > 0 ? 1 : 0;
      answers.cells.erase(open[i].key);
      --i;  // to be asked again
      continue;
    }
    answers.ended = !*answer || (rule.required && rule.role == Role::print && (*answer)->empty());
    if (answers.ended) break;
    if (!(*answer)->empty()) answers.cells[rule.key] = **answer;
  }
  return answers;
}

Result<TakenReadings> take_in(const std::string& file, const std::vector<AnyReading>& readings, const HowToTake& how,
                              const Context& context) {
  auto taken = take_readings(file, readings, date_or_today(how.today), how.replace ? IfThere::replace : IfThere::keep,
                             &context.progress);
  if (taken) tell_unguarded(file, taken->edited);
  return taken;
}

Result<TakenReadings> take_answers(const std::string& file, const Cells& cells, const HowToTake& how,
                                   const Context& context, const ResinRecord& record) {
  const auto readings = readings_from_options(cells, record.layer_height_mm);
  auto taken = readings ? take_in(file, *readings, how, context) : tl::unexpected(readings.error());
  if (!taken)
    complain(fmt::format("what you answered could not be added: {} To go on with it, type: {}",
                         to_paragraph(taken.error()), as_call(file, cells)));
  return taken;
}

}  // namespace hairline::cli
