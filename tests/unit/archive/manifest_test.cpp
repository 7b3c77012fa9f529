// Manifests: every example of the format page is read, every broken one gives the error stated beside it, and what is
// written reads back.
#include <algorithm>

#include "support.hpp"

using namespace archive_test;

namespace {

const std::string whole =
    R"({"format": "layer-archive", "version": 1, "title": "gallery deck",
        "image": {"width_px": 1440, "height_px": 2560, "pitch_x_mm": 0.05, "pitch_y_mm": 0.06, "mirrored": true},
        "layers": {"count": 1842, "height_mm": 0.05, "files": "layers/*.png"},
        "exposure": {"normal_s": 2.5, "base_s": 30.0, "base_layers": 5, "transition_layers": 3},
        "motion": {"lift_mm": 6, "lift_mm_per_min": 60, "retract_mm_per_min": 150, "rest_before_s": 0, "rest_after_s": 0.5},
        "resin": {"label": "grey, standard", "density_g_per_ml": 1.1}, "printer": {"label": "the left one"},
        "exceptions": [{"from_layer": 900, "to_layer": 900, "exposure_s": 3},
                       {"from_layer": 400, "to_layer": 420, "height_mm": 0.03, "exposure_s": 2.1}]})";

std::string with(const std::string& from, const std::string& to) {
  std::string text = whole;
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

Error error_of(const std::string& text) {
  const auto job = parse_manifest(text, "job.zip");
  INFO(text.substr(0, 2000));
  REQUIRE_FALSE(job);
  return job.error();
}

std::vector<fs::path> json_files(const fs::path& folder) {
  REQUIRE(fs::is_directory(folder));
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  REQUIRE_FALSE(files.empty());
  return files;
}

const fs::path formats = fs::path(HAIRLINE_SOURCE_DIR) / "formats";

}  // namespace

TEST_CASE("a whole manifest is read field by field") {
  const auto job = parse_manifest(whole, "job.zip");
  REQUIRE(job);
  CHECK(job->title == "gallery deck");
  CHECK(job->size == Size{1440, 2560});
  CHECK(job->pitch == Pitch{0.05, 0.06});
  CHECK(job->mirrored);
  CHECK(job->layer_count == 1842);
  CHECK(job->height_mm == 0.05);
  CHECK(job->files == "layers/*.png");
  CHECK(job->normal_s == 2.5);
  CHECK(job->base_s == 30.0);
  CHECK(job->base_layers == 5);
  CHECK(job->transition_layers == 3);
  CHECK(job->motion == Motion{6.0, 60.0, 150.0, 0.0, 0.5});
  CHECK(job->resin_label == "grey, standard");
  CHECK(job->density_g_per_ml == 1.1);
  CHECK(job->printer_label == "the left one");
  CHECK(job->exceptions == std::vector<Exception>{{400, 420, 0.03, 2.1}, {900, 900, {}, 3.0}});
  CHECK(job->assumed.empty());
}

TEST_CASE("what is left out is said to be assumed") {
  const auto job = parse_manifest(
      R"({"format": "layer-archive", "version": 1, "image": {"width_px": 10, "height_px": 10, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05},
          "layers": {"height_mm": 0.05}, "exposure": {"normal_s": 2.5}, "motion": null})",
      "job.zip");
  REQUIRE(job);
  CHECK(job->assumed == std::vector<std::string>{"no base layers", "lift height 6 mm", "lift speed 60 mm/min",
                                                 "retract speed 150 mm/min", "rest before exposure 0 s",
                                                 "rest after exposure 0.5 s", "resin density 1.1 g/ml"});
  CHECK(job->layer_count == 0);
  CHECK(job->files == "layers/*.png");
  const auto base = parse_manifest(with("\"base_s\": 30.0, ", ""), "job.zip");
  REQUIRE(base);
  CHECK(base->assumed == std::vector<std::string>{"base exposure 2.5 s, as for all layers"});
}

TEST_CASE("written manifests read back the same") {
  const JobSettings job = parse_manifest(whole, "job.zip").value();
  CHECK(parse_manifest(write_manifest(job), "job.zip").value() == job);
  CHECK(write_manifest(parse_manifest(write_manifest(job), "job.zip").value()) == write_manifest(job));
  for (const fs::path& path : json_files(formats / "examples" / "layer-archive")) {
    INFO(path.string());
    const JobSettings example = parse_manifest(read_text(path).value(), "job.zip").value();
    CHECK(parse_manifest(write_manifest(example), "job.zip").value() == example);
  }
}

TEST_CASE("every example in formats is read") {
  for (const fs::path& path : json_files(formats / "examples" / "layer-archive")) {
    INFO(path.string());
    CHECK(parse_manifest(read_text(path).value(), "job.zip"));
  }
}

TEST_CASE("every broken example in formats gives the error stated beside it") {
  for (const fs::path& path : json_files(formats / "broken" / "layer-archive")) {
    INFO(path.string());
    const auto job = parse_manifest(read_text(path).value(), "job.zip");
    REQUIRE_FALSE(job);
    fs::path beside = path;
    std::string stated = read_text(beside.replace_extension(".expected")).value();
    for (const std::string mark : {"schema: "})
      if (stated.starts_with(mark)) stated.erase(0, mark.size());
    while (!stated.empty() && stated.back() == '\n') stated.pop_back();
    REQUIRE_FALSE(stated.empty());
    INFO(to_paragraph(job.error()));
    CHECK(to_paragraph(job.error()).find(stated) != std::string::npos);
  }
}

TEST_CASE("numbers are held to their ranges, at both ends") {
  const auto accepted = [](const std::string& text) { return parse_manifest(text, "job.zip").has_value(); };
  CHECK(accepted(with("\"width_px\": 1440", "\"width_px\": 1440.0")));
  CHECK(accepted(with("\"pitch_x_mm\": 0.05", "\"pitch_x_mm\": 0.001")));
  CHECK(accepted(with("\"pitch_x_mm\": 0.05", "\"pitch_x_mm\": 1")));
  CHECK(accepted(with("\"normal_s\": 2.5", "\"normal_s\": 3600")));
  CHECK(accepted(with("\"base_layers\": 5", "\"base_layers\": 100000")));
  for (const char* bad : {"0", "-1", "-0.05", "1e300", "1e-300", "\"0.05\"", "null", "true", "[]", "{}", "\"NaN\"",
                          "1.0001", "0.0009999"}) {
    INFO(bad);
    const Error pitch = error_of(with("\"pitch_x_mm\": 0.05", std::string("\"pitch_x_mm\": ") + bad));
    CHECK(pitch.kind == ErrorKind::invalid);
    CHECK(pitch.found.find("\"image.pitch_x_mm\"") != std::string::npos);
    CHECK(pitch.expected == "a number of at least 0.001 and at most 1");
    CHECK(error_of(with("\"height_mm\": 0.05", std::string("\"height_mm\": ") + bad)).kind == ErrorKind::invalid);
  }
  for (const char* bad : {"0", "-1", "12.5", "\"1440\"", "null", "-1e300"})
    CHECK(error_of(with("\"width_px\": 1440", std::string("\"width_px\": ") + bad)).kind == ErrorKind::invalid);
  for (const char* bad : {"65536", "4294967297", "1e300", "18446744073709551616"})
    CHECK(error_of(with("\"width_px\": 1440", std::string("\"width_px\": ") + bad)).kind == ErrorKind::limit);
  for (const char* bad : {"0", "-2.5", "3600.1", "\"2.5\"", "null", "[2.5]"})
    CHECK(error_of(with("\"normal_s\": 2.5", std::string("\"normal_s\": ") + bad)).kind == ErrorKind::invalid);
  CHECK(error_of(with("\"base_s\": 30.0", "\"base_s\": -30.0")).kind == ErrorKind::invalid);
  CHECK(error_of(with("\"count\": 1842", "\"count\": 100001")).kind == ErrorKind::limit);
  CHECK(error_of(with("\"width_px\": 1440, \"height_px\": 2560", "\"width_px\": 60000, \"height_px\": 60000")).kind ==
        ErrorKind::limit);
}

TEST_CASE("what JSON does not know is not JSON") {
  for (const char* bad : {"NaN", "Infinity", "-Infinity", "nan", "0x10", "+1", ".5"})
    CHECK(error_of(with("\"normal_s\": 2.5", std::string("\"normal_s\": ") + bad)).kind == ErrorKind::broken);
  CHECK(error_of(with("\"normal_s\": 2.5", "\"normal_s\": 1e999")).found ==
        "the manifest holds a number too large to be read");
  CHECK(error_of("").kind == ErrorKind::broken);
  CHECK(error_of("[]").kind == ErrorKind::invalid);
  CHECK(error_of("{\n  \"format\": oops").found == "the manifest is not JSON (line 2, column 13)");
  CHECK(error_of(whole + "x").kind == ErrorKind::broken);
  CHECK(error_of(with("gallery deck", "gallery \xFF")).kind == ErrorKind::broken);
}

TEST_CASE("other formats and versions are told apart from damage") {
  CHECK(error_of(with("\"layer-archive\"", "\"something-else\"")).kind == ErrorKind::version);
  CHECK(error_of(with("\"version\": 1", "\"version\": 2")).kind == ErrorKind::version);
  CHECK(error_of(with("\"version\": 1", "\"version\": \"1\"")).kind == ErrorKind::version);
  CHECK(error_of(with("\"version\": 1, ", "")).kind == ErrorKind::invalid);
  CHECK(error_of("{}").found == "the manifest has no \"format\"");
}

TEST_CASE("unknown fields are ignored") {
  CHECK(parse_manifest(with("\"title\"", "\"camera\": {\"angle\": [1, 2]}, \"title\""), "job.zip").value() ==
        parse_manifest(whole, "job.zip").value());
}

TEST_CASE("exceptions are sorted, and never overlap or leave the job") {
  CHECK(error_of(with("\"from_layer\": 900, \"to_layer\": 900", "\"from_layer\": 420, \"to_layer\": 430"))
            .found.find("layer 420 twice") != std::string::npos);
  CHECK(error_of(with("\"from_layer\": 900, \"to_layer\": 900", "\"from_layer\": 1840, \"to_layer\": 1843")).expected ==
        "layers from 1 to 1842");
  CHECK(error_of(with("\"from_layer\": 900", "\"from_layer\": 901")).found.find("exceptions[0].to_layer") !=
        std::string::npos);
  CHECK(error_of(with("\"from_layer\": 900", "\"from_layer\": 0")).kind == ErrorKind::invalid);
  CHECK(error_of(with("\"exceptions\": [", "\"exceptions\": [7, ")).found == "\"exceptions[0]\" in the manifest is 7");
}

TEST_CASE("a pattern has one star and stays inside") {
  for (const char* bad :
       {"layers/1.png", "*/*.png", "../*.png", "/layers/*.png", "layers\\\\*.png", "a/../*.png", "", "layers/*/"})
    CHECK(error_of(with("layers/*.png", bad)).found.find("\"layers.files\"") != std::string::npos);
}

TEST_CASE("a text nested without end neither hangs nor breaks the stack") {
  const std::string deep(400'000, '['), closed = deep + std::string(400'000, ']');
  for (const std::string& text : {deep, closed, "{\"a\":" + closed + "}"}) {
    CHECK(error_of(text).kind == ErrorKind::limit);
    CHECK(error_of(with("\"title\"", "\"deep\": " + text + ", \"title\"")).found == "the manifest is nested too deep");
  }
  CHECK(parse_manifest(with("\"title\"", "\"deep\": " + std::string(90, '[') + std::string(90, ']') + ", \"title\""),
                       "job.zip"));
  CHECK(parse_manifest(with("gallery deck", std::string(500, '[')), "job.zip"));  // in a string they mean nothing
}

TEST_CASE("damaged manifests give settings or an error, never more") {
  std::mt19937 random(11);
  for (int round = 0; round < 3000; ++round) {
    std::string bad = whole;
    for (std::size_t i = 0, n = 1 + random() % 3; i < n; ++i) {
      const std::size_t at = random() % bad.size();
      if (random() % 3 == 0)
        bad.erase(at, 1 + random() % 20);
      else
        bad[at] = "0123456789-.eE\"{}[],:nt"[random() % 23];
    }
    const auto job = parse_manifest(bad, "job.zip");
    if (!job) REQUIRE_FALSE(to_paragraph(job.error()).empty());
  }
}
