#include "hairline/say_draft.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "words.hpp"

namespace hairline {
namespace {

using From = SettingSource::From;

constexpr std::size_t most_unused = 8;

Tone tone_of(const DraftSetting& one) {
  if (one.source.from == From::ask) return Tone::bad;
  return one.sureness == Sureness::unsure ? Tone::doubtful : Tone::plain;
}

std::string value_of(const DraftSetting& one) {
  if (one.source.from == From::ask) return "?";
  const SettingField* field = find_setting_field(one.source.path);
  return *field->unit ? one.value + " " + field->unit : one.value;
}

std::string origin_of(const DraftSetting& one) {
  if (one.source.from == From::entry) return one.source.entry + " " + one.source.key;
  return one.source.from == From::ask ? "nothing says it" : "fixed";
}

std::string masks_text(const Draft& draft, const std::string& archive) {
  const DraftMasks& masks = draft.masks;
  std::string out = fmt::format("{}: {} \"{}\" of {} x {} pixels", archive, count_text(masks.count, "mask", "masks"),
                                masks.files, masks.size.width_px, masks.size.height_px);
  if (masks.left_out.empty()) return out + ".";
  out += "; no masks: \"" + masks.left_out.front() + "\"";
  if (masks.left_out.size() > 1) out += fmt::format(" and {} more pictures", masks.left_out.size() - 1);
  return out + ".";
}

// A part with a title, where there is anything in it.
void add_part(Document& said, const char* title, const std::vector<std::string>& texts) {
  if (texts.empty()) return;
  said.push_back(Heading{title});
  for (const std::string& text : texts) said.push_back(Item{"", text, Tone::plain, Tone::plain, 0, UINT32_MAX, 2, 0});
}

std::vector<std::string> doubts_of(const Draft& draft) {
  std::vector<std::string> out;
  for (const DraftSetting& one : draft.settings) {
    if (one.sureness == Sureness::sure || one.source.from == From::ask) continue;
    const std::string found = one.found.empty() ? "" : fmt::format("\"{}\"; ", one.found);
    out.push_back(fmt::format("{}: {}{}.", one.source.path, found, one.why));
  }
  return out;
}

std::vector<std::string> unused_of(const Draft& draft) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < std::min(draft.unused.size(), most_unused); ++i) {
    const UnusedNumber& one = draft.unused[i];
    out.push_back(fmt::format("{} {} = {} ({})", one.entry, one.key, one.found, one.why));
  }
  if (draft.unused.size() > most_unused) out.push_back(fmt::format("and {} more", draft.unused.size() - most_unused));
  return out;
}

}  // namespace

const char* sureness_word(const DraftSetting& setting) {
  static constexpr const char* words[] = {"sure", "likely", "unsure"};  // as in Sureness
  return setting.source.from == From::ask ? "ask" : words[static_cast<std::size_t>(setting.sureness)];
}

Document say_draft(const Draft& draft, const std::string& archive) {
  Table table{{{"setting", TableColumn::Kind::text, 26},
               {"value", TableColumn::Kind::text, 14, 1},
               {"how sure", TableColumn::Kind::text, 9, 1},
               {"from", TableColumn::Kind::prose, 0, 1}}};
  for (const DraftSetting& one : draft.settings)
    table.rows.push_back({{one.source.path, value_of(one), sureness_word(one), origin_of(one)}, tone_of(one)});
  Document said = {Paragraph{masks_text(draft, archive)}, Heading{}, table};
  add_part(said, "Not quite sure", doubts_of(draft));
  add_part(said, "Numbers not used", unused_of(draft));
  std::vector<std::string> notes = draft.notes;
  if (asks_invert(draft))
    notes.emplace_back("Most of the masks' border is white: whether white is where no light falls has to be said.");
  add_part(said, "To know", notes);
  return said;
}

Document say_trial(const Result<Archive>& tried) {
  if (!tried) {
    const Error& error = tried.error();
    const std::string why = error.command.empty() ? to_paragraph(error) : error.found + ".";
    return {Heading{}, Paragraph{"Tried with this draft: " + why, Tone::doubtful}};
  }
  const JobSettings& job = tried->settings();
  const auto layers = printed_layers(job, job.normal_s);
  const std::string base = job.base_s ? fmt::format("{} s on {}", number_text(*job.base_s),
                                                    count_text(job.base_layers, "base layer", "base layers"))
                                      : std::string("no base exposure stated");
  Document said;
  add_part(
      said, "Tried with this draft",
      {fmt::format("{} layers of {} mm: {} mm tall", job.layer_count, job.height_mm, mm_text(layers.back().top_mm())),
       fmt::format("masks of {} x {} pixels: {} x {} mm", job.size.width_px, job.size.height_px,
                   mm_text(job.size.width_px * job.pitch.x_mm), mm_text(job.size.height_px * job.pitch.y_mm)),
       fmt::format("exposure {} s, {}: {} in all", number_text(job.normal_s), base,
                   duration_text(duration_s(job, layers)))});
  return said;
}

Document say_next_calls(const std::string& keep, const std::string& check, bool own_numbers) {
  const std::string words = fmt::format(
      "{}{}:",
      keep.empty() ? "This archive and all of its kind are now checked by"
                   : "Nothing was written. To keep this draft, and to check this archive and all of its kind",
      own_numbers ? ", with your own numbers" : "");
  Table calls{{{"", TableColumn::Kind::text, 0, 4}}};
  if (!keep.empty()) calls.rows.push_back({{keep}});
  calls.rows.push_back({{check}});
  return {Heading{}, Paragraph{words}, calls};
}

}  // namespace hairline
