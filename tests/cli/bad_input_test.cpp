// Every kind of bad input: exit status 2, one paragraph on stderr that names what is wrong, nothing on stdout, no file
// left.
#include <zip.h>

#include <catch2/catch.hpp>
#include <functional>

#include "jobs.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

std::size_t line_count(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

void expect_refused(const Ran& ran, const std::vector<std::string>& named) {
  INFO(ran.err);
  CHECK(ran.status == 2);
  CHECK(ran.out.empty());
  CHECK(line_count(ran.err) == 1);
  CHECK(ran.err.rfind("hairline: ", 0) == 0);
  for (const std::string& part : named) {
    INFO("expected in it: " << part);
    CHECK(has(ran.err, part));
  }
}

struct Broken {
  const char* name;
  std::function<void(const fs::path& job)> spoil;
  std::vector<std::string> named;  // must be in the message
};

void put_manifest(const fs::path& job, const std::string& text) {
  write_file(job / "manifest.json", text);
}

const std::string image = R"({"width_px": 48, "height_px": 40, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05})";
const std::string layers = R"({"count": 6, "height_mm": 0.05, "files": "layers/*.png"})";

// CRC-32 as in the PNG standard (ISO/IEC 15948, annex D).
std::uint32_t crc32_of(const std::string& bytes) {
  std::uint32_t crc = 0xFFFFFFFF;
  for (const char c : bytes) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xEDB88320u : 0u);
  }
  return ~crc;
}

// A sound header that promises 60000 x 60000 pixels, and an image stream of a few bytes (11.2.2 there).
std::string bomb_png() {
  std::string text = png(mask(true));
  const std::string side("\0\0\xEA\x60", 4);
  text.replace(16, 8, side + side);
  const std::uint32_t crc = crc32_of(text.substr(12, 17));
  for (int i = 0; i < 4; ++i) text[29 + i] = static_cast<char>(crc >> (24 - 8 * i) & 0xFF);
  return text;
}

const std::vector<Broken> broken_folders = {
    {"manifest and no mask",
     [](const fs::path& job) {
       fs::remove_all(job / "layers");
       fs::remove(job / "manifest.json");
     },
     {"job", "manifest.json", "it holds nothing", "masks.files"}},
    {"manifest that is not JSON",
     [](const fs::path& job) { put_manifest(job, "{\"format\": "); },
     {"job", "manifest", "JSON"}},
    {"manifest that lacks a field",
     [](const fs::path& job) {
       put_manifest(job, R"({"format": "layer-archive", "version": 1, "layers": )" + layers +
                             R"(, "exposure": {"normal_s": 2.5}})");
     },
     {"image"}},
    {"field of the wrong kind",
     [](const fs::path& job) {
       put_manifest(job, manifest(R"({"width_px": "48", "height_px": 40, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05})"));
     },
     {"width_px", "48"}},
    {"negative number",
     [](const fs::path& job) { put_manifest(job, manifest(image, layers, R"({"normal_s": -2.5})")); },
     {"normal_s", "-2.5"}},
    {"absurd number",
     [](const fs::path& job) {
       put_manifest(job, manifest(image, R"({"count": 6, "height_mm": 1e300, "files": "layers/*.png"})"));
     },
     {"height_mm"}},
    {"more layers than the limit",
     [](const fs::path& job) {
       put_manifest(job, manifest(image, R"({"count": 4000000000, "height_mm": 0.05, "files": "layers/*.png"})"));
     },
     {"count"}},
    {"another format",
     [](const fs::path& job) { put_manifest(job, R"({"format": "resin-record", "version": 1})"); },
     {"resin-record", "layer-archive"}},
    {"another version",
     [](const fs::path& job) { put_manifest(job, R"({"format": "layer-archive", "version": 7})"); },
     {"7"}},
    {"hole in the numbering",
     [](const fs::path& job) { fs::rename(job / layer_name(4), job / layer_name(9)); },
     {"layer 4"}},
    {"missing layer", [](const fs::path& job) { fs::remove(job / layer_name(6)); }, {"6"}},
    {"extra layer", [](const fs::path& job) { write_file(job / layer_name(7), png(mask(true))); }, {"7"}},
    {"duplicate layer", [](const fs::path& job) { write_file(job / "layers/4.png", png(mask(true))); }, {"4"}},
    {"mask of another size",
     [](const fs::path& job) {
       write_file(job / layer_name(3), png(mask(true, false, {50, 40})));
     },
     {"layer 3", "50", "48"}},
    {"broken mask",
     [](const fs::path& job) { write_file(job / layer_name(3), png(mask(true)).substr(0, 60)); },
     {"layer 3"}},
    {"mask with one byte turned",
     [](const fs::path& job) {
       std::string text = png(mask(true));
       text[text.size() - 20] = static_cast<char>(text[text.size() - 20] ^ 0x55);
       write_file(job / layer_name(2), text);
     },
     {"layer 2"}},
    {"no PNG at all",
     [](const fs::path& job) { write_file(job / layer_name(5), "this is a letter"); },
     {"layer 5", "PNG"}},
    {"empty mask file", [](const fs::path& job) { write_file(job / layer_name(3), ""); }, {"layer 3"}},
    {"bomb header", [](const fs::path& job) { write_file(job / layer_name(3), bomb_png()); }, {"layer 3", "60000"}},
    {"path trick in the pattern",
     [](const fs::path& job) {
       put_manifest(job, manifest(image, R"({"count": 6, "height_mm": 0.05, "files": "../layers/*.png"})"));
     },
     {"files", ".."}},
    {"empty stack",
     [](const fs::path& job) {
       put_manifest(job, manifest(image, R"({"count": 0, "height_mm": 0.05, "files": "layers/*.png"})"));
     },
     {"count", "0"}},
    {"all black",
     [](const fs::path& job) {
       for (std::uint32_t n = 1; n <= job_layers; ++n) write_file(job / layer_name(n), png(mask(false)));
     },
     {"black"}},
};

// A ZIP whose entries have these names and contents.
void write_raw_zip(const fs::path& path, const std::vector<std::pair<std::string, std::string>>& entries) {
  int failed = 0;
  zip_t* archive = ::zip_open(path.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &failed);
  REQUIRE(archive != nullptr);
  for (const auto& [name, text] : entries) {
    zip_source_t* source = ::zip_source_buffer(archive, text.data(), text.size(), 0);
    REQUIRE(::zip_file_add(archive, name.c_str(), source, ZIP_FL_ENC_UTF_8) >= 0);
  }
  REQUIRE(::zip_close(archive) == 0);
}

}  // namespace

TEST_CASE("a sound job passes, so that the broken ones fail for their own reason") {
  const Folder folder;
  write_job(folder / "job");
  write_file(folder / "record.json", record_text());
  const Ran ran = check(folder, "job");
  INFO(ran.err);
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "mooring post"));
}

TEST_CASE("broken layer archives are refused, in check and in measure") {
  for (const Broken& broken : broken_folders) {
    INFO(broken.name);
    const Folder folder;
    write_job(folder / "job");
    write_file(folder / "record.json", record_text());
    broken.spoil(folder / "job");
    const auto before = folder.files();
    expect_refused(check(folder, "job", {"--json", "report.json"}), broken.named);
    expect_refused(hairline::test::hairline({"measure", "job"}, folder.path()), broken.named);
    CHECK(folder.files() == before);
  }
}

TEST_CASE("files that are no archive are refused") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  write_zip(folder / "whole.zip");
  const std::string whole = file_text(folder / "whole.zip");
  write_file(folder / "letter.zip", "Dear harbour master,\n");
  write_file(folder / "empty.zip", "");
  for (const std::size_t share : {1u, 3u, 9u})
    write_file(folder / fmt::format("cut{}.zip", share), whole.substr(0, whole.size() * share / 10));
  fs::create_directory(folder / "void");
  const auto before = folder.files();
  expect_refused(check(folder, "letter.zip"), {"letter.zip", "ZIP"});
  expect_refused(check(folder, "empty.zip"), {"empty.zip"});
  for (const char* cut : {"cut1.zip", "cut3.zip", "cut9.zip"}) expect_refused(check(folder, cut), {cut});
  expect_refused(check(folder, "void"), {"void", "manifest.json"});
  expect_refused(check(folder, "nowhere.zip"), {"nowhere.zip"});
  expect_refused(check(folder, "record.json"), {"record.json"});
  CHECK(folder.files() == before);
}

TEST_CASE("a file that may not be read is refused") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  write_zip(folder / "job.zip");
  write_zip(folder / "open.zip");
  fs::permissions(folder.path(), fs::perms::owner_all | fs::perms::others_read | fs::perms::others_exec);
  fs::permissions(folder / "job.zip", fs::perms::none);
  // Root may read everything, so then the program runs as nobody.
  const bool as_nobody = ::geteuid() == 0;
  const auto check_as = [&](const std::string& job) {
    return run({HAIRLINE_BINARY, "check", job, "--record", "record.json"}, folder.path(), {}, as_nobody);
  };
  if (check_as("open.zip").status != 0) {
    WARN("skipped: the program cannot be run as another user here");
    return;
  }
  expect_refused(check_as("job.zip"), {"job.zip"});
}

TEST_CASE("ZIP archives with twin entries and names that lead out are refused") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  std::vector<std::pair<std::string, std::string>> entries = {{"manifest.json", manifest()}};
  for (std::uint32_t n = 1; n <= job_layers; ++n) entries.emplace_back(layer_name(n), png(mask(true)));
  write_raw_zip(folder / "sound.zip", entries);
  CHECK(check(folder, "sound.zip").status == 0);
  auto twin = entries;
  twin.emplace_back("layers/3.png", png(mask(true)));
  write_raw_zip(folder / "twin.zip", twin);
  expect_refused(check(folder, "twin.zip"), {"twin.zip", "3"});
  auto trick = entries;
  trick[3].first = "layers/../../00003.png";
  write_raw_zip(folder / "trick.zip", trick);
  expect_refused(check(folder, "trick.zip"), {"trick.zip"});
}

TEST_CASE("bad records are refused") {
  const Folder folder;
  write_zip(folder / "job.zip");
  const struct {
    const char* name;
    std::string text;
    std::vector<std::string> named;
  } records[] = {
      {"lacks its fit", record_text(""), {"record.json", "fit"}},
      {"not JSON", "{", {"record.json"}},
      {"another format", manifest(), {"record.json", "layer-archive"}},
      {"negative bond time",
       record_text(
           R"(, "fit": {"bond_time_s": -1, "fuse_time_s": 0.5, "blur_mm": 0.04, "penetration_depth_mm": 0.16})"),
       {"record.json", "bond_time_s", "-1"}},
      {"blur in words",
       record_text(
           R"(, "fit": {"bond_time_s": 1, "fuse_time_s": 0.5, "blur_mm": "thin", "penetration_depth_mm": 0.16})"),
       {"record.json", "blur_mm"}},
  };
  for (const auto& record : records) {
    INFO(record.name);
    write_file(folder / "record.json", record.text);
    expect_refused(check(folder, "job.zip"), record.named);
  }
  // A coupon is drawn for a record's blur: without one nothing is written.
  const std::vector<std::string> coupon = {"coupon",      "dir", "--pitch",  "0.05",
                                           "--exposures", "2.5", "--record", "record.json"};
  write_file(folder / "record.json", record_text(""));
  expect_refused(hairline::test::hairline(coupon, folder.path()),
                 {"record.json", "has no fit", "expected a fit", "hairline record read"});
  std::string lorentzian = record_text();
  lorentzian.replace(lorentzian.find("gaussian"), std::string("gaussian").size(), "lorentzian");
  write_file(folder / "record.json", lorentzian);
  expect_refused(hairline::test::hairline(coupon, folder.path()),
                 {"record.json", "lorentzian", "expected a record with gaussian blur", "Leave out --record"});
  fs::remove(folder / "record.json");
  expect_refused(check(folder, "job.zip"), {"record.json"});
  expect_refused(hairline::test::hairline(coupon, folder.path()), {"record.json"});
  CHECK_FALSE(fs::exists(folder / "dir"));
}

TEST_CASE("a message stays short whatever the file holds, and shows what would steer a terminal") {
  const Folder folder;
  const std::string word(200'000, 'k');
  write_job(folder / "job");
  const std::string steering = "\u061C\u2066\u200B\uFEFF";
  for (const std::string& format : {word, std::string(50'000, ' ') + "end", steering}) {
    write_file(folder / "record.json", R"({"format": ")" + format + "\"}");
    const Ran ran = check(folder, "job");
    expect_refused(ran, {"record.json", "\"format\" is", "expected \"format\": \"resin-record\""});
    CHECK(ran.err.size() < 500);
    CHECK_FALSE(has(ran.err, "\u061C"));
  }
  expect_refused(check(folder, "job"), {"\\xD8\\x9C\\xE2\\x81\\xA6\\xE2\\x80\\x8B\\xEF\\xBB\\xBF"});
  write_file(folder / "record.json", record_text());
  const Ran nowhere = check(folder, std::string(4000, 'n') + ".zip");
  expect_refused(nowhere, {"hairline: nnn", "...", ".zip: "});
  CHECK(nowhere.err.size() < 500);
  write_job(folder / "word", false, manifest(image, R"({"height_mm": 0.05, "files": ")" + word + "*.png\"}"));
  const Ran no_layer = check(folder, "word");
  expect_refused(no_layer, {"kkk", "...", "*.png"});
  CHECK(no_layer.err.size() < 500);
}

TEST_CASE("a NUL ends no JSON text, and a byte order mark is passed over everywhere") {
  const Folder folder;
  const std::string mark = "\xEF\xBB\xBF", rest("\0garbage", 8);
  write_job(folder / "marked", false, mark + manifest());
  write_file(folder / "record.json", mark + record_text());
  write_file(folder / "list.txt", mark + "marked\n");
  CHECK(check(folder, "marked").status != 2);
  CHECK(hairline::test::hairline({"queue", "list.txt", "--record", "record.json"}, folder.path()).status != 2);
  write_file(folder / "readings.csv", mark + "exposure_s,thinnest_wall_mm\n2.5,0.1\n");
  CHECK(hairline::test::hairline({"record", "read", "record.json", "--csv", "readings.csv"}, folder.path()).status ==
        0);
  write_job(folder / "ended", false, manifest() + rest);
  expect_refused(check(folder, "ended"), {"the manifest is not JSON"});
  write_file(folder / "record.json", record_text() + rest);
  expect_refused(check(folder, "marked"), {"record.json", "the file is not JSON"});
}

TEST_CASE("exposures that are none are refused") {
  const Folder folder;
  write_zip(folder / "job.zip");
  write_file(folder / "record.json", record_text());
  for (const char* exposure :
       {"0", "-1", "-0.5", "nan", "inf", "-inf", "2.5x", "2,5,0", "2 mm", "1,500", "", " ", "1e999", "0x2"}) {
    INFO("[" << exposure << "]");
    expect_refused(check(folder, "job.zip", {"--exposure", exposure}), {"--exposure"});
  }
  const Ran plain = check(folder, "job.zip", {"--exposure", "2.5"});
  CHECK(plain.status == 0);
  for (const char* exposure : {"2,5", "2.5s", "2500 ms"})
    CHECK(check(folder, "job.zip", {"--exposure", exposure}).out == plain.out);
}

TEST_CASE("outputs that cannot be written are found before the work") {
  const Folder folder;
  write_job(folder / "job");
  write_file(folder / "job" / layer_name(1), "broken");  // the work itself would fail, and name this layer
  write_file(folder / "record.json", record_text());
  fs::create_directory(folder / "reports");
  const auto before = folder.files();
  for (const char* option : {"--json", "--csv"}) {
    for (const char* target : {"nowhere/report", "reports", "record.json/report"}) {
      INFO(option << " " << target);
      const Ran ran = check(folder, "job", {option, target});
      expect_refused(ran, {target});
      CHECK_FALSE(has(ran.err, "layer 1"));
    }
  }
  CHECK(folder.files() == before);
}

TEST_CASE("an output is never an input, nor two outputs one file") {
  const Folder folder;
  write_zip(folder / "job.zip");
  write_job(folder / "masks");
  write_file(folder / "record.json", record_text());
  const std::string whole = file_text(folder / "job.zip");
  expect_refused(check(folder, "job.zip", {"--json", "job.zip"}), {"job.zip"});
  expect_refused(check(folder, "job.zip", {"--csv", "./record.json"}), {"record.json"});
  expect_refused(check(folder, "masks", {"--json", "masks/manifest.json"}), {"manifest.json"});
  expect_refused(check(folder, "job.zip", {"--json", "out", "--csv", "./out"}), {"out"});
  expect_refused(check(folder, "job.zip", {"--json", "-", "--csv", "-"}), {"standard output"});
  CHECK(file_text(folder / "job.zip") == whole);
  CHECK(file_text(folder / "record.json") == record_text());
}

TEST_CASE("bad usage is told in one paragraph") {
  const Folder folder;
  const std::vector<std::vector<std::string>> calls = {
      {"chekc"},
      {"check"},
      {"check", "job.zip", "--recrod", "r"},
      {"check", "job.zip"},
      {"check", "job.zip", "--record"},
      {"check", "job.zip", "--record", "r", "--threads", "many"},
      {"check", "job.zip", "--record", "r", "--fail-on", "doom"},
      {"check", "job.zip", "--record", "r", "--details", "-3"},
      {"check", "job.zip", "--record", "r", "--dose-spread", "5"},
      {"check", "job.zip", "--record", "r", "--today", "soon"},
      {"sweep", "a.zip", "b.zip", "--record", "r"},
      {"sweep", "a.zip", "--record", "r", "--steps", "1"},
      {"queue", "a.zip", "--record", "r", "--ready-by", "25:00"},
      {"record"},
      {"record", "read", "r.json", "--exposure", "2", "--look", "dreadful"},
      {"coupon", "dir", "--pitch", "0.05"},
      {"coupon", "dir", "--pitch", "0.05", "--exposures", "2,none"},
  };
  for (const auto& call : calls) {
    std::string shown;
    for (const std::string& word : call) shown += word + " ";
    INFO(shown);
    expect_refused(hairline::test::hairline(call, folder.path()), {});
  }
  CHECK(folder.files().empty());
}

TEST_CASE("a misspelt command, option or record label is met with the nearest one") {
  const Folder folder;
  write_zip(folder / "job.zip");
  write_file(folder / "record.json", record_text());
  const struct {
    std::vector<std::string> call;
    const char* meant;  // null: nothing is near enough
  } cases[] = {
      {{"chekc", "job.zip"}, "check"},
      {{"Measure", "job.zip"}, "measure"},
      {{"record", "plam", "record.json"}, "plan"},
      {{"print", "job.zip"}, nullptr},
      {{"check", "job.zip", "--recrod", "record.json"}, "--record"},
      {{"check", "job.zip", "--lamphours=3"}, "--lamp-hours"},
      {{"coupon", "dir", "--pitch", "0.05", "--exposures", "2", "--hieght", "0.05"}, "--height"},
      {{"measure", "job.zip", "--record", "record.json"}, nullptr},  // it has nothing of the kind
      {{"check", "job.zip", "--tday", "2026-11-07"}, nullptr},       // what help hides is not offered
      {{"check", "job.zip", "--record", "harbor grey"}, "harbour grey"},
      {{"check", "job.zip", "--record", "RECRD"}, "record"},  // by the name of its file
      {{"check", "job.zip", "--record", "signal red"}, nullptr},
  };
  for (const auto& [call, meant] : cases) {
    const Ran ran = hairline::test::hairline(call, folder.path());
    INFO(call.back());
    expect_refused(ran, {});
    CHECK(has(ran.err, "Did you mean") == (meant != nullptr));
    if (meant != nullptr) CHECK(has(ran.err, "Did you mean \"" + std::string(meant) + "\"?"));
  }
}

TEST_CASE("a value no option takes is named once, for options that help hides as well") {
  const Folder folder;
  for (const char* option : {"--today", "--columns"}) {
    const Ran ran = hairline::test::hairline({"check", "job.zip", option, "13-40"}, folder.path());
    INFO(ran.err);
    expect_refused(ran, {"13-40"});
    CHECK_FALSE(has(ran.err, ": :"));
  }
}
