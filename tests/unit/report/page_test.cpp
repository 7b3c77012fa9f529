// The page: what is foreign stays text, what is drawn is what was said, and it stays small. Judges: nlohmann_json for
// the JSON in it, stb_image for its pictures, published test vectors for base64.
#include "hairline/page.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "report/html.hpp"
#include "sample.hpp"

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#define STBI_NO_STDIO
#include <stb/stb_image.h>

using namespace hairline;

namespace {

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

std::string between(const std::string& text, const std::string& open, const std::string& close) {
  const std::size_t from = text.find(open) + open.size();
  REQUIRE(text.find(open) != std::string::npos);
  return text.substr(from, text.find(close, from) - from);
}

std::string page_json(const std::string& page) {
  return between(page, "<script type=\"application/json\" id=\"report\">", "</script>");
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

std::vector<std::uint8_t> from_base64(const std::string& text) {
  const std::string digits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::vector<std::uint8_t> bytes;
  std::uint32_t held = 0, bits = 0;
  for (const char c : text) {
    if (c == '=') break;
    held = held << 6 | static_cast<std::uint32_t>(digits.find(c));
    if ((bits += 6) >= 8) bytes.push_back(static_cast<std::uint8_t>(held >> (bits -= 8) & 255));
  }
  return bytes;
}

// A picture read back: `channels` bytes a pixel.
struct Seen {
  int width = 0, height = 0, channels = 0;
  std::vector<std::uint8_t> bytes;
  bool is(int col, int row, std::array<int, 3> colour) const {
    const std::size_t at = static_cast<std::size_t>((row * width + col) * channels);
    return bytes[at] == colour[0] && bytes[at + 1] == colour[1] && bytes[at + 2] == colour[2];
  }
};

Seen read_back(const std::string& uri) {
  const std::string head = "data:image/png;base64,";
  REQUIRE(uri.substr(0, head.size()) == head);
  const auto file = from_base64(uri.substr(head.size()));
  Seen seen;
  stbi_uc* data =
      stbi_load_from_memory(file.data(), static_cast<int>(file.size()), &seen.width, &seen.height, &seen.channels, 0);
  REQUIRE(data != nullptr);
  seen.bytes.assign(data, data + std::size_t{1} * seen.width * seen.height * seen.channels);
  stbi_image_free(data);
  return seen;
}

// A wall `wall_px` wide that goes missing and a slot `slot_px` wide that fills in, in a block that stays.
Raster wall_and_slot(std::uint32_t wall_px, std::uint32_t slot_px) {
  Raster raster{40, 12, 0.05, 0.05, std::vector<std::uint8_t>(40 * 12, 0)};
  for (std::uint32_t row = 0; row < 12; ++row) {
    for (std::uint32_t i = 0; i < wall_px; ++i)
      raster.values[row * 40 + 4 + i] = static_cast<std::uint8_t>(Becomes::missing);
    for (std::uint32_t col = 16; col < 36; ++col)
      raster.values[row * 40 + col] = static_cast<std::uint8_t>(Becomes::kept);
    for (std::uint32_t i = 0; i < slot_px; ++i)
      raster.values[row * 40 + 24 + i] = static_cast<std::uint8_t>(Becomes::filled);
  }
  return raster;
}

Pictures pictures_of(const Report& report, std::uint32_t side_px, std::size_t slices) {
  Pictures pictures;
  pictures.silhouettes.front = {72, 92, 1, 1, std::vector<std::uint8_t>(72 * 92, 90)};
  pictures.silhouettes.side = {128, 92, 1, 1, std::vector<std::uint8_t>(128 * 92, 90)};
  pictures.silhouettes.top = {72, 128, 1, 1, std::vector<std::uint8_t>(72 * 128, 90)};
  for (const Detail& detail : report.details) {
    DetailPictures one;
    one.id = detail.id;
    Raster busy{side_px, side_px, 0.05, 0.05, {}};
    std::uint32_t state = detail.id;  // pixels that hardly compress
    for (std::uint32_t i = 0; i < side_px * side_px; ++i)
      busy.values.push_back(static_cast<std::uint8_t>((state = state * 1664525u + 1013904223u) >> 30));
    for (std::size_t i = 0; i < slices; ++i)
      one.slices.push_back({.layer = static_cast<std::uint32_t>(detail.from_layer + i),
                            .drawn = busy,
                            .printed = busy,
                            .suggested = busy});
    one.upright = {.layer = 0, .drawn = busy, .printed = busy, .suggested = {}};
    pictures.details.push_back(one);
  }
  return pictures;
}

}  // namespace

TEST_CASE("the page says all that is to be done, and at which widths nothing prints") {
  const std::string page = show_html({sample::gallery()});
  CHECK(has(page, "Put supports under the island on layer 1800"));
  CHECK(has(page, "<span>Widen #15: 0.20 mm instead of 0.15 mm.</span>"));
  const CureModel model = sample::gallery().record->model;
  CHECK(has(page, fmt::format("&quot;slot_mm&quot;:{:.4f}", slot_limit_mm(model, sample::gallery().exposure_s))));
}

TEST_CASE("a record dated after today is said to be, and not of no age") {
  Report report = sample::gallery();
  const auto age = [&] {
    const std::string page = show_html({report});
    const std::string begin = "data-json=\"record.age_days\">";
    const std::size_t at = page.find(begin) + begin.size();
    return page.substr(at, page.find('<', at) - at);
  };
  for (const auto& [days, said] : {std::pair{-2, "dated in the future"}, {0, "0 days"}, {1, "1 day"}, {6, "6 days"}}) {
    report.record->age_days = days;
    CHECK(age() == said);
  }
  report.record->age_days.reset();
  CHECK(age() == "unknown");
}

TEST_CASE("base64 as RFC 4648, section 10, has it") {
  const auto text = [](const std::string& raw) { return base64(std::vector<std::uint8_t>(raw.begin(), raw.end())); };
  CHECK(text("").empty());
  CHECK(text("f") == "Zg==");
  CHECK(text("fo") == "Zm8=");
  CHECK(text("foo") == "Zm9v");
  CHECK(text("foob") == "Zm9vYg==");
  CHECK(text("fooba") == "Zm9vYmE=");
  CHECK(text("foobar") == "Zm9vYmFy");
}

TEST_CASE("the JSON in the page is what the report writes") {
  for (const Report& report : {sample::gallery(), sample::cottage(), sample::measured_only(), sample::under_bond(),
                               sample::busy(true), sample::hostile()}) {
    const std::string page = show_html({report});
    CHECK(nlohmann::json::parse(page_json(page)) == nlohmann::json::parse(to_json(report)));
    CHECK(!has(page_json(page), "<"));
    CHECK(between(page, "<p id=\"data-note\">", "</p>").empty());
  }
}

TEST_CASE("foreign text on the page is text") {
  const std::string names[] = {"<script>alert(1)</script>",
                               "\"><img src=x onerror=alert(1)>",
                               "' onfocus='x",
                               "</title></script><!--",
                               "{{json}}",
                               "\x1b[31m\x07\x01",
                               "\xff\xfe",
                               "a\xe2\x80\xae"
                               "b",
                               std::string(500, '"')};
  for (const std::string& name : names) {
    Report report = sample::gallery();
    report.job.title = report.job.file = report.job.resin_label = report.record->resin = report.record->file = name;
    report.reasons.push_back(name);
    report.record->notes = report.record->doubts = {name};
    const std::string page = show_html({report});
    INFO(name);
    const auto outside_data = [](const std::string& whole) {
      return whole.substr(0, whole.find("<script type=\"application/json\"")) + whole.substr(whole.rfind("<script>"));
    };
    const std::string shown = outside_data(page), plain = outside_data(show_html({sample::gallery()}));
    for (const char* tag : {"<script", "</script", "<img", "<!--", "' onfocus=", "<title"})
      CHECK(count(shown, tag) == count(plain, tag));
    CHECK(
        std::none_of(page.begin(), page.end(), [](char c) { return static_cast<unsigned char>(c) < 32 && c != '\n'; }));
    CHECK(nlohmann::json::parse(page_json(page))["job"]["title"] ==
          nlohmann::json::parse(to_json(report))["job"]["title"]);
  }
}

TEST_CASE("escaping") {
  CHECK(html_text("<a href=\"x\">&'") == "&lt;a href=&quot;x&quot;&gt;&amp;&#39;");
  CHECK(html_text("\x1b") == "\\x1B");
  CHECK(html_text("\xd7\xa9") == "\xd7\xa9");
  CHECK(json_for_script("{\"a\": \"</script>\"}") == "{\"a\": \"\\u003c/script>\"}");
  CHECK(filled("{{a}} {{b}}{{none}}.", {{"a", "{{b}}"}, {"b", "2"}}) == "{{b}} 2.");
}

TEST_CASE("the page loads nothing and runs nothing but its own") {
  const std::string page = show_html({sample::gallery()});
  const std::string policy = between(page, "Content-Security-Policy\" content=\"", "\">");
  CHECK(has(policy, "default-src 'none'"));
  CHECK(has(policy, "img-src data:;"));
  CHECK(!has(policy, "unsafe"));
  const auto digest = [](std::string_view hex) {
    std::vector<std::uint8_t> bytes;
    for (std::size_t i = 0; i < hex.size(); i += 2)
      bytes.push_back(static_cast<std::uint8_t>(std::stoi(std::string(hex.substr(i, 2)), nullptr, 16)));
    return base64(bytes);
  };
  CHECK(has(policy, "style-src 'sha256-" + digest(page_files::code.css_sha256) + "'"));
  CHECK(has(policy, "script-src 'sha256-" + digest(page_files::code.js_sha256) + "'"));
  CHECK(between(page, "<style>", "</style>") == page_files::code.css);
  CHECK(has(page, "<script>" + std::string(page_files::code.js) + "</script>"));
  CHECK(count(page, " style=\"") == 0);
  CHECK(count(page, "{{") == 0);
}

TEST_CASE("every mark leads to an entry that is there, and back") {
  const Report report = sample::gallery();
  const std::string page = show_html({report});
  for (const std::string view : {"front", "side", "top"})
    for (const std::string key : {"1", "15", "i1", "i2"}) {
      const std::string mark = "id=\"mark-" + view + "-" + key + "\"";
      CHECK(count(page, mark) == 1);
      const std::string entry = key[0] == 'i' ? "island-" + key.substr(1) : "finding-" + key;
      CHECK(count(page, "id=\"" + entry + "\"") == 1);
      CHECK(has(page, "href=\"#mark-front-" + key + "\""));
    }
}

TEST_CASE("walls and slots show as wide as they are, read back from the picture") {
  for (const std::uint32_t wall : {1u, 2u, 5u})
    for (const std::uint32_t slot : {1u, 3u, 8u}) {
      const Seen seen = read_back(becomes_png(wall_and_slot(wall, slot)));
      REQUIRE(seen.width == 40);
      REQUIRE(seen.height == 12);
      for (int row = 0; row < seen.height; ++row) {
        std::uint32_t missing = 0, filled = 0, kept = 0;
        for (int col = 0; col < seen.width; ++col) {
          missing += seen.is(col, row, {213, 94, 0}) || seen.is(col, row, {245, 178, 128});
          filled += seen.is(col, row, {0, 114, 178}) || seen.is(col, row, {86, 180, 233});
          kept += seen.is(col, row, {110, 118, 124});
        }
        CHECK(missing == wall);
        CHECK(filled == slot);
        CHECK(kept == 20 - slot);
      }
    }
}

TEST_CASE("silhouettes: nothing is clear, near is darker than far") {
  const Seen seen = read_back(depth_png({3, 1, 1, 1, {0, 1, 255}}));
  REQUIRE(seen.channels == 2);
  CHECK(seen.bytes[1] == 0);
  CHECK(seen.bytes[3] == 255);
  CHECK(seen.bytes[2] > seen.bytes[4]);
}

TEST_CASE("pictures are there for those that have some, with a name for who does not see them") {
  const Report report = sample::gallery();
  const Pictures pictures = pictures_of(report, 8, 3);
  const std::string page = show_html({report, &pictures});
  CHECK(count(page, "class=\"slice\"") == 6);  // of the first picket and of the porthole
  CHECK(count(page, " hidden><figure") == 4);
  CHECK(has(page, "aria-label=\"Layer 812: Prints at 2.30 s\""));
  CHECK(has(page, "aria-label=\"Upright cut, as drawn\""));
  CHECK(!has(show_html({report}), "class=\"slice\""));
}

TEST_CASE("a page of very many findings stays small and says what it leaves out") {
  Report report = sample::gallery();
  report.details.clear();
  for (std::uint32_t i = 0; i < 6000; ++i) {
    Detail detail = sample::picket(i + 1, 0.01 * i);
    detail.from_layer = 811 - i % 700;  // no two alike
    report.details.push_back(detail);
  }
  const Pictures pictures = pictures_of(sample::busy(), 128, 24);
  const std::string page = show_html({report, &pictures});
  CHECK(page.size() < 10000000);
  CHECK(page_json(page).size() < 3000000);
  const std::size_t kept = nlohmann::json::parse(page_json(page))["details"].size();
  CHECK(kept >= 2000);
  CHECK(has(between(page, "<p id=\"data-note\">", "</p>"), std::to_string(kept) + " of 6000 details"));
  CHECK(count(page, "<tr data-id=") == 2000);
  CHECK(has(page, "id=\"rows-left-out\""));
  CHECK(has(page, "id=\"entries-left-out\""));
  CHECK(has(page, "id=\"pictures-left-out\""));
}

TEST_CASE("the readings of the record stand on the limit curves") {
  Report report = sample::gallery();
  report.record->readings.resize(1);
  report.record->readings[0].exposure_s = 2.5;
  report.record->readings[0].thinnest_wall_mm = 0.1;
  const std::string page = show_html({report});
  CHECK(has(page, "<title>wall read at 2.5 s: 0.1 mm</title>"));
  CHECK(count(page, "data-mark=") == 1);
  CHECK(has(page, "this job"));
}
