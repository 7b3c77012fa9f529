#include "names.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "../base/ascii.hpp"
#include "hairline/files.hpp"

namespace hairline::archive {
namespace {

constexpr std::uint64_t most_number = 999'999'999'999;

// An entry's number and the text around it.
struct Numbered {
  Entry entry;
  std::uint64_t number = 0;
  std::size_t begin = 0, end = 0;  // where the digits are in the name
};

Error mismatch(const Numbering& numbering, std::optional<std::uint32_t> layer, std::string found, std::string expected,
               std::string advice) {
  return {ErrorKind::mismatch, numbering.file, std::move(found), std::move(expected), std::move(advice), layer};
}

// What all names share at their beginning, cut back so that it does not end in a digit.
std::size_t shared_beginning(const std::vector<Entry>& entries) {
  std::size_t length = entries.front().name.size();
  for (const Entry& entry : entries) {
    const auto pair = std::mismatch(entry.name.begin(), entry.name.end(), entries.front().name.begin(),
                                    entries.front().name.begin() + static_cast<std::ptrdiff_t>(length));
    length = static_cast<std::size_t>(pair.second - entries.front().name.begin());
  }
  while (length > 0 && is_digit(entries.front().name[length - 1])) --length;
  return length;
}

std::size_t shared_ending(const std::vector<Entry>& entries) {
  const std::string& first = entries.front().name;
  std::size_t length = first.size();
  for (const Entry& entry : entries) {
    std::size_t same = 0;
    while (same < length && same < entry.name.size() &&
           entry.name[entry.name.size() - 1 - same] == first[first.size() - 1 - same])
      ++same;
    length = same;
  }
  while (length > 0 && is_digit(first[first.size() - length])) --length;
  return length;
}

// The digits of a lone name: the last group before `after`.
void shrink_to_digits(Numbered& one) {
  const std::string& name = one.entry.name;
  while (one.end > one.begin && !is_digit(name[one.end - 1])) --one.end;
  std::size_t begin = one.end;
  while (begin > one.begin && is_digit(name[begin - 1])) --begin;
  one.begin = begin;
}

Result<void> read_number(Numbered& one, const Numbering& numbering) {
  const std::string digits = one.entry.name.substr(one.begin, one.end - one.begin);
  const bool good = !digits.empty() && std::all_of(digits.begin(), digits.end(), is_digit);
  if (good) {
    for (const char c : digits)
      if (one.number <= most_number) one.number = one.number * 10 + static_cast<std::uint64_t>(c - '0');
    if (one.number <= most_number) return {};
  }
  return tl::unexpected(
      mismatch(numbering, {}, fmt::format("the file \"{}\" does not fit the numbering of the layers", one.entry.name),
               "names that differ in their number only",
               numbering.any_first
                   ? "Name the masks with --set masks.files=NAMES, or take files that are no layers out of the archive."
                   : "Take files that are no layers out of the archive, or narrow \"layers.files\" in the manifest."));
}

Result<std::vector<Numbered>> read_numbers(const std::vector<Entry>& entries, const Pattern& pattern,
                                           const Numbering& numbering) {
  const std::size_t beginning = std::max(pattern.before.size(), entries.size() > 1 ? shared_beginning(entries) : 0);
  const std::size_t ending = std::max(pattern.after.size(), entries.size() > 1 ? shared_ending(entries) : 0);
  std::vector<Numbered> list;
  list.reserve(entries.size());
  for (const Entry& entry : entries) {
    Numbered one{entry, 0, std::min(beginning, entry.name.size()), 0};
    one.end = std::max(one.begin, entry.name.size() - std::min(ending, entry.name.size()));
    if (entries.size() == 1) shrink_to_digits(one);
    if (auto read = read_number(one, numbering); !read) return tl::unexpected(std::move(read.error()));
    list.push_back(std::move(one));
  }
  return list;
}

// The name a missing file would have, written like its neighbour.
std::string name_like(const Numbered& neighbour, std::uint64_t number) {
  const std::string& name = neighbour.entry.name;
  const bool padded = neighbour.end - neighbour.begin > 1 && name[neighbour.begin] == '0';
  return fmt::format("{}{:0{}}{}", name.substr(0, neighbour.begin), number,
                     padded ? neighbour.end - neighbour.begin : std::size_t{1}, name.substr(neighbour.end));
}

Error missing(const Numbering& numbering, std::uint64_t layer, const std::string& name) {
  const std::vector<std::string>& others = numbering.other_size;
  if (std::find(others.begin(), others.end(), name) != others.end())
    return mismatch(numbering, static_cast<std::uint32_t>(layer),
                    fmt::format("\"{}\" has another size in pixels than the other masks", name), "masks of one size",
                    "Export the job again, so that all its layers are of one printer.");
  return mismatch(numbering, static_cast<std::uint32_t>(layer),
                  fmt::format("the layer is missing, there is no \"{}\"", name), "layers numbered without a hole",
                  "Export the job again, so that every layer is in it.");
}

// By how much the numbers go up, where that is always the same: names by height, or a job of which most was left out.
std::uint64_t even_step(const std::vector<Numbered>& list) {
  const std::uint64_t step = list.size() < 3 ? 1 : list[1].number - list[0].number;
  for (std::size_t i = 1; i < list.size(); ++i)
    if (list[i].number - list[i - 1].number != step) return 1;
  return step;
}

Result<void> check_run(const std::vector<Numbered>& list, const Numbering& numbering) {
  // Of a layer archive the missing layer is named, as of any other hole.
  if (const std::uint64_t step = even_step(list); step > 1 && numbering.any_first)
    return tl::unexpected(mismatch(numbering, {},
                                   fmt::format("the numbers of the layers go up in steps of {}: \"{}\", \"{}\"", step,
                                               list[0].entry.name, list[1].entry.name),
                                   "layers numbered without a hole",
                                   "Where no layer is left out, number the files anew, one by one in their order."));
  const std::uint64_t first =
      numbering.any_first ? list.front().number : std::min<std::uint64_t>(list.front().number, 1);
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Numbered& one = list[i];
    const std::uint64_t wanted = first + i;
    const auto layer = static_cast<std::uint32_t>(i + 1);
    if (one.number > wanted) return tl::unexpected(missing(numbering, layer, name_like(one, wanted)));
    if (one.number < wanted)
      return tl::unexpected(mismatch(
          numbering, layer - 1,
          fmt::format("there are two files for the layer, \"{}\" and \"{}\"", list[i - 1].entry.name, one.entry.name),
          "one file for each layer", "Remove the one that does not belong to the job."));
  }
  return {};
}

Result<void> check_count(const std::vector<Numbered>& list, const Numbering& numbering) {
  const std::size_t found = list.size();
  if (numbering.count == 0 || found == numbering.count) return {};
  if (found < numbering.count)
    return tl::unexpected(mismatch(
        numbering, static_cast<std::uint32_t>(found + 1),
        fmt::format("the layer is missing, there is no \"{}\" and the archive holds {} layers",
                    name_like(list.back(), list.back().number + 1), found),
        fmt::format("{} layers, as {} says", numbering.count, numbering.any_first ? "layers.count" : "the manifest"),
        "Export the job again, so that every layer is in it."));
  return tl::unexpected(mismatch(
      numbering, numbering.count + 1,
      fmt::format("\"{}\" is one layer too many, the archive holds {} layers", list[numbering.count].entry.name, found),
      fmt::format("{} layers, as {} says", numbering.count, numbering.any_first ? "layers.count" : "the manifest"),
      numbering.any_first ? "Remove it, or correct \"layers.count\" where it is given."
                          : "Remove it, or correct \"layers.count\" in the manifest."));
}

}  // namespace

bool stays_inside(std::string_view name) {
  if (name.empty() || name.front() == '/') return false;
  if (name.size() >= 2 && name[1] == ':') return false;  // a drive letter
  for (const char c : name)
    if (c == '\\' || static_cast<unsigned char>(c) < 0x20 || c == 0x7F) return false;
  const std::vector<std::string> parts = cut_at(name, '/');
  return std::find(parts.begin(), parts.end(), "..") == parts.end();
}

bool is_pattern(std::string_view text) {
  return std::count(text.begin(), text.end(), '*') == 1 && stays_inside(text) && text.back() != '/';
}

Pattern to_pattern(std::string_view text) {
  if (text.starts_with("./")) text.remove_prefix(2);
  const std::size_t star = text.find('*');
  return {std::string(text.substr(0, star)), std::string(text.substr(star + 1))};
}

std::string text_of(const Pattern& pattern) {
  return pattern.before + "*" + pattern.after;
}

bool matches(const Pattern& pattern, std::string_view name) {
  if (name.size() < pattern.before.size() + pattern.after.size()) return false;
  if (!name.starts_with(pattern.before) || !name.ends_with(pattern.after)) return false;
  name.remove_prefix(pattern.before.size());
  name.remove_suffix(pattern.after.size());
  return name.find('/') == std::string_view::npos;
}

std::string layer_name(const Pattern& pattern, std::uint32_t number) {
  return fmt::format("{}{:05}{}", pattern.before, number, pattern.after);
}

Result<void> put_in_order(std::vector<Entry>& entries, const Pattern& pattern, const Numbering& numbering) {
  if (entries.empty())
    return tl::unexpected(
        mismatch(numbering, {}, fmt::format("the archive holds no layer, no file fits \"{}\"", text_of(pattern)),
                 "at least one layer", "Export the job again, or correct \"layers.files\" in the manifest."));
  auto list = read_numbers(entries, pattern, numbering);
  if (!list) return tl::unexpected(std::move(list.error()));
  std::sort(list->begin(), list->end(), [](const Numbered& a, const Numbered& b) {
    return a.number != b.number ? a.number < b.number : natural_less(a.entry.name, b.entry.name);
  });
  if (auto run = check_run(*list, numbering); !run) return run;
  if (auto count = check_count(*list, numbering); !count) return count;
  std::transform(list->begin(), list->end(), entries.begin(), [](Numbered& one) { return std::move(one.entry); });
  return {};
}

}  // namespace hairline::archive
