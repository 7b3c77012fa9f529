#include "families.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <map>
#include <set>
#include <tuple>

#include "../base/ascii.hpp"
#include "png_chunks.hpp"

namespace hairline::archive {
namespace {

// Files and folders that begin with a full stop or two low lines are what systems leave beside a person's own.
bool is_hidden(const std::string& name) {
  for (std::size_t at = 0; at < name.size();
       at = name.find('/', at), at = at == std::string::npos ? name.size() : at + 1)
    if (name[at] == '.' || name.compare(at, 2, "__") == 0) return true;
  return false;
}

// Calls see(pattern) for the last numbers of a name, with that number as the star. A pattern is as long as the name,
// which may hold any number of numbers.
template <class See>
void each_pattern(const std::string& name, See see) {
  constexpr int most_numbers = 8;
  std::size_t end = name.size();
  for (int seen = 0; end > 0 && seen < most_numbers;) {
    std::size_t at = end;
    while (at > 0 && is_digit(name[at - 1])) --at;
    if (at < end) see(Pattern{name.substr(0, at), name.substr(end)}), ++seen;
    end = at < end ? at : end - 1;
  }
}

struct Seen {
  const Entry* entry;
  std::optional<Picture> picture;
};

using Key = std::pair<std::string, std::string>;  // a pattern's two sides

// Of the pictures with one pattern those of the size that most of them have; what cannot be read stays with them, so
// that it is told as a broken layer.
std::vector<const Seen*> of_one_size(const std::vector<const Seen*>& all, std::optional<Picture>& common) {
  std::map<std::tuple<std::uint32_t, std::uint32_t>, std::size_t> count;
  for (const Seen* one : all)
    if (one->picture) ++count[{one->picture->size.width_px, one->picture->size.height_px}];
  std::size_t most = 0;
  for (const auto& [size, times] : count)
    if (times >= most) most = times, common = Picture{{std::get<0>(size), std::get<1>(size)}, false, false};
  std::vector<const Seen*> out;
  for (const Seen* one : all) {
    if (one->picture && one->picture->size != common->size) continue;
    if (one->picture && common) common->colour = common->colour || one->picture->colour;
    out.push_back(one);
  }
  return out;
}

struct Candidate {
  Pattern pattern;
  std::vector<const Seen*> masks;
  std::optional<Picture> picture;
  std::optional<Pattern> rival;
  std::uint64_t pixels() const { return picture ? std::uint64_t{picture->size.width_px} * picture->size.height_px : 0; }
};

std::optional<Candidate> largest(const std::vector<Seen>& pictures) {
  std::map<Key, std::vector<const Seen*>> groups;
  for (const Seen& one : pictures)
    each_pattern(one.entry->name, [&](const Pattern& pattern) {
      groups[{pattern.before, pattern.after}].push_back(&one);
    });
  std::optional<Candidate> best;
  for (const auto& [key, members] : groups) {
    Candidate one{{key.first, key.second}, {}, {}, {}};
    one.masks = of_one_size(members, one.picture);
    if (!one.picture) continue;
    const auto rank = [](const Candidate& of) { return std::tuple{of.masks.size(), of.pixels()}; };
    if (!best || rank(one) > rank(*best))
      best = std::move(one);
    else if (rank(one) == rank(*best) && one.masks != best->masks)  // the same pictures may differ in two numbers
      best->rival = one.pattern;
  }
  return best;
}

// Numbered pictures of the masks' size and like names in another folder: more of its layers, or another job's.
std::optional<Pattern> like_elsewhere(const Candidate& chosen, const std::vector<Seen>& pictures) {
  const auto behind_folder = [](const std::string& name) { return name.rfind('/') + 1; };  // 0 where there is none
  const std::string begin = chosen.pattern.before.substr(behind_folder(chosen.pattern.before));
  for (const Seen& one : pictures) {
    const std::string& name = one.entry->name;
    const Pattern like{name.substr(0, behind_folder(name)) + begin, chosen.pattern.after};
    if (!one.picture || one.picture->size != chosen.picture->size || !matches(like, name)) continue;
    const auto digits_end = name.end() - static_cast<std::ptrdiff_t>(like.after.size());
    if (like.before != chosen.pattern.before &&
        std::all_of(name.begin() + static_cast<std::ptrdiff_t>(like.before.size()), digits_end, is_digit))
      return like;
  }
  return std::nullopt;
}

}  // namespace

bool ends_in_png(const std::string& name) {
  if (name.size() < 4) return false;
  return small_letters(std::string_view(name).substr(name.size() - 4)) == ".png";
}

std::optional<Picture> picture_of(std::span<const std::byte> head) {
  constexpr std::array<std::uint8_t, 16> begin{0x89, 'P', 'N', 'G', 13, 10, 26, 10, 0, 0, 0, 13, 'I', 'H', 'D', 'R'};
  if (head.size() < picture_head_bytes || std::memcmp(head.data(), begin.data(), begin.size()) != 0) return {};
  const auto* at = reinterpret_cast<const std::uint8_t*>(head.data());
  return Picture{{png::read_u32(at + 16), png::read_u32(at + 20)}, at[25] != 0 && at[25] != 4, (at[25] & 4) != 0};
}

Result<Family> find_family(const Store& store, const std::vector<Entry>& entries,
                           const std::optional<Pattern>& pattern) {
  std::vector<Seen> pictures;
  std::vector<std::byte> head;
  for (const Entry& entry : entries) {
    if (entry.folder || is_hidden(entry.name) ||
        !(ends_in_png(entry.name) || (pattern && matches(*pattern, entry.name))))
      continue;
    if (auto read = store.head(entry, picture_head_bytes, head); !read) return tl::unexpected(std::move(read.error()));
    pictures.push_back({&entry, picture_of(head)});
  }
  std::optional<Candidate> chosen;
  if (pattern) {
    std::vector<const Seen*> fitting;
    for (const Seen& one : pictures)
      if (matches(*pattern, one.entry->name)) fitting.push_back(&one);
    chosen = Candidate{*pattern, {}, {}, {}};
    chosen->masks = of_one_size(fitting, chosen->picture);
  } else {
    chosen = largest(pictures);
    if (chosen && !chosen->rival) chosen->rival = like_elsewhere(*chosen, pictures);
  }
  Family out;
  if (chosen) {
    out.pattern = chosen->pattern;
    out.picture = chosen->picture;
    out.rival = chosen->rival;
    for (const Seen* one : chosen->masks) out.masks.push_back(*one->entry);
  }
  for (const Seen& one : pictures)
    if (!chosen || !std::binary_search(chosen->masks.begin(), chosen->masks.end(), &one))  // both in the order of files
      out.left_out.push_back(one.entry->name);
  std::sort(out.left_out.begin(), out.left_out.end());
  out.no_png = static_cast<std::size_t>(
      std::count_if(pictures.begin(), pictures.end(), [](const Seen& one) { return !one.picture; }));
  return out;
}

Result<std::vector<std::string>> strays_of(const Store& store, Size size, std::vector<Entry>& layers) {
  std::map<Key, std::size_t> count;
  for (const Entry& entry : layers)
    each_pattern(entry.name, [&](const Pattern& pattern) { ++count[{pattern.before, pattern.after}]; });
  const auto most =
      std::max_element(count.begin(), count.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
  std::vector<std::string> out;
  std::vector<Entry> stay;
  std::vector<std::byte> head;
  for (Entry& entry : layers) {
    bool like_most = most == count.end() || entry.folder;
    each_pattern(entry.name, [&](const Pattern& pattern) {
      like_most = like_most || Key{pattern.before, pattern.after} == most->first;
    });
    if (!like_most) {
      if (auto read = store.head(entry, picture_head_bytes, head); !read)
        return tl::unexpected(std::move(read.error()));
      if (const auto picture = picture_of(head); picture && picture->size != size) {
        out.push_back(entry.name);
        continue;
      }
    }
    stay.push_back(std::move(entry));
  }
  layers = std::move(stay);
  std::set<std::string> known(out.begin(), out.end());
  for (const Entry& entry : layers) known.insert(entry.name);
  if (const auto all = store.all())
    for (const Entry& entry : *all)
      if (!entry.folder && ends_in_png(entry.name) && !is_hidden(entry.name) && !known.contains(entry.name))
        out.push_back(entry.name);
  return out;
}

std::string left_out_text(const std::vector<std::string>& names) {
  const std::size_t others = names.size() - 1;
  return fmt::format("Not used, for they are no layers: \"{}\"{}.", names.front(),
                     others == 0   ? ""
                     : others == 1 ? fmt::format(" and \"{}\"", names[1])
                                   : fmt::format(" and {} other pictures", others));
}

}  // namespace hairline::archive
