// Drafts of descriptions: archives of invented programs, in many wordings, against the settings they were made with.
#include "hairline/describe.hpp"

#include <cmath>
#include <cstdio>
#include <cstdlib>

#include "hairline/layer.hpp"
#include "invented.hpp"

using namespace archive_test;

namespace {

/// Layer n of the stack that all of them hold.
Pixels mask_of(std::uint32_t n) {
  Pixels pixels = some_mask(invented_size, n);
  for (std::uint32_t x = 0; x < invented_size.width_px; ++x)  // a dark border, as on any plate
    pixels[x] = pixels[pixels.size() - 1 - x] = 0;
  for (std::uint32_t y = 0; y < invented_size.height_px; ++y)
    pixels[y * invented_size.width_px] = pixels[(y + 1) * invented_size.width_px - 1] = 0;
  return pixels;
}

std::string numbered(const std::string& pattern, std::uint32_t n) {
  const std::size_t at = pattern.find_first_of("0123456789"), end = pattern.find_first_not_of("0123456789", at);
  const std::string first = pattern.substr(at, end - at);
  std::string digits = std::to_string(static_cast<std::uint32_t>(std::stoul(first)) + n - 1);
  if (first.size() > digits.size()) digits.insert(0, first.size() - digits.size(), '0');
  return pattern.substr(0, at) + digits + pattern.substr(end);
}

std::vector<File> files_of(const Invented& one) {
  std::vector<File> out = one.texts;
  if (one.previews) {
    out.push_back({"preview.png", png_text(encode(some_mask({80, 60}, 900), {80, 60}))});
    out.push_back({"thumb/2.png", png_text(encode(some_mask({40, 30}, 901), {40, 30}))});
  }
  for (std::uint32_t n = invented_layers; n >= 1; --n)  // not in order
    out.push_back({numbered(one.masks, n), png_text(encode(mask_of(n), invented_size))});
  return out;
}

bool near(double a, double b) {
  return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

const DraftSetting* setting(const Draft& draft, const std::string& path) {
  for (const DraftSetting& one : draft.settings)
    if (one.source.path == path) return &one;
  return nullptr;
}

std::string listed(const Draft& draft) {
  std::string out;
  for (const DraftSetting& one : draft.settings)
    out += one.source.path + " = " + one.value + " [" + one.found + " " + one.unit + "] " + one.source.entry + " " +
           one.source.key + " (" + std::to_string(static_cast<int>(one.sureness)) + ") " + one.why + "\n";
  for (const UnusedNumber& one : draft.unused) out += "unused " + one.key + " = " + one.found + " " + one.why + "\n";
  for (const std::string& note : draft.notes) out += note + "\n";
  return out;
}

/// How many of the stated settings a draft has right; what it has wrong, as text.
std::size_t right_in(const Draft& draft, const Invented& one, std::string& wrong) {
  std::size_t right = 0;
  for (const auto& [path, expected] : one.there) {
    const DraftSetting* found = setting(draft, path);
    const auto number = found != nullptr ? leading_number(found->value) : std::nullopt;
    if (number && near(*number, expected))
      ++right;
    else
      wrong += one.name + ": " + path + " is " + (found != nullptr ? found->value : "not there") + "\n";
  }
  return right;
}

/// What a person answers where a draft asks.
void answer_all(Draft& draft, const Invented& one) {
  const std::vector<DraftSetting> settings = draft.settings;
  for (const DraftSetting& asked : settings) {
    if (asked.source.from != SettingSource::From::ask) continue;
    const auto known = one.there.find(asked.source.path);
    REQUIRE(known != one.there.end());
    REQUIRE(answer(draft, {asked.source.path, std::to_string(known->second)}));
  }
}

}  // namespace

TEST_CASE("drafts of invented archives are right in masks and in at least four settings of five") {
  std::size_t right = 0, there = 0;
  std::string wrong;
  for (const Invented& one : all_invented()) {
    for (const bool zip : {true, false}) {
      const TempFolder folder;
      const fs::path path = folder.path / (zip ? "own.zip" : "own");
      zip ? write_zip(path, files_of(one)) : write_folder(path, files_of(one));
      const auto draft = draft_description(path);
      INFO(one.name << (draft ? "" : to_paragraph(draft.error())));
      REQUIRE(draft);
      INFO(listed(*draft));
      CHECK(draft->masks.count == invented_layers);
      CHECK(draft->masks.size == invented_size);
      CHECK_FALSE(draft->masks.inverted);
      CHECK(draft->masks.left_out.size() == (one.previews ? 2 : 0));
      std::string own_wrong;
      const std::size_t own = right_in(*draft, one, own_wrong);
      INFO(own_wrong);
      CHECK(5 * own >= 4 * one.there.size());
      right += own, there += one.there.size();
      wrong += own_wrong;
      if (std::getenv("HAIRLINE_SHOW_DRAFTS") != nullptr)
        std::printf("== %s\n%s", one.name.c_str(), listed(*draft).c_str());
    }
  }
  INFO(wrong << right << " of " << there);
  CHECK(10 * right >= 9 * there);
  std::printf("%s%zu of %zu settings right\n", wrong.c_str(), right, there);
}

TEST_CASE("by its draft an invented archive is read as the same stack of our own is") {
  for (const Invented& one : all_invented()) {
    const TempFolder folder;
    write_zip(folder.path / "own.zip", files_of(one));
    auto draft = draft_description(folder.path / "own.zip");
    REQUIRE(draft);
    answer_all(*draft, one);
    // Through its file, as a person keeps it.
    const auto kept = parse_description(write_description(draft->description), "kept.json");
    REQUIRE(kept);
    OpenOptions options;
    options.known = {*kept};
    const auto archive = Archive::open(folder.path / "own.zip", options);
    INFO(one.name << "\n" << (archive ? "" : to_paragraph(archive.error())) << listed(*draft));
    REQUIRE(archive);
    const JobSettings& job = archive->settings();
    REQUIRE(job.layer_count == invented_layers);
    for (std::uint32_t n = 1; n <= invented_layers; ++n) {
      const auto layer = archive->read_layer(n);
      REQUIRE(layer);
      CHECK(same(*layer, encode(mask_of(n), invented_size)));
    }
    const auto is = [&](const char* path, double value) {
      const auto stated = one.there.find(path);
      return stated == one.there.end() || near(stated->second, value);
    };
    CHECK(is("layers.height_mm", job.height_mm));
    CHECK(is("exposure.normal_s", job.normal_s));
    CHECK(is("image.pitch_x_mm", job.pitch.x_mm));
    CHECK(is("image.pitch_y_mm", job.pitch.y_mm));
  }
}
