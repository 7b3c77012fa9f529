#include "describe_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

constexpr std::size_t most_unused = 8;

const char* word_for(const DraftSetting& one) {
  static constexpr const char* words[] = {"sure", "likely", "unsure"};
  return one.source.from == SettingSource::From::ask ? "ask" : words[static_cast<std::size_t>(one.sureness)];
}

std::string head(const std::string& text, std::size_t columns) {
  return text.size() <= columns ? text : text.substr(0, columns - 3) + "...";
}
// Keys differ at their ends.
std::string tail(const std::string& text, std::size_t columns) {
  return text.size() <= columns ? text : fmt::format("...{}", text.substr(text.size() - (columns - 3)));
}

std::string value_of(const DraftSetting& one) {
  if (one.source.from == SettingSource::From::ask) return "?";
  const SettingField* field = find_setting_field(one.source.path);
  return *field->unit ? one.value + " " + field->unit : one.value;
}

std::string origin_of(const DraftSetting& one) {
  if (one.source.from == SettingSource::From::entry) return one.source.entry + " " + one.source.key;
  return one.source.from == SettingSource::From::ask ? "nothing says it" : "fixed";
}

std::string row(const DraftSetting& one, const Console& console) {
  const std::size_t room = std::max<std::size_t>(console.columns, 70) - 53;
  return fmt::format("  {:<26} {:<14} {:<{}} {}\n", one.source.path, head(visible(value_of(one)), 14),
                     tail(visible(origin_of(one)), room), room, word_for(one));
}

// Why a line is not sure, with what stands in the archive.
std::string reason(const DraftSetting& one) {
  const std::string found = one.found.empty() ? "" : fmt::format("\"{}\"; ", one.found);
  return fmt::format("{}: {}{}.", one.source.path, found, one.why);
}

std::string masks_text(const Draft& draft, const std::string& archive) {
  const DraftMasks& masks = draft.masks;
  std::string out = fmt::format("{}: {} masks \"{}\" of {} x {} pixels", archive, masks.count, masks.files,
                                masks.size.width_px, masks.size.height_px);
  if (masks.left_out.empty()) return out + ".";
  out += "; no masks: \"" + masks.left_out.front() + "\"";
  if (masks.left_out.size() > 1) out += fmt::format(" and {} more pictures", masks.left_out.size() - 1);
  return out + ".";
}

std::string unused_text(const Draft& draft, const Console& console) {
  std::string out;
  for (std::size_t i = 0; i < draft.unused.size() && i < most_unused; ++i) {
    const UnusedNumber& one = draft.unused[i];
    out += in_lines(fmt::format("  {} {} = {} ({})", one.entry, one.key, one.found, one.why), 4, console);
  }
  if (draft.unused.size() > most_unused) out += fmt::format("  and {} more\n", draft.unused.size() - most_unused);
  return out.empty() ? out : "\nNumbers not used:\n" + out;
}

std::string time_text(double s) {
  const auto minutes = static_cast<long>(std::lround(s / 60));
  if (minutes < 1) return fmt::format("{:.0f} s", s);
  return minutes < 60 ? fmt::format("{} min", minutes) : fmt::format("{} h {:02} min", minutes / 60, minutes % 60);
}

}  // namespace

bool asks_invert(const Draft& draft) {
  const auto says = [](const DraftSetting& one) { return one.source.path == "masks.invert"; };
  return draft.masks.inverted && !draft.description.invert &&
         std::none_of(draft.settings.begin(), draft.settings.end(), says);
}

std::string in_lines(const std::string& text, std::size_t indent, const Console& console) {
  const std::size_t columns = std::clamp<std::size_t>(console.columns, 60, 110);
  std::string out, line;
  std::string rest = visible(text);
  while (rest.size() > columns) {
    std::size_t cut = rest.rfind(' ', columns);
    if (cut == std::string::npos || cut <= indent) cut = columns;
    out += rest.substr(0, cut) + "\n";
    rest = fmt::format("{:{}}{}", "", indent, rest.substr(rest[cut] == ' ' ? cut + 1 : cut));
  }
  return out + rest + "\n";
}

std::string draft_text(const Draft& draft, const std::string& archive, const Console& console) {
  std::string out = in_lines(masks_text(draft, archive), 2, console) + "\n", reasons;
  for (const DraftSetting& one : draft.settings) {
    out += row(one, console);
    if (one.sureness != Sureness::sure && one.source.from != SettingSource::From::ask)
      reasons += in_lines("  " + reason(one), 4, console);
  }
  if (!reasons.empty()) out += "\nNot quite sure:\n" + reasons;
  out += unused_text(draft, console);
  std::string notes;
  for (const std::string& note : draft.notes) notes += in_lines("  " + note, 4, console);
  if (asks_invert(draft))
    notes += in_lines("  Most of the masks' border is white: whether white is where no light falls has to be said.", 4,
                      console);
  return notes.empty() ? out : out + "\nTo know:\n" + notes;
}

std::string trial_text(const Result<Archive>& tried, const Console& console) {
  if (!tried) {
    const Error& error = tried.error();
    const std::string why = error.command.empty() ? to_paragraph(error) : fmt::format("{}.", error.found);
    return fmt::format("\n{}", in_lines(fmt::format("Tried with this draft: {}", why), 2, console));
  }
  const JobSettings& job = tried->settings();
  const auto layers = printed_layers(job, job.normal_s);
  double height_mm = 0;
  for (const PrintedLayer& layer : layers) height_mm += layer.height_mm;
  const std::string base = job.base_s ? fmt::format("{} s on {} base layers", *job.base_s, job.base_layers)
                                      : std::string("no base exposure stated");
  return "\nTried with this draft:\n" +
         in_lines(fmt::format("  {} layers of {} mm: {:.2f} mm high", job.layer_count, job.height_mm, height_mm), 4,
                  console) +
         in_lines(fmt::format("  masks of {} x {} pixels: {:.2f} x {:.2f} mm", job.size.width_px, job.size.height_px,
                              job.size.width_px * job.pitch.x_mm, job.size.height_px * job.pitch.y_mm),
                  4, console) +
         in_lines(fmt::format("  exposure {} s, {}: {} in all", job.normal_s, base, time_text(duration_s(job, layers))),
                  4, console);
}

}  // namespace hairline::cli
