// The records of a folder as a table.
#include <fmt/format.h>

#include <filesystem>

#include "hairline/say_record.hpp"
#include "wording.hpp"
#include "words.hpp"

namespace hairline {
namespace {

std::string age_text(const ResinRecord& record, const std::string& today) {
  const auto age = age_days(record, today);
  if (!age) return "-";
  return *age < 0 ? "in future" : count_text(static_cast<std::uint64_t>(*age), "day", "days");
}

std::string labels_text(const ResinRecord& record) {
  std::string text = record.resin.label.empty() ? "resin not named" : record.resin.label;
  if (!record.printer.label.empty()) text += ", " + record.printer.label;
  return text;
}

TableRow say_row(const FoundRecord& found, const LastUses& uses, const std::string& today) {
  const std::string file = std::filesystem::path(found.file).filename().string();
  if (found.problem)
    return {{"-", "-", "BROKEN", "-", file}, Tone::bad, {{to_paragraph(*found.problem), Tone::plain, 4}}};
  const ResinRecord& record = found.record;
  const auto use = time_to_use(record);
  const bool weak = !weakness(record).empty();
  const std::string used = last_use(uses, found.file);
  return {{age_text(record, today), use ? exposure_text(use->exposure_s) : "-",
           !record.fit ? "no fit"
           : weak      ? "weak"
                       : "sound",
           used.empty() ? "-" : used, fmt::format("{} ({})", labels_text(record), file)},
          record.fit && !weak ? Tone::good : Tone::doubtful};
}

}  // namespace

Document say_records(const std::string& folder, const std::vector<FoundRecord>& found, const LastUses& uses,
                     const std::string& today) {
  if (found.empty())
    return {Paragraph{fmt::format("There is no resin record in {}; `hairline record new` makes one.", folder)}};
  Table table{{{"age", TableColumn::Kind::number, 9},
               {"time to use", TableColumn::Kind::number, 13},
               {"fit", TableColumn::Kind::text, 6, 3},
               {"last used", TableColumn::Kind::text, 10, 2},
               {"resin, printer (file)", TableColumn::Kind::prose, 0, 2}}};
  for (const FoundRecord& one : found) table.rows.push_back(say_row(one, uses, today));
  return {table};
}

}  // namespace hairline
