// Archives opened, read and written: ZIP and folder alike, and every kind of bad input with the error it must give.
#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <thread>

#include "support.hpp"

using namespace archive_test;

namespace {

using Files = std::vector<File>;

File& file_named(Files& files, const std::string& name) {
  const auto at = std::find_if(files.begin(), files.end(), [&](const File& f) { return f.name == name; });
  REQUIRE(at != files.end());
  return *at;
}

void drop(Files& files, const std::string& name) {
  std::erase_if(files, [&](const File& f) { return f.name == name; });
}

void replace_in(std::string& text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  text.replace(at, from.size(), to);
}

/// The first error an archive gives: on opening, else on reading its layers in order.
std::optional<Error> first_error(const fs::path& path, const Limits& limits = {}) {
  OpenOptions options;
  options.limits = limits;
  const auto archive = Archive::open(path, options);
  if (!archive) return archive.error();
  for (std::uint32_t n = 1; n <= archive->settings().layer_count; ++n) {
    const auto layer = archive->read_layer(n);
    if (!layer) return layer.error();
  }
  return {};
}

struct Expected {
  ErrorKind kind;
  std::optional<std::uint32_t> layer;
  std::string words;  // a part of the paragraph
};

void check_error(const std::optional<Error>& error, const Expected& expected) {
  REQUIRE(error);
  const std::string paragraph = to_paragraph(*error);
  INFO(paragraph);
  CHECK(to_string(error->kind) == to_string(expected.kind));
  CHECK(error->layer == expected.layer);
  CHECK(paragraph.find(expected.words) != std::string::npos);
  CHECK_FALSE(error->file.empty());
  CHECK_FALSE(error->expected.empty());
  CHECK_FALSE(error->advice.empty());
  CHECK(paragraph.find('\n') == std::string::npos);
}

/// The same files as a ZIP and as a folder must give the same error.
void check_both(const Files& files, const Expected& expected) {
  const TempFolder folder;
  write_zip(folder.path / "job.zip", files);
  write_folder(folder.path / "job", files);
  check_error(first_error(folder.path / "job.zip"), expected);
  check_error(first_error(folder.path / "job"), expected);
  CHECK(folder.entries() == 2);
}

}  // namespace

TEST_CASE("ZIP, packed ZIP and folder give the same layers") {
  const TempFolder folder;
  const Size size{20, 12};
  const Files files = small_job(12);
  write_zip(folder.path / "stored.zip", files);
  write_zip(folder.path / "packed.zip", files, true);
  write_folder(folder.path / "plain", files);
  for (const char* name : {"stored.zip", "packed.zip", "plain"}) {
    const auto archive = Archive::open(folder.path / name);
    REQUIRE(archive);
    CHECK(archive->settings() == parse_manifest(write_manifest(small_settings(12)), "manifest").value());
    CHECK(archive->path() == folder.path / name);
    for (std::uint32_t n = 1; n <= 12; ++n) {
      const auto layer = archive->read_layer(n);
      REQUIRE(layer);
      CHECK(same(*layer, encode(some_mask(size, n), size)));
      CHECK(text_of(archive->read_png(n).value()) == files[n].content);
    }
    CHECK(archive->read_layer(0).error().kind == ErrorKind::usage);
    CHECK(archive->read_layer(13).error().kind == ErrorKind::usage);
  }
}

TEST_CASE("layers come in the order of their numbers, however they are written") {
  const Size size{20, 12};
  const auto order_of = [&](const std::vector<std::string>& names, const std::string& pattern) {
    const TempFolder folder;
    auto settings = small_settings(0);
    settings.files = pattern;
    Files files{{"manifest.json", write_manifest(settings)}};
    for (std::size_t i = names.size(); i-- > 0;)  // stored in reverse
      files.push_back({names[i], png_text(encode(some_mask(size, static_cast<std::uint32_t>(i + 1)), size))});
    write_zip(folder.path / "job.zip", files);
    const auto archive = Archive::open(folder.path / "job.zip");
    REQUIRE(archive);
    REQUIRE(archive->settings().layer_count == names.size());
    for (std::uint32_t n = 1; n <= names.size(); ++n)
      CHECK(same(archive->read_layer(n).value(), encode(some_mask(size, n), size)));
  };
  order_of({"layers/1.png", "layers/2.png", "layers/3.png", "layers/4.png", "layers/5.png", "layers/6.png",
            "layers/7.png", "layers/8.png", "layers/9.png", "layers/10.png", "layers/11.png"},
           "layers/*.png");
  order_of({"layers/0.png", "layers/1.png", "layers/2.png"}, "layers/*.png");
  order_of({"mask_001_a.png", "mask_002_a.png", "mask_003_a.png"}, "mask_*.png");
  order_of({"job2_0001.png", "job2_0002.png"}, "*.png");
  order_of({"0001_v3.png", "0002_v3.png", "0003_v3.png"}, "./*.png");
  order_of({"deck 7 no 1.png"}, "*.png");
  order_of({"10/1.png", "10/2.png"}, "10/*.png");
}

TEST_CASE("files that are no layers are left alone") {
  Files files = small_job(3);
  files.push_back({"notes.txt", "of the workshop"});
  files.push_back({"layers/readme.txt", "9"});
  files.push_back({"layers/thumbs/00004.png", "not a layer"});
  const TempFolder folder;
  write_zip(folder.path / "job.zip", files);
  write_folder(folder.path / "job", files);
  CHECK_FALSE(first_error(folder.path / "job.zip"));
  CHECK_FALSE(first_error(folder.path / "job"));
}

TEST_CASE("a count left out is found, and exceptions are held against it") {
  auto settings = small_settings(0);
  settings.exceptions = {{.from_layer = 2, .to_layer = 3, .height_mm = 0.03, .exposure_s = {}}};
  Files files = small_job(3);
  files[0].content = write_manifest(settings);
  const TempFolder folder;
  write_zip(folder.path / "job.zip", files);
  CHECK(Archive::open(folder.path / "job.zip").value().settings().layer_count == 3);
  settings.exceptions[0].to_layer = 4;
  files[0].content = write_manifest(settings);
  check_both(files, {ErrorKind::invalid, {}, "layers from 1 to 3"});
}

TEST_CASE("what is no archive says so") {
  const TempFolder folder;
  const fs::path none = folder.path / "none.zip", text = folder.path / "text.zip", cut = folder.path / "cut.zip";
  check_error(first_error(none), {ErrorKind::not_found, {}, "no such file"});
  std::ofstream(text) << "plain words";
  check_error(first_error(text), {ErrorKind::broken, {}, "not a ZIP"});
  std::ofstream(folder.path / "empty.zip").flush();
  check_error(first_error(folder.path / "empty.zip"), {ErrorKind::broken, {}, "not a ZIP"});
  write_zip(folder.path / "job.zip", small_job(3));
  const std::string whole = read_text(folder.path / "job.zip").value();
  std::ofstream(cut, std::ios::binary) << whole.substr(0, whole.size() / 2);
  check_error(first_error(cut), {ErrorKind::broken, {}, "cut off"});
  fs::create_directory(folder.path / "bare");
  check_error(first_error(folder.path / "bare"), {ErrorKind::not_found, {}, "manifest.json"});
  check_error(first_error("/dev/null"), {ErrorKind::unreadable, {}, "not a plain file"});
}

TEST_CASE("a ZIP cut off anywhere is an error and never more") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip", cut = folder.path / "cut.zip";
  write_zip(path, small_job(2));
  const std::string whole = read_text(path).value();
  for (std::size_t length = 0; length < whole.size(); length += 3) {
    std::ofstream(cut, std::ios::binary) << whole.substr(0, length);
    REQUIRE(first_error(cut));
  }
}

TEST_CASE("a ZIP with damaged bytes gives its layers or an error") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  const Size size{20, 12};
  write_zip(path, small_job(2), true);
  const std::string whole = read_text(path).value();
  std::mt19937 random(5);
  for (int round = 0; round < 400; ++round) {
    std::string bad = whole;
    for (std::size_t i = 0, n = 1 + random() % 3; i < n; ++i) bad[random() % bad.size()] = static_cast<char>(random());
    std::ofstream(path, std::ios::binary) << bad;
    const auto archive = Archive::open(path);
    for (std::uint32_t n = 1; archive && n <= archive->settings().layer_count; ++n) {
      const auto layer = archive->read_layer(n);
      if (layer && archive->settings().size == size) REQUIRE(same(*layer, encode(some_mask(size, n), size)));
    }
  }
}

TEST_CASE("a file without rights is unreadable") {
  if (::geteuid() == 0) {
    std::cout << "skipped: rights do not bind the superuser\n";
    return;
  }
  const TempFolder folder;
  write_zip(folder.path / "job.zip", small_job(2));
  fs::permissions(folder.path / "job.zip", fs::perms::none);
  check_error(first_error(folder.path / "job.zip"), {ErrorKind::unreadable, {}, "cannot be read"});
}

TEST_CASE("bad manifests stop the job") {
  Files files = small_job(3);
  SECTION("missing") {
    drop(files, "manifest.json");
    check_both(files, {ErrorKind::usage, {}, "nothing says the pixel pitch, the layer height and the exposure time"});
  }
  SECTION("not JSON") {
    files[0].content = "<manifest/>";
    check_both(files, {ErrorKind::broken, {}, "not JSON (line 1, column 1)"});
  }
  SECTION("empty") {
    files[0].content = "";
    check_both(files, {ErrorKind::broken, {}, "\"manifest.json\" is empty"});
  }
  SECTION("too long") {
    files[0].content += std::string((1 << 20) + 1, ' ');
    check_both(files, {ErrorKind::limit, {}, "at most 1048576 bytes"});
  }
  SECTION("pattern leads out") {
    replace_in(files[0].content, "layers/*.png", "../layers/*.png");
    check_both(files, {ErrorKind::invalid, {}, "\"layers.files\" in the manifest is \"../layers/*.png\""});
  }
  SECTION("two of them") {
    files.push_back({"manifest.jsox", files[0].content});
    const TempFolder folder;
    write_zip(folder.path / "job.zip", files);
    patch(folder.path / "job.zip", "manifest.jsox", "manifest.json");
    check_error(first_error(folder.path / "job.zip"), {ErrorKind::mismatch, {}, "two files \"manifest.json\""});
  }
  SECTION("a folder in its place") {
    files[0] = {"manifest.json/x", "{}"};
    const TempFolder folder;
    write_folder(folder.path / "job", files);
    check_error(first_error(folder.path / "job"), {ErrorKind::unreadable, {}, "is a folder"});
  }
}

TEST_CASE("layers that do not add up name the layer") {
  Files files = small_job(12);
  SECTION("hole") {
    drop(files, "layers/00005.png");
    check_both(files, {ErrorKind::mismatch, 5, "there is no \"layers/00005.png\""});
  }
  SECTION("every second one missing") {
    for (int n = 2; n <= 12; n += 2) drop(files, fmt::format("layers/{:05}.png", n));
    check_both(files, {ErrorKind::mismatch, 2, "there is no \"layers/00002.png\""});
  }
  SECTION("first one missing") {
    drop(files, "layers/00001.png");
    check_both(files, {ErrorKind::mismatch, 1, "there is no \"layers/00001.png\""});
  }
  SECTION("last one missing") {
    drop(files, "layers/00012.png");
    check_both(files, {ErrorKind::mismatch, 12,
                       "there is no \"layers/00012.png\" and the archive holds 11 layers; expected 12 layers"});
  }
  SECTION("one too many") {
    files.push_back({"layers/00013.png", files.back().content});
    check_both(files, {ErrorKind::mismatch, 13, "\"layers/00013.png\" is one layer too many"});
  }
  SECTION("one number twice") {
    files.push_back({"layers/7.png", files.back().content});
    check_both(files, {ErrorKind::mismatch, 7, "two files for the layer"});
  }
  SECTION("a stranger among them") {
    files.push_back({"layers/preview.png", files.back().content});
    check_both(files, {ErrorKind::mismatch, {}, "\"layers/preview.png\" does not fit the numbering"});
  }
  SECTION("an absurd number") {
    files.push_back({"layers/99999999999999999999999.png", files.back().content});
    check_both(files, {ErrorKind::mismatch, {}, "does not fit the numbering"});
  }
  SECTION("none at all") {
    files.resize(1);
    check_both(files, {ErrorKind::mismatch, {}, "holds no layer"});
  }
  SECTION("count of none") {
    replace_in(files[0].content, "\"count\": 12", "\"count\": 0");
    files.resize(1);
    check_both(files, {ErrorKind::invalid, {}, "\"layers.count\" in the manifest is 0"});
  }
  SECTION("the same name twice") {
    files.push_back({"layers/0000x.png", files.back().content});
    const TempFolder folder;
    write_zip(folder.path / "job.zip", files);
    patch(folder.path / "job.zip", "layers/0000x.png", "layers/00003.png");
    check_error(first_error(folder.path / "job.zip"), {ErrorKind::mismatch, 3, "two files for the layer"});
  }
  SECTION("a folder in place of a layer") {
    drop(files, "layers/00004.png");
    files.push_back({"layers/00004.png/x", "x"});
    const TempFolder folder;
    write_folder(folder.path / "job", files);
    check_error(first_error(folder.path / "job"), {ErrorKind::unreadable, 4, "is a folder"});
    write_zip(folder.path / "job.zip", files);
    check_error(first_error(folder.path / "job.zip"), {ErrorKind::mismatch, 4, "there is no \"layers/00004.png\""});
  }
}

TEST_CASE("bad masks name the layer") {
  Files files = small_job(4);
  std::string& png = file_named(files, "layers/00003.png").content;
  SECTION("another size") {
    png = png_text(encode(Pixels(std::size_t{12} * 20, 255), {12, 20}));
    check_both(files, {ErrorKind::mismatch, 3, "the mask is 12 x 20 pixels; expected 20 x 12 pixels"});
  }
  SECTION("cut off") {
    png.resize(png.size() / 2);
    check_both(files, {ErrorKind::broken, 3, "cut off"});
  }
  SECTION("empty") {
    png.clear();
    check_both(files, {ErrorKind::broken, 3, "is empty"});
  }
  SECTION("no PNG") {
    png = "JFIF and so on";
    check_both(files, {ErrorKind::broken, 3, "not a PNG"});
  }
  SECTION("damaged") {
    png[png.size() - 20] = static_cast<char>(png[png.size() - 20] ^ 0x10);
    check_both(files, {ErrorKind::broken, 3, "checksum"});
  }
}

TEST_CASE("names that lead out of the archive are refused") {
  for (const std::string trick : {"../layers/00003.png", "layers/../../etc/00003", "/layers/000000003.png",
                                  "layers\\00003.png", "C:/layers/00003.png", "layers/..", "lay\x1B[2Jers"}) {
    Files files = small_job(2);
    files.push_back({trick, "x"});
    const TempFolder folder;
    write_zip(folder.path / "job.zip", files);
    INFO(trick);
    check_error(first_error(folder.path / "job.zip"), {ErrorKind::invalid, {}, "the archive holds a file named"});
    CHECK(folder.entries() == 1);
  }
}

TEST_CASE("limits are held against what an archive claims, before it is read") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  SECTION("too many layers") {
    write_zip(path, small_job(4));
    Limits limits;
    limits.layers = 3;
    check_error(first_error(path, limits), {ErrorKind::limit, {}, "\"layers.count\" in the manifest is 4"});
    Files files = small_job(4);
    files[0].content = write_manifest(small_settings(0));
    write_zip(path, files);
    check_error(first_error(path, limits), {ErrorKind::limit, {}, "holds 4 layers"});
  }
  SECTION("a file too large") {
    write_zip(path, small_job(4));
    Limits limits;
    limits.entry_bytes = 50;
    check_error(first_error(path, limits), {ErrorKind::limit, 1, "at most 50 bytes"});
  }
  SECTION("a ZIP bomb") {
    // Deflate stops at about 1032 to 1, so the limit is lowered to see it work.
    Files files = small_job(2);
    files.back().content = std::string(20 << 20, '\0');
    write_zip(path, files, true);
    Limits limits;
    limits.compression_ratio = 500;
    check_error(first_error(path, limits), {ErrorKind::limit, 2, "packed into"});
  }
  SECTION("a picture too large") {
    write_zip(path, small_job(2));
    Limits limits;
    limits.pixels_per_mask = 239;
    check_error(first_error(path, limits), {ErrorKind::limit, {}, "\"image\" in the manifest is 20 x 12 pixels"});
  }
}

TEST_CASE("many threads read one archive and see the same layers") {
  const TempFolder folder;
  const Size size{200, 120};
  constexpr std::uint32_t count = 40;
  write_zip(folder.path / "job.zip", small_job(count, size));
  const auto archive = Archive::open(folder.path / "job.zip");
  REQUIRE(archive);
  std::vector<int> wrong(8, 0);
  std::vector<std::thread> threads;
  for (std::uint32_t t = 0; t < wrong.size(); ++t)
    threads.emplace_back([&, t] {
      for (std::uint32_t i = 0; i < count; ++i) {
        const std::uint32_t n = 1 + (i * 7 + t * 5) % count;
        const auto layer = archive->read_layer(n);
        if (!layer || !same(*layer, encode(some_mask(size, n), size))) ++wrong[t];
      }
    });
  for (std::thread& thread : threads) thread.join();
  CHECK(wrong == std::vector<int>(8, 0));
}

TEST_CASE("a written archive reads back, byte for byte the same each time") {
  const TempFolder folder;
  const Size size{50, 30};
  JobSettings settings = small_settings(5, size);
  settings.pitch = {0.05, 0.06};
  settings.exceptions = {{.from_layer = 2, .to_layer = 3, .height_mm = 0.03, .exposure_s = 2.1}};
  settings.motion.lift_mm = 5;
  const auto write = [&](const fs::path& path) {
    auto writer = ArchiveWriter::create(path, settings);
    REQUIRE(writer);
    for (std::uint32_t n = 1; n <= 5; ++n) REQUIRE(writer->add(encode(some_mask(size, n), size)));
    CHECK_FALSE(fs::exists(path));
    REQUIRE(writer->finish());
    CHECK(writer->add(encode(some_mask(size, 1), size)).error().kind == ErrorKind::unwritable);
  };
  write(folder.path / "a.zip");
  write(folder.path / "b.zip");
  CHECK(read_bytes(folder.path / "a.zip") == read_bytes(folder.path / "b.zip"));
  CHECK(folder.entries() == 2);
  const auto archive = Archive::open(folder.path / "a.zip");
  REQUIRE(archive);
  JobSettings read = archive->settings();
  read.assumed.clear();
  CHECK(read == settings);
  for (std::uint32_t n = 1; n <= 5; ++n) CHECK(same(archive->read_layer(n).value(), encode(some_mask(size, n), size)));
}

TEST_CASE("an archive that is not finished leaves nothing, and the old one stays") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  REQUIRE(write_text(path, "old"));
  {
    auto writer = ArchiveWriter::create(path, small_settings(2));
    REQUIRE(writer);
    REQUIRE(writer->add(encode(some_mask({20, 12}, 1), {20, 12})));
    CHECK(writer->add(encode(some_mask({12, 20}, 1), {12, 20})).error().kind == ErrorKind::mismatch);
    CHECK(writer->finish().error().kind == ErrorKind::mismatch);
    REQUIRE(writer->add(encode(some_mask({20, 12}, 1), {20, 12})));
    CHECK(writer->add(encode(some_mask({20, 12}, 1), {20, 12})).error().kind == ErrorKind::mismatch);
  }
  CHECK(read_text(path).value() == "old");
  CHECK(folder.entries() == 1);
  CHECK(ArchiveWriter::create(folder.path / "none" / "job.zip", small_settings(2)).error().kind ==
        ErrorKind::unwritable);
  CHECK(ArchiveWriter::create(folder.path, small_settings(2)).error().kind == ErrorKind::unwritable);
  CHECK(ArchiveWriter::create("/dev/null", small_settings(2)).error().kind == ErrorKind::unwritable);
}

TEST_CASE("an archive's bytes do not hang on the rights of files") {
  const TempFolder folder;
  const auto draw = [](std::uint32_t number) { return encode(some_mask({20, 12}, number), {20, 12}); };
  std::string first;
  for (const ::mode_t mask : {0077, 0002}) {
    const ::mode_t before = ::umask(mask);
    Progress progress;
    const fs::path path = folder.path / fmt::format("{}.zip", mask);
    const auto wrote = write_archive(path, small_settings(3), PngFilter::up, draw, progress);
    ::umask(before);
    REQUIRE(wrote);
    const std::string bytes = read_text(path).value();
    CHECK((first.empty() || bytes == first));
    first = bytes;
  }
}

TEST_CASE("the shared layer archives open and decode") {
  // Real meshes cut by a general-purpose library; sizes and counts as their makers state them (472 and 135 layers).
  for (const auto& [name, count] : {std::pair{"spot-layers.zip", 472u}, std::pair{"frog-layers.zip", 135u}}) {
    const auto path = test::shared(name);
    if (!path) continue;
    const auto archive = Archive::open(*path);
    REQUIRE(archive);
    CHECK(archive->settings().layer_count == count);
    CHECK_FALSE(first_error(*path));
  }
}

TEST_CASE("a whole archive in one call counts its layers, and stops on request without a trace") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  const auto draw = [](std::uint32_t number) { return encode(some_mask({20, 12}, number), {20, 12}); };
  Progress progress;
  REQUIRE(write_archive(path, small_settings(3), PngFilter::up, draw, progress));
  CHECK(progress.done() == 3);
  const auto archive = Archive::open(path);
  REQUIRE(archive);
  for (std::uint32_t n = 1; n <= 3; ++n) CHECK(same(archive->read_layer(n).value(), draw(n)));
  const auto cancelling = [&](std::uint32_t number) {
    if (number == 2) progress.cancel();
    return draw(number);
  };
  const auto stopped = write_archive(folder.path / "other.zip", small_settings(3), PngFilter::up, cancelling, progress);
  REQUIRE_FALSE(stopped);
  CHECK(stopped.error().kind == ErrorKind::cancelled);
  CHECK(stopped.error().layer == 3);
  CHECK(folder.entries() == 1);
}
