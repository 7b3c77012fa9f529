// Descriptions: every example of the format page reads and writes back, every broken one gives the error stated beside
// it, and no key or settings file, however it is made, takes long.
#include <algorithm>
#include <chrono>

#include "support.hpp"

using namespace archive_test;

namespace {

const fs::path formats = fs::path(HAIRLINE_SOURCE_DIR) / "formats";

std::vector<fs::path> json_files(const fs::path& folder) {
  REQUIRE(fs::is_directory(folder));
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

std::string description_of(const std::string& setting) {
  return R"({"format": "archive-description", "version": 1, "settings": {"exposure.normal_s": )" + setting + "}}";
}

/// A foreign archive whose settings file is `text`, opened by a description that takes the exposure from it.
Result<Archive> opened(const File& text, const std::string& syntax, const std::string& key, const char* factor = "1") {
  const TempFolder folder;
  std::vector<File> files{text};
  for (const char* name : {"m/1.png", "m/2.png"}) files.push_back({name, png_text(encode(Pixels(240, 0), {20, 12}))});
  write_zip(folder.path / "own.zip", files, true);
  const std::string setting = R"({"entry": ")" + text.name + R"(", "syntax": ")" + syntax + R"(", "key": ")" + key +
                              R"(", "factor": )" + factor + "}";
  const auto description = parse_description(description_of(setting), "d.json");
  REQUIRE(description);
  OpenOptions options;
  options.description = *description;
  options.set = {{"image.pitch_x_mm", "0.05"}, {"image.pitch_y_mm", "0.05"}, {"layers.height_mm", "0.05"}};
  return Archive::open(folder.path / "own.zip", options);
}

class Clock {
 public:
  double seconds() const { return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin_).count(); }

 private:
  std::chrono::steady_clock::time_point begin_ = std::chrono::steady_clock::now();
};

}  // namespace

TEST_CASE("every example description reads, and reads back as it was written") {
  const auto files = json_files(formats / "examples" / "archive-description");
  REQUIRE(files.size() >= 4);
  for (const fs::path& path : files) {
    INFO(path);
    const auto description = read_description(path);
    REQUIRE(description);
    const std::string written = write_description(*description);
    const auto again = parse_description(written, "");
    INFO(written);
    REQUIRE(again);
    CHECK(write_description(*again) == written);
    CHECK(again->label == description->label);
    CHECK(again->masks == description->masks);
    CHECK(again->invert == description->invert);
    CHECK(again->mirrored == description->mirrored);
    CHECK(again->subpixels == description->subpixels);
    REQUIRE(again->settings.size() == description->settings.size());
    for (std::size_t i = 0; i < again->settings.size(); ++i) {
      const SettingSource &a = again->settings[i], &b = description->settings[i];
      CHECK(a.path == b.path);
      CHECK(a.from == b.from);
      CHECK(a.value == b.value);
      CHECK(a.entry == b.entry);
      CHECK(a.syntax == b.syntax);
      CHECK(a.key == b.key);
      CHECK(a.factor == b.factor);
    }
  }
}

TEST_CASE("a constant text stays the text it is, also where it looks like a number") {
  for (const char* text : {"1.10", "007", "12", "1e3", "true", "null", "[2]"}) {
    ArchiveDescription description;
    SettingSource& label = description.settings.emplace_back();
    label.path = "resin.label";
    label.value = text;
    const auto again = parse_description(write_description(description), "");
    INFO(text);
    REQUIRE(again);
    CHECK(again->settings.at(0).value == text);
  }
}

TEST_CASE("every broken description gives its stated error, at once") {
  const auto files = json_files(formats / "broken" / "archive-description");
  REQUIRE(files.size() >= 30);
  for (const fs::path& path : files) {
    INFO(path);
    std::string expected = read_text(fs::path(path).replace_extension(".expected")).value();
    if (expected.rfind("schema:", 0) == 0) expected.erase(0, 7);
    expected.erase(0, expected.find_first_not_of(' '));
    expected.erase(expected.find_last_not_of('\n') + 1);
    REQUIRE_FALSE(expected.empty());
    const Clock clock;
    const auto description = read_description(path);
    CHECK(clock.seconds() < 1);
    REQUIRE_FALSE(description);
    CHECK(description.error().file == path.string());
    CHECK_THAT(to_paragraph(description.error()), Catch::Contains(expected));
  }
}

TEST_CASE("a setting is read from each syntax") {
  struct Case {
    File text;
    std::string syntax, key;
    const char* factor;
  };
  const std::vector<Case> cases = {
      {{"a/b.json", R"({"l": {"t/ms": [1, "2500 ms"]}})"}, "json", "/l/t~1ms/1", "0.001"},
      {{"j.ini", "; time = 9\r\n[light]\r\ntime = \"2,5\" ; s\r\n"}, "ini", "light.time", "1"},
      {{"j.ini", "time: 2500 # ms\n"}, "ini", "time", "0.001"},
      {{"j.xml", "<j><l of='base'>30</l><l of='all'> 2.5 s</l></j>"}, "xml", "/j/l[@of='all']", "1"},
      {{"j.xml", "<j a='1'><l s='1.5'/><l s='1'/></j>"}, "xml", "sum(/j/l/@s)", "1"},
      {{"j.txt", "each layer\nis lit for 2.5 s\n"}, "text", "^is lit for ([0-9.]+)", "1"},
  };
  for (const Case& one : cases) {
    INFO(one.text.content << " by " << one.key);
    const auto archive = opened(one.text, one.syntax, one.key, one.factor);
    INFO((archive ? "" : to_paragraph(archive.error())));
    REQUIRE(archive);
    CHECK(archive->settings().normal_s == 2.5);
  }
}

TEST_CASE("settings files made to do harm are refused within a second") {
  // Billion laughs: entities of entities. They are not followed, so no text comes of them.
  std::string bomb = "<?xml version=\"1.0\"?><!DOCTYPE j [<!ENTITY a0 \"2.5\">";
  for (int i = 1; i < 30; ++i) {
    const std::string inner = "&a" + std::to_string(i - 1) + ";";
    bomb += "<!ENTITY a" + std::to_string(i) + " \"" + inner + inner + inner + inner + "\">";
  }
  bomb += "]><j>&a29;</j>";
  const std::string deep = std::string(100'000, '[') + std::string(100'000, ']');
  struct Case {
    File text;
    std::string syntax, key;
    ErrorKind kind;
  };
  const std::vector<Case> cases = {
      {{"j.xml", bomb}, "xml", "/j", ErrorKind::usage},
      {{"j.xml", "<j><l></j>"}, "xml", "/j", ErrorKind::broken},
      {{"j.xml", "<!DOCTYPE j [<!ENTITY f SYSTEM \"file:///etc/hostname\">]><j>&f;</j>"},
       "xml",
       "/j",
       ErrorKind::usage},
      {{"j.json", deep}, "json", "/0", ErrorKind::broken},
      {{"j.json", "{"}, "json", "/0", ErrorKind::broken},
      {{"j.json", "{}"}, "json", "/0", ErrorKind::mismatch},
      {{"j.txt", std::string(1'000'000, 'a')}, "text", "(a*)*b", ErrorKind::mismatch},
      {{"j.ini", std::string(2'000'000, ' ')}, "ini", "a", ErrorKind::limit},
  };
  for (const Case& one : cases) {
    INFO(one.text.content.substr(0, 100) << " by " << one.key);
    const Clock clock;
    const auto archive = opened(one.text, one.syntax, one.key);
    CHECK(clock.seconds() < 1);
    REQUIRE_FALSE(archive);
    CHECK(archive.error().kind == one.kind);
  }
}

TEST_CASE("an XPath key that may look at many nodes for each of many is refused before it is tried") {
  const auto job = [](int layers) {
    std::string text = "<job>";
    for (int i = 0; i < layers; ++i) text += "<l h=\"0.05\"/>";
    return text + "<e n=\"x\">2.5</e></job>";
  };
  const std::string small = job(20), large = job(5000);
  for (const char* key : {"/job/e", "//e", "//e[@n='x']", "//e[@n = \"x\"]", "/job/*[5001]", "//l[1]/../e", "//l/../e",
                          "/job[l/@h='0.05']/e", "//e[\"//l//l\" != @n]", "/job/e[. > 2]"}) {
    INFO(key);
    CHECK(find_value(large, "j.xml", Syntax::xml, key).value() == "2.5");
  }
  for (const char* key :
       {"//l[//e]/../e", "//l[../l[last()]]/../e", "//l[count(//l) > 0]/../e", "//l[@h = ../l/@h]/../e",
        "//e[not(//x)]", "/job/l/following-sibling::e", "//l//ancestor::job//e", "//e[true() and /job]",
        "//e[true() and/job/l]", "//e[count( /job/l) > 1]", "//e | //e", "//e[. > 2][. < 3]", "/job/e[@n=@n]",
        "/job/e[@n <= @n or @n]"}) {
    INFO(key);
    CHECK(find_value(small, "j.xml", Syntax::xml, key).value() == "2.5");
    const auto refused = find_value(large, "j.xml", Syntax::xml, key);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().kind == ErrorKind::limit);
  }
  std::string deep = "2.5";
  for (int i = 0; i < 101; ++i) deep = "<a>" + deep + "</a>";
  CHECK(find_value(deep, "j.xml", Syntax::xml, "//a").error().kind == ErrorKind::broken);
}
