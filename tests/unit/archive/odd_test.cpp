// Odd archives and masks that are read all the same (docs/errors.md, "Odd, but accepted"), each beside its twin that is
// not. Offsets in ZIP headers: PKWARE APPNOTE 6.3.10, 4.3.7 and 4.3.12; parts of PNGs: ISO/IEC 15948, 5.3.
#include <libdeflate.h>

#include <functional>

#include "support.hpp"

using namespace archive_test;

namespace {

constexpr Size size{20, 12};
constexpr const char* second = "layers/00002.png";

// Where the header of the second layer's entry begins, found by the name behind it.
std::size_t local_at(const std::string& zip) {
  return zip.find(second) - 30;
}
std::size_t central_at(const std::string& zip) {
  return zip.rfind(second) - 46;
}

void set_u16(std::string& zip, std::size_t at, std::uint32_t value) {
  for (std::size_t i = 0; i < 2; ++i) zip[at + i] = static_cast<char>(value >> (8 * i));
}
void set_u32(std::string& zip, std::size_t at, std::uint32_t value) {
  set_u16(zip, at, value & 0xFFFF);
  set_u16(zip, at + 2, value >> 16);
}

using Change = std::function<void(std::string& zip)>;

// The outcome of the second of three layers after a change to the archive.
Result<Layer> second_layer(const Change& change) {
  const TempFolder folder;
  const fs::path path = folder.path / "job.zip";
  write_zip(path, small_job(3));
  std::string zip = read_text(path).value();
  change(zip);
  std::ofstream(path, std::ios::binary) << zip;
  const auto archive = Archive::open(path);
  if (!archive) return tl::unexpected(archive.error());
  return archive->read_layer(2);
}

void is_layer(const Change& change, std::uint32_t number = 2) {
  const auto layer = second_layer(change);
  INFO((layer ? "" : to_paragraph(layer.error())));
  REQUIRE(layer);
  CHECK(same(*layer, encode(some_mask(size, number), size)));
}

void is_broken(const Change& change) {
  const auto layer = second_layer(change);
  REQUIRE(!layer);
  INFO(to_paragraph(layer.error()));
  CHECK(layer.error().kind == ErrorKind::broken);
}

// A sound mask with a part put in before its image data ("IDAT") or its end ("IEND").
Bytes with_part(const char* before, const std::string& type, const std::string& content, bool sound_checksum = true) {
  std::string file = png_text(encode(some_mask(size, 2), size));
  const std::string part = type + content;
  const std::uint32_t checksum = libdeflate_crc32(0, part.data(), part.size()) ^ (sound_checksum ? 0u : 1u);
  const auto big_endian = [](std::uint32_t value) {
    std::string text;
    for (int shift = 24; shift >= 0; shift -= 8) text += static_cast<char>(value >> shift);
    return text;
  };
  file.insert(file.find(before) - 4,
              big_endian(static_cast<std::uint32_t>(content.size())) + part + big_endian(checksum));
  const auto* at = reinterpret_cast<const std::byte*>(file.data());
  return {at, at + file.size()};
}

bool reads(const Bytes& file) {
  const auto layer = decode_png(file, size, {"mask.png", 2});
  return layer && same(*layer, encode(some_mask(size, 2), size));
}

}  // namespace

TEST_CASE("of a local header only the place of the data counts") {
  is_layer([](std::string& zip) { zip.replace(local_at(zip) + 30, 16, "layers/00009.png"); });
  is_layer([](std::string& zip) { set_u32(zip, local_at(zip) + 14, 0x12345678); });  // checksum
  is_layer([](std::string& zip) { set_u32(zip, local_at(zip) + 18, 5); });           // packed size
  is_layer([](std::string& zip) { set_u32(zip, local_at(zip) + 22, 5); });           // size
  is_layer([](std::string& zip) { set_u16(zip, local_at(zip) + 8, 8); });            // method
  is_layer([](std::string& zip) { set_u16(zip, local_at(zip) + 6, 1); });            // encrypted
  is_broken([](std::string& zip) { set_u16(zip, local_at(zip) + 28, 5); });          // length of the extra field
}

TEST_CASE("the directory's checksum, encryption and places are held to") {
  is_broken([](std::string& zip) { set_u32(zip, central_at(zip) + 16, 0x12345678); });
  is_broken([](std::string& zip) { set_u16(zip, central_at(zip) + 8, 1); });
  is_broken([](std::string& zip) { set_u32(zip, central_at(zip) + 42, static_cast<std::uint32_t>(zip.size())); });
  is_broken([](std::string& zip) { set_u16(zip, zip.rfind("PK\5\6") + 10, 9); });  // entries in all
}

TEST_CASE("entries may lie in one place where what is read there fits both") {
  // Layer 2 has the directory entry of layer 3 under its own name.
  is_layer(
      [](std::string& zip) {
        const std::size_t from = zip.rfind("layers/00003.png") - 46;
        zip.replace(central_at(zip), 46, zip.substr(from, 46));
      },
      3);
  // Only its place: size and checksum no longer fit.
  is_broken([](std::string& zip) {
    const std::size_t from = zip.rfind("layers/00003.png") - 46;
    zip.replace(central_at(zip) + 42, 4, zip.substr(from + 42, 4));
  });
}

TEST_CASE("bytes behind an archive are passed over as far as a comment could reach, bytes before it are not") {
  is_layer([](std::string& zip) { zip += std::string(60'000, 'x'); });
  is_broken([](std::string& zip) { zip += std::string(80'000, 'x'); });
  is_broken([](std::string& zip) { zip.insert(0, std::string(100, 'x')); });
}

TEST_CASE("parts of a PNG that no mask needs are passed over, damaged or not") {
  CHECK(reads(with_part("IDAT", "tEXt", "museum")));
  CHECK(reads(with_part("IDAT", "tEXt", "museum", false)));
  CHECK(reads(with_part("IDAT", "gAMA", std::string("\0\1\x86\xA0", 4))));
  CHECK(reads(with_part("IEND", "tEXt", "museum")));
  CHECK(reads(with_part("IDAT", "PLTE", std::string(3, 'x'))));  // a palette in a grey picture
  CHECK(reads(with_part("IDAT", "IDAT", "")));
  CHECK(reads(with_part("IEND", "IDAT", "")));
  CHECK_FALSE(reads(with_part("IDAT", "PLTE", std::string(3, 'x'), false)));
  CHECK_FALSE(reads(with_part("IDAT", "PLTE", "xx")));
  CHECK_FALSE(reads(with_part("IDAT", "ABCD", "museum")));
}

TEST_CASE("bytes behind a PNG's end are not looked at") {
  Bytes file = with_part("IEND", "tEXt", "museum");
  file.insert(file.end(), 100, std::byte{'x'});
  CHECK(reads(file));
  file.resize(file.size() - 101);
  CHECK_FALSE(reads(file));
}

TEST_CASE("a manifest may hold what changes nothing") {
  const std::string text = write_manifest(small_settings(3));
  const JobSettings plain = parse_manifest(text, "").value();
  const auto settings = [](const std::string& manifest) {
    auto read = parse_manifest(manifest, "");
    INFO(manifest << (read ? "" : to_paragraph(read.error())));
    REQUIRE(read);
    return *read;
  };
  const auto with = [&](const std::string& field) { return text.substr(0, text.rfind('}')) + "," + field + "}"; };
  CHECK(settings("\xEF\xBB\xBF" + text) == plain);
  CHECK(settings(text + " \r\n\t") == plain);
  CHECK(settings(with(R"("colour": ["red"])")) == plain);
  CHECK(settings(with(R"("title": "first", "title": "rail")")).title == "rail");
  CHECK(settings(with(R"("title": "deck\u001b[31m")")).title == "deck\x1b[31m");
  std::string point = text;
  const std::string count = "\"count\": 3";
  REQUIRE(point.find(count) != std::string::npos);
  CHECK(settings(point.replace(point.find(count), count.size(), count + ".0")) == plain);
}
