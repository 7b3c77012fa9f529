// Archives that change while they are read, and what may stand in a folder in place of a file. The judges are the two
// versions that were written: what is read is one of them, or an error that says what happened.
#include <fcntl.h>
#include <sys/stat.h>

#include <array>
#include <atomic>
#include <functional>
#include <thread>

#include "support.hpp"

using namespace archive_test;

namespace {

constexpr Size size{20, 12};
constexpr std::uint32_t layers = 12;

/// Layers of one version all have one grey value, so that each file of both versions is equally long.
std::vector<File> version(std::uint8_t value) {
  std::vector<File> files{{"manifest.json", write_manifest(small_settings(layers, size))}};
  const Layer layer = encode(Pixels(std::size_t{20} * 12, value), size);
  for (std::uint32_t n = 1; n <= layers; ++n)
    files.push_back({"layers/" + std::to_string(100 + n).substr(1) + ".png", png_text(layer)});
  return files;
}

/// The value of all layers read one after the other; 0 where they differ.
Result<std::uint8_t> value_of(const fs::path& path) {
  const auto archive = Archive::open(path);
  if (!archive) return tl::unexpected(archive.error());
  std::optional<std::uint8_t> value;
  for (std::uint32_t n = 1; n <= archive->settings().layer_count; ++n) {
    const auto layer = archive->read_layer(n);
    if (!layer) return tl::unexpected(layer.error());
    const std::uint8_t here = layer->runs.at(0).value;
    if (value && *value != here) return std::uint8_t{0};
    value = here;
  }
  if (auto same = archive->unchanged(); !same) return tl::unexpected(same.error());
  return *value;
}

bool says_changed(const Error& error) {
  return error.kind == ErrorKind::unreadable && error.found.find("changed while it was read") != std::string::npos &&
         !error.file.empty() && !error.advice.empty();
}

std::string zip_text(const TempFolder& folder, std::uint8_t value) {
  write_zip(folder.path / "made.zip", version(value));
  return text_of(read_bytes(folder.path / "made.zip"));
}

void write_over(const fs::path& path, const std::string& text) {
  const int file = ::open(path.c_str(), O_WRONLY | O_TRUNC);
  REQUIRE(file >= 0);
  REQUIRE(::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()));
  ::close(file);
}

void rename_over(const fs::path& path, const std::string& text) {
  std::ofstream(path.string() + ".new", std::ios::binary) << text;
  fs::rename(path.string() + ".new", path);
}

/// Reads while another thread replaces the archive 150 times between two versions.
template <class Replace>
std::vector<Result<std::uint8_t>> read_meanwhile(const fs::path& path, const std::array<std::string, 2>& texts,
                                                 const Replace& replace) {
  rename_over(path, texts[0]);
  std::atomic<bool> done{false};
  std::thread writer([&] {
    for (std::size_t i = 1; i <= 150; ++i) {
      replace(path, texts[i % 2]);
      std::this_thread::sleep_for(std::chrono::microseconds(i % 5 * 300));
    }
    done = true;
  });
  std::vector<Result<std::uint8_t>> seen;
  while (!done) seen.push_back(value_of(path));
  writer.join();
  seen.push_back(value_of(path));
  return seen;
}

std::optional<Error> first_error(const fs::path& path) {
  const auto value = value_of(path);
  return value ? std::optional<Error>() : value.error();
}

}  // namespace

TEST_CASE("a ZIP renamed over another while it is read gives one of the two") {
  const TempFolder folder;
  const auto seen =
      read_meanwhile(folder.path / "job.zip", {zip_text(folder, 200), zip_text(folder, 100)}, rename_over);
  for (const auto& one : seen) {
    INFO((one ? std::to_string(*one) : to_paragraph(one.error())));
    REQUIRE((one ? *one == 200 || *one == 100 : says_changed(one.error())));
  }
  CHECK(seen.back() == std::uint8_t{200});
}

TEST_CASE("a ZIP written over while it is read gives one of the two or an error, never a mixture") {
  const TempFolder folder;
  const auto seen = read_meanwhile(folder.path / "job.zip", {zip_text(folder, 200), zip_text(folder, 100)}, write_over);
  for (const auto& one : seen) {
    INFO((one ? std::to_string(*one) : to_paragraph(one.error())));
    // A file that is opened half written is a ZIP that is cut off.
    REQUIRE((one ? *one == 200 || *one == 100 : says_changed(one.error()) || one.error().kind == ErrorKind::broken));
  }
  CHECK(seen.back() == std::uint8_t{200});
}

TEST_CASE("an opened ZIP stays what it was, or says that it has changed") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  const std::string before = zip_text(folder, 200), after = zip_text(folder, 100);
  REQUIRE(before.size() == after.size());
  rename_over(path, before);
  std::this_thread::sleep_for(std::chrono::milliseconds(30));  // so that the clock of the file system has moved on
  const auto archive = Archive::open(path);
  REQUIRE(archive);
  REQUIRE(archive->read_layer(1));
  SECTION("another file renamed over it, or no file any more") {
    rename_over(path, after);
    for (std::uint32_t n = 1; n <= layers; ++n) CHECK(archive->read_layer(n).value().runs.at(0).value == 200);
    fs::remove(path);
    CHECK(archive->read_layer(layers).value().runs.at(0).value == 200);
    return;
  }
  struct ::stat old {};
  REQUIRE(::stat(path.c_str(), &old) == 0);
  SECTION("written over") {
    write_over(path, after);
  }
  SECTION("cut off") {
    fs::resize_file(path, 40);
  }
  SECTION("longer") {
    fs::resize_file(path, before.size() + 1);
  }
  SECTION("written over and the time set back") {
    write_over(path, after);
    const struct ::timespec times[2] = {old.st_atim, old.st_mtim};
    REQUIRE(::utimensat(AT_FDCWD, path.c_str(), times, 0) == 0);
  }
  const auto layer = archive->read_layer(2);
  REQUIRE_FALSE(layer);
  INFO(to_paragraph(layer.error()));
  CHECK(says_changed(layer.error()));
  CHECK(layer.error().file == path.string());
  CHECK(layer.error().layer == 2u);
}

TEST_CASE("a folder's files stay what they were, or the one that has changed is named") {
  const TempFolder folder;
  const fs::path path = folder.path / "job";
  write_folder(path, version(200));
  const auto archive = Archive::open(path);
  REQUIRE(archive);
  REQUIRE(archive->read_layer(3));
  REQUIRE(archive->unchanged());
  const std::string other = version(100)[1].content;
  std::this_thread::sleep_for(std::chrono::milliseconds(30));
  SECTION("what is no part of the job may change") {
    std::ofstream(path / "report.json") << "{}";
    write_over(path / "layers/05.png", other);  // not read yet
    CHECK(archive->unchanged());
    return;
  }
  const auto check = [&](const Result<void>& result, const std::string& name) {
    REQUIRE_FALSE(result);
    INFO(to_paragraph(result.error()));
    CHECK(says_changed(result.error()));
    CHECK(result.error().file == path.string());
    CHECK(result.error().found.find(name) == 1);
  };
  const auto read = [&](std::uint32_t number) { return archive->read_layer(number).map([](const Layer&) {}); };
  SECTION("written over") {
    write_over(path / "layers/05.png", other);
    check(read(5), "layers/05.png");
    CHECK(read(5).error().layer == 5u);
  }
  SECTION("renamed over") {
    rename_over(path / "layers/05.png", other);
    check(read(5), "layers/05.png");
  }
  SECTION("removed") {
    fs::remove(path / "layers/05.png");
    check(read(5), "layers/05.png");
  }
  SECTION("written after it was read") {
    write_over(path / "layers/03.png", other);
    check(archive->unchanged(), "layers/03.png");
  }
  SECTION("the manifest") {
    write_over(path / "manifest.json", version(100)[0].content);
    check(archive->unchanged(), "manifest.json");
  }
}

TEST_CASE("what is no file in a folder says what it is") {
  const TempFolder folder;
  const fs::path path = folder.path / "job", layer = path / "layers/05.png", manifest = path / "manifest.json";
  write_folder(path, version(200));
  std::ofstream(folder.path / "outside.png", std::ios::binary) << version(200)[1].content;
  struct Case {
    std::function<void(const fs::path&)> put;
    ErrorKind kind;
    std::string words;
  };
  const std::vector<Case> cases{
      {[](const fs::path& at) { REQUIRE(::mkfifo(at.c_str(), 0600) == 0); }, ErrorKind::unreadable, "is a pipe"},
      {[](const fs::path& at) { fs::create_symlink("nothing", at); }, ErrorKind::unreadable, "is a link to nothing"},
      {[](const fs::path& at) { fs::create_symlink(at.filename(), at); }, ErrorKind::unreadable,
       "is a link that leads back to itself"},
      {[&](const fs::path& at) { fs::create_symlink(folder.path / "outside.png", at); }, ErrorKind::invalid,
       "is a link that leads out of the archive"},
      {[](const fs::path& at) { fs::create_symlink("/dev/zero", at); }, ErrorKind::invalid,
       "leads out of the archive"}};
  for (const Case& one : cases)
    for (const fs::path& at : {layer, manifest}) {
      fs::rename(at, folder.path / "kept");
      one.put(at);
      const auto error = first_error(path);
      REQUIRE(error);
      INFO(to_paragraph(*error));
      CHECK(error->kind == one.kind);
      CHECK(error->found.find(at.filename().string()) != std::string::npos);
      CHECK(error->found.find(one.words) != std::string::npos);
      CHECK(error->layer == (at == layer ? std::optional<std::uint32_t>(5) : std::nullopt));
      fs::remove(at);
      fs::rename(folder.path / "kept", at);
    }
  CHECK_FALSE(first_error(path));
}

TEST_CASE("links inside a folder are followed, and a folder of layers that lies elsewhere is not") {
  const TempFolder folder;
  const fs::path path = folder.path / "job";
  write_folder(path, version(200));
  fs::rename(path / "layers/05.png", path / "five");
  fs::create_symlink("../five", path / "layers/05.png");
  CHECK(value_of(path) == std::uint8_t{200});
  fs::rename(path / "layers", path / "masks");
  fs::create_symlink("masks", path / "layers");
  CHECK(value_of(path) == std::uint8_t{200});
  fs::create_symlink("job", folder.path / "link");  // the archive itself may be named by a link
  CHECK(value_of(folder.path / "link") == std::uint8_t{200});
  fs::remove(path / "layers/05.png");
  fs::rename(path / "five", path / "masks/05.png");
  fs::rename(path / "masks", folder.path / "elsewhere");
  fs::remove(path / "layers");
  fs::create_symlink("../elsewhere", path / "layers");
  CHECK(first_error(path)->kind == ErrorKind::invalid);
  CHECK(first_error(path)->found == "\"layers/\" is a link that leads out of the archive");
  fs::remove(path / "layers");
  fs::create_symlink("nowhere", path / "layers");
  CHECK(first_error(path)->kind == ErrorKind::unreadable);
  fs::remove(path / "layers");
  std::ofstream(path / "layers") << "a file";
  CHECK(first_error(path)->kind == ErrorKind::unreadable);
  CHECK(first_error(path)->found.find("the folder cannot be read") == 0);
}

TEST_CASE("a folder without rights inside an archive is named") {
  if (::geteuid() == 0) {
    std::cout << "skipped: rights do not bind the superuser\n";
    return;
  }
  const TempFolder folder;
  const fs::path path = folder.path / "job";
  write_folder(path, version(200));
  fs::permissions(path / "layers", fs::perms::none);
  const auto error = first_error(path);
  fs::permissions(path / "layers", fs::perms::owner_all);
  REQUIRE(error);
  CHECK(error->kind == ErrorKind::unreadable);
  CHECK(error->file == (path / "layers/").string());
}

// ---- the directory of a ZIP ----

namespace {

std::string little(std::uint64_t value, int bytes) {
  std::string out;
  for (int i = 0; i < bytes; ++i) out += static_cast<char>(value >> 8 * i);
  return out;
}

/// The end of a ZIP64 file (PKWARE APPNOTE 6.3.10, 4.3.14 to 4.3.16) whose directory is a hole in the file.
void write_hollow_zip(const fs::path& path, std::uint64_t entries, std::uint64_t directory_bytes) {
  std::ofstream file(path, std::ios::binary);
  file << std::string("PK\3\4", 4);
  file.seekp(static_cast<std::streamoff>(4 + directory_bytes));
  file << std::string("PK\6\6", 4) << little(44, 8) << little(45, 2) << little(45, 2) << little(0, 8)
       << little(entries, 8) << little(entries, 8) << little(directory_bytes, 8) << little(4, 8);
  file << std::string("PK\6\7", 4) << little(0, 4) << little(4 + directory_bytes, 8) << little(1, 4);
  file << std::string("PK\5\6", 4) << little(0xFFFF, 4) << little(0xFFFF, 4) << little(0xFFFFFFFF, 4)
       << little(0xFFFFFFFF, 4) << little(0, 2);
}

}  // namespace

TEST_CASE("a ZIP whose directory claims too much is refused before it is made") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  const auto check = [&](ErrorKind kind, const std::string& words, const Limits& limits = {}) {
    OpenOptions options;
    options.limits = limits;
    const auto archive = Archive::open(path, options);
    REQUIRE_FALSE(archive);
    INFO(to_paragraph(archive.error()));
    CHECK(archive.error().kind == kind);
    CHECK(to_paragraph(archive.error()).find(words) != std::string::npos);
  };
  write_hollow_zip(path, 50'000'000, 2'300'000'000);
  check(ErrorKind::limit, "claims 50000000 files in 2300000000 bytes; expected at most 300000 files in 67108864 bytes");
  write_hollow_zip(path, 3, 2'300'000'000);
  check(ErrorKind::limit, "claims 3 files in 2300000000 bytes");
  write_hollow_zip(path, 200'000, 1'000'000);
  check(ErrorKind::broken, "expected at least 46 bytes for each file");
  write_hollow_zip(path, 3, 200);
  check(ErrorKind::broken, "the ZIP file is");
  Limits small;
  small.entries = layers;
  write_zip(path, version(200));  // and the manifest
  check(ErrorKind::limit, "claims 13 files", small);
  small.entries = layers + 1;
  OpenOptions options;
  options.limits = small;
  CHECK(Archive::open(path, options));
}

TEST_CASE("of a ZIP's local headers only the place counts, and files may overlap") {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  const std::string sound = zip_text(folder, 200);
  const std::size_t local = sound.find("layers/05.png") - 30, listed = sound.find("layers/05.png", local + 43) - 46;
  const std::size_t next = sound.find("layers/06.png", listed) - 46;
  const auto value_with = [&](std::size_t at, const std::string& text) {
    std::string odd = sound;
    rename_over(path, odd.replace(at, text.size(), text));
    return value_of(path);
  };
  CHECK(value_with(local + 30, "layers/xx.png") == std::uint8_t{200});  // name (APPNOTE 6.3.10, 4.3.7)
  CHECK(value_with(local + 14, "crc?") == std::uint8_t{200});
  CHECK(value_with(local + 18, "longlong") == std::uint8_t{200});  // packed and unpacked length
  // Two files in one place: equal here, so that the checksum of each is right.
  CHECK(value_with(next + 42, sound.substr(listed + 42, 4)) == std::uint8_t{200});
  CHECK(value_with(listed + 16, "crc?").error().kind == ErrorKind::broken);  // the directory's own
}

TEST_CASE("a stored mask far larger than its pixels is refused") {
  const TempFolder folder;
  std::vector<File> files = version(200);
  files[4].content += std::string((16 << 20) + 1920, 'x');  // behind the end of the PNG
  write_zip(folder.path / "job.zip", files);
  const auto error = first_error(folder.path / "job.zip");
  REQUIRE(error);
  CHECK(error->kind == ErrorKind::limit);
  CHECK(error->layer == 4u);
  // Eight bytes for each of 20 x 12 pixels, and 16 MiB for what stands beside them.
  CHECK(error->expected == "at most 16779136 bytes");
}
