// PNG decoding and encoding. Judges: stb_image called directly, OpenCV, libpng as the writer of every kind there is,
// and the values the samples must have by the PNG standard (ISO/IEC 15948).
#include <libdeflate.h>
#include <png.h>

#include <array>
#include <cstring>
#include <opencv2/imgcodecs.hpp>
#include <set>

#include "archive/png_inflate.hpp"
#include "support.hpp"

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#include <stb/stb_image.h>

using namespace archive_test;

namespace {

const stbi_uc* stb_bytes(const Bytes& file) {
  return reinterpret_cast<const stbi_uc*>(file.data());
}

std::uint32_t big_endian(const Bytes& file, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i) value = (value << 8) | std::to_integer<std::uint32_t>(file[at + i]);
  return value;
}
Size stated_size(const Bytes& file) {
  return {big_endian(file, 16), big_endian(file, 20)};
}
int colour_type(const Bytes& file) {
  return std::to_integer<int>(file[25]);
}
bool has_chunk(const Bytes& file, const char* type) {
  return text_of(file).find(type) != std::string::npos;
}

/// Grey pixels by stb_image alone; none where it refuses the file.
std::optional<Pixels> by_stb(const Bytes& file) {
  const bool alpha = colour_type(file) == 4 || colour_type(file) == 6 || has_chunk(file, "tRNS");
  int width = 0, height = 0, channels = 0;
  stbi_uc* data =
      stbi_load_from_memory(stb_bytes(file), static_cast<int>(file.size()), &width, &height, &channels, alpha ? 2 : 1);
  if (data == nullptr) return {};
  Pixels grey(static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  for (std::size_t i = 0; i < grey.size(); ++i)
    grey[i] = alpha ? static_cast<std::uint8_t>(std::lround(data[2 * i] * data[2 * i + 1] / 255.0)) : data[i];
  stbi_image_free(data);
  return grey;
}

Limits row_by_row() {
  Limits limits;
  limits.whole_bytes = 0;
  return limits;
}

/// Inflated at once and row by row, which must give the same.
template <class Decode>
Result<Layer> decoded_by(const Decode& decode_one, const Bytes& file, Size size) {
  auto whole = decode_one(file, size, PngSource{"mask.png", 7}, Limits());
  const auto rows = decode_one(file, size, PngSource{"mask.png", 7}, row_by_row());
  REQUIRE(whole.has_value() == rows.has_value());
  if (whole)
    REQUIRE(same(*whole, *rows));
  else
    REQUIRE(whole.error().kind == rows.error().kind);
  return whole;
}

Result<Layer> decoded(const Bytes& file, Size size) {
  return decoded_by(decode_png, file, size);
}

/// Red, green and blue side by side, by stb_image alone.
Pixels subpixels_by_stb(const Bytes& file) {
  int width = 0, height = 0, channels = 0;
  stbi_uc* data = stbi_load_from_memory(stb_bytes(file), static_cast<int>(file.size()), &width, &height, &channels, 3);
  REQUIRE(data != nullptr);
  Pixels out(data, data + std::size_t{3} * static_cast<std::size_t>(width) * static_cast<std::size_t>(height));
  stbi_image_free(data);
  return out;
}

// ---- every kind of PNG, written by libpng ----

struct Kind {
  int colour = 0, depth = 8;
  bool interlaced = false;
  int filters = PNG_ALL_FILTERS;
  bool small_chunks = false;
};

int channels_of(int colour) {
  return colour == 2 ? 3 : colour == 4 ? 2 : colour == 6 ? 4 : 1;
}

struct Picture {
  Size size;
  std::vector<std::uint32_t> samples;  // channels side by side
  std::vector<std::array<std::uint8_t, 3>> palette;
  std::vector<std::uint8_t> palette_alpha;
  std::optional<std::uint32_t> see_through;  // grey value of tRNS
};

Picture some_picture(Size size, const Kind& kind, std::uint32_t seed) {
  std::mt19937 random(seed);
  Picture picture{size, {}, {}, {}, {}};
  const auto channels = static_cast<std::size_t>(channels_of(kind.colour));
  const std::uint32_t most = kind.colour == 3 ? std::min(255u, (1u << kind.depth) - 1) : (1u << kind.depth) - 1;
  const std::size_t count = std::size_t{size.width_px} * size.height_px * channels;
  while (picture.samples.size() < count) {  // flat stretches with edges between, as in masks
    const std::uint32_t value =
        random() % 3 == 0 ? static_cast<std::uint32_t>(random()) & most : (random() % 2 ? most : 0);
    const std::size_t row = std::size_t{size.width_px} * channels;
    if (random() % 4 == 0 && picture.samples.size() >= row) {
      for (std::size_t i = 0; i < row && picture.samples.size() < count; ++i)
        picture.samples.push_back(picture.samples[picture.samples.size() - row]);
    } else {
      for (std::size_t i = 0, n = 1 + random() % 30; i < n && picture.samples.size() < count; ++i)
        picture.samples.push_back(value);
    }
  }
  if (kind.colour == 3)
    for (std::uint32_t i = 0; i <= most; ++i) {
      picture.palette.push_back({static_cast<std::uint8_t>(random()), static_cast<std::uint8_t>(random()),
                                 static_cast<std::uint8_t>(random())});
      if (seed % 2 && i < 5) picture.palette_alpha.push_back(static_cast<std::uint8_t>(random()));
    }
  if (kind.colour == 0 && seed % 2) picture.see_through = most;
  return picture;
}

void append(png_structp png, png_bytep data, std::size_t length) {
  auto* out = static_cast<Bytes*>(png_get_io_ptr(png));
  const auto* at = reinterpret_cast<const std::byte*>(data);
  out->insert(out->end(), at, at + length);
}

Bytes write_png(const Picture& picture, const Kind& kind) {
  Bytes out;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(png, &out, append, nullptr);
  if (kind.small_chunks) png_set_compression_buffer_size(png, 64);
  png_set_filter(png, 0, kind.filters);
  const Size size = picture.size;
  png_set_IHDR(png, info, size.width_px, size.height_px, kind.depth, kind.colour,
               kind.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, 0, 0);
  std::vector<png_color> palette;
  for (const auto& c : picture.palette) palette.push_back({c[0], c[1], c[2]});
  if (!palette.empty()) png_set_PLTE(png, info, palette.data(), static_cast<int>(palette.size()));
  if (!picture.palette_alpha.empty())
    png_set_tRNS(png, info, picture.palette_alpha.data(), static_cast<int>(picture.palette_alpha.size()), nullptr);
  png_color_16 key{};
  if (picture.see_through) {
    key.gray = static_cast<png_uint_16>(*picture.see_through);
    png_set_tRNS(png, info, nullptr, 0, &key);
  }
  png_write_info(png, info);
  const std::size_t samples = std::size_t{size.width_px} * static_cast<std::size_t>(channels_of(kind.colour));
  std::vector<Pixels> rows(size.height_px, Pixels((samples * static_cast<std::size_t>(kind.depth) + 7) / 8, 0));
  std::vector<png_bytep> pointers;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (std::size_t i = 0; i < samples; ++i) {
      const std::uint32_t value = picture.samples[r * samples + i];
      if (kind.depth == 16) {
        rows[r][2 * i] = static_cast<std::uint8_t>(value >> 8);
        rows[r][2 * i + 1] = static_cast<std::uint8_t>(value);
      } else {
        const std::size_t per_byte = 8 / static_cast<std::size_t>(kind.depth);
        const std::size_t shift = 8 - static_cast<std::size_t>(kind.depth) * (i % per_byte + 1);
        rows[r][i / per_byte] = static_cast<std::uint8_t>(rows[r][i / per_byte] | (value << shift));
      }
    }
    pointers.push_back(rows[r].data());
  }
  png_write_image(png, pointers.data());
  png_write_end(png, info);
  png_destroy_write_struct(&png, &info);
  return out;
}

/// What the format page promises, straight from the samples.
Pixels promised(const Picture& picture, const Kind& kind) {
  const auto channels = static_cast<std::size_t>(channels_of(kind.colour));
  Pixels grey;
  for (std::size_t i = 0; i < picture.samples.size(); i += channels) {
    const std::uint32_t* s = &picture.samples[i];
    const std::uint32_t most = (1u << kind.depth) - 1;
    const auto to_8 = [&](std::uint32_t v) { return kind.depth == 16 ? v >> 8 : v * 255 / most; };
    std::uint32_t value = 0, alpha = 255;
    if (kind.colour == 3) {
      const auto& c = picture.palette[s[0]];
      value = (77u * c[0] + 150u * c[1] + 29u * c[2]) >> 8;
      if (s[0] < picture.palette_alpha.size()) alpha = picture.palette_alpha[s[0]];
    } else if (kind.colour & 2) {
      value = (77 * s[0] + 150 * s[1] + 29 * s[2]) >> 8;
      if (kind.depth == 16) value >>= 8;
      if (kind.colour == 6) alpha = to_8(s[3]);
    } else {
      value = to_8(s[0]);
      if (kind.colour == 4) alpha = to_8(s[1]);
      if (picture.see_through && *picture.see_through == s[0]) alpha = 0;
    }
    grey.push_back(static_cast<std::uint8_t>(std::lround(value * alpha / 255.0)));
  }
  return grey;
}

std::vector<Kind> every_kind() {
  std::vector<Kind> kinds;
  for (const bool interlaced : {false, true}) {
    for (const int depth : {1, 2, 4, 8, 16}) kinds.push_back({0, depth, interlaced});
    for (const int depth : {1, 2, 4, 8}) kinds.push_back({3, depth, interlaced});
    for (const int colour : {2, 4, 6})
      for (const int depth : {8, 16}) kinds.push_back({colour, depth, interlaced});
  }
  return kinds;
}

// ---- damage ----

/// Writes right checksums into every chunk that is still whole.
void mend_checksums(Bytes& file) {
  for (std::size_t at = 8; at + 12 <= file.size();) {
    const std::uint64_t length = big_endian(file, at);
    if (length > file.size() - at - 12) return;
    const std::uint32_t sum = libdeflate_crc32(0, &file[at + 4], length + 4);
    for (std::size_t i = 0; i < 4; ++i) file[at + 8 + length + i] = static_cast<std::byte>(sum >> (24 - 8 * i));
    at += 12 + length;
  }
}

Bytes with_chunk(const Bytes& file, const std::string& type, const std::string& content) {
  Bytes chunk;
  const auto number = [&](std::uint32_t v) {
    for (int shift = 24; shift >= 0; shift -= 8) chunk.push_back(static_cast<std::byte>(v >> shift));
  };
  number(static_cast<std::uint32_t>(content.size()));
  for (const char c : type + content) chunk.push_back(static_cast<std::byte>(c));
  number(libdeflate_crc32(0, chunk.data() + 4, chunk.size() - 4));
  Bytes out = file;
  out.insert(out.begin() + 33, chunk.begin(), chunk.end());  // behind the header
  return out;
}

}  // namespace

TEST_CASE("every file of the PNG suite decodes as stb_image and OpenCV have it") {
  // W. van Schaik, PngSuite. Files that start with x are broken on purpose: all of them must be refused, also those
  // with a wrong checksum, which stb_image does not look at.
  const auto folder = test::shared("pngsuite");
  if (!folder) return;
  int sound = 0, grey = 0, broken = 0;
  for (const auto& entry : fs::directory_iterator(*folder)) {
    if (entry.path().extension() != ".png") continue;
    const std::string name = entry.path().filename().string();
    INFO(name);
    const Bytes file = read_bytes(entry.path());
    if (name.front() == 'x') {
      const auto refused = decoded(file, stated_size(file));
      REQUIRE_FALSE(refused);
      CHECK(refused.error().kind == ErrorKind::broken);
      CHECK(refused.error().layer == 7u);
      ++broken;
      continue;
    }
    const Size size = stated_size(file);
    const auto layer = decoded(file, size);
    REQUIRE(layer);
    CHECK(same(*layer, encode(*by_stb(file), size)));
    ++sound;
    if (colour_type(file) != 0 || has_chunk(file, "tRNS")) continue;
    const cv::Mat bytes(1, static_cast<int>(file.size()), CV_8UC1, const_cast<std::byte*>(file.data()));
    const cv::Mat by_opencv = cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
    REQUIRE(by_opencv.isContinuous());
    CHECK(decode(*layer) == Pixels(by_opencv.datastart, by_opencv.dataend));
    ++grey;
  }
  CHECK(sound >= 160);
  CHECK(grey >= 40);
  CHECK(broken == 14);
}

TEST_CASE("every kind libpng can write decodes to what its samples mean") {
  std::uint32_t seed = 1;
  for (const Kind& base : every_kind())
    for (const Size size : {Size{1, 1}, Size{3, 5}, Size{9, 2}, Size{33, 17}, Size{64, 40}})
      for (int round = 0; round < 4; ++round, ++seed) {
        Kind kind = base;
        kind.small_chunks = round >= 2;
        const Picture picture = some_picture(size, kind, seed);
        const Bytes file = write_png(picture, kind);
        INFO("colour " << kind.colour << " depth " << kind.depth << " interlaced " << kind.interlaced << " seed "
                       << seed);
        const auto layer = decoded(file, size);
        REQUIRE(layer);
        const Layer wanted = encode(promised(picture, kind), size);
        REQUIRE(same(*layer, wanted));
        REQUIRE(decode(*layer) == *by_stb(file));
      }
}

TEST_CASE("three values in a pixel are those that stb_image gives") {
  std::uint32_t seed = 500;
  for (const Kind& kind : every_kind())
    for (const Size size : {Size{1, 1}, Size{9, 5}, Size{33, 17}}) {
      const Bytes file = write_png(some_picture(size, kind, ++seed), kind);
      INFO("colour " << kind.colour << " depth " << kind.depth << " interlaced " << kind.interlaced);
      const Size wide{3 * size.width_px, size.height_px};
      const auto layer = decoded_by(decode_subpixels, file, wide);
      REQUIRE(layer);
      REQUIRE(decode(*layer) == subpixels_by_stb(file));
    }
}

TEST_CASE("a colour that is to be seen through is black, as stb_image has it") {
  std::uint32_t seed = 700;
  for (const bool interlaced : {false, true})
    for (const int colour : {0, 2})
      for (const int depth : {1, 2, 4, 8, 16}) {
        if (colour == 2 && depth < 8) continue;
        const Kind kind{colour, depth, interlaced};
        const Size size{21, 9};
        seed += 2;  // even: without transparency of its own
        const Picture picture = some_picture(size, kind, seed);
        for (const std::uint32_t upper : {0u, 1u}) {  // under 16 bits the upper byte does not count
          std::string key;
          for (int channel = 0; channel < channels_of(colour); ++channel) {
            const std::uint32_t value = picture.samples[static_cast<std::size_t>(channel)] + 256 * upper;
            key += {static_cast<char>(value >> 8), static_cast<char>(value)};
          }
          const Bytes file = with_chunk(write_png(picture, kind), "tRNS", key);
          INFO("colour " << colour << " depth " << depth << " interlaced " << interlaced);
          const auto layer = decoded(file, size);
          REQUIRE(layer);
          REQUIRE(decode(*layer) == *by_stb(file));
        }
      }
}

TEST_CASE("empty pieces of image data change nothing, for any kind") {
  std::uint32_t seed = 900;
  for (Kind kind : every_kind()) {
    kind.small_chunks = true;
    const Size size{40, 30};
    const Picture picture = some_picture(size, kind, ++seed);
    const Bytes plain = write_png(picture, kind);
    Bytes holed(plain.begin(), plain.begin() + 8);
    const Bytes empty{std::byte{0},    std::byte{0},    std::byte{0},    std::byte{0},
                      std::byte{'I'},  std::byte{'D'},  std::byte{'A'},  std::byte{'T'},
                      std::byte{0x35}, std::byte{0xAF}, std::byte{0x06}, std::byte{0x1E}};
    int put = 0;
    for (std::size_t at = 8; at + 12 <= plain.size();) {
      const std::size_t length = 12 + big_endian(plain, at);
      const bool data = text_of(Bytes(plain.begin() + static_cast<std::ptrdiff_t>(at) + 4,
                                      plain.begin() + static_cast<std::ptrdiff_t>(at) + 8)) == "IDAT";
      for (int i = 0; data && i < 3; ++i, ++put) holed.insert(holed.end(), empty.begin(), empty.end());
      holed.insert(holed.end(), plain.begin() + static_cast<std::ptrdiff_t>(at),
                   plain.begin() + static_cast<std::ptrdiff_t>(at + length));
      if (data) holed.insert(holed.end(), empty.begin(), empty.end());
      at += length;
    }
    REQUIRE(put >= 3);
    const auto layer = decoded(holed, size);
    REQUIRE(layer);
    REQUIRE(same(*layer, encode(promised(picture, kind), size)));
  }
}

TEST_CASE("each row filter alone gives the same rows") {
  for (const int filter :
       {PNG_FILTER_NONE, PNG_FILTER_SUB, PNG_FILTER_UP, PNG_FILTER_AVG, PNG_FILTER_PAETH, PNG_ALL_FILTERS})
    for (const Kind& base : {Kind{0, 8}, Kind{0, 1}, Kind{2, 8}, Kind{6, 8}})
      for (std::uint32_t seed = 2; seed < 22; seed += 2) {  // even: no transparency
        Kind kind = base;
        kind.filters = filter;
        const Size size{1 + seed * 13 % 90, 40};
        const Picture picture = some_picture(size, kind, seed);
        const auto layer = decoded(write_png(picture, kind), size);
        REQUIRE(layer);
        REQUIRE(same(*layer, encode(promised(picture, kind), size)));
      }
}

TEST_CASE("written masks read back, whatever the filter and effort, here and by the judges") {
  for (const PngFilter filter : {PngFilter::none, PngFilter::up, PngFilter::adaptive})
    for (const int level : {0, 1, 6, 12})
      for (std::uint32_t seed = 1; seed < 8; ++seed) {
        const Size size{1 + seed * 37 % 200, 1 + seed * 53 % 120};
        const Layer layer = encode(some_mask(size, seed), size);
        const Bytes file = encode_png(layer, filter, level);
        const auto back = decoded(file, size);
        REQUIRE(back);
        REQUIRE(same(*back, layer));
        REQUIRE(*by_stb(file) == decode(layer));
        REQUIRE(encode_png(layer, filter, level) == file);
      }
}

TEST_CASE("equal rows share their runs") {
  const Size size{300, 50};
  Pixels pixels(std::size_t{300} * 50, 0);
  for (std::size_t y = 10; y < 40; ++y)
    std::fill_n(pixels.begin() + static_cast<std::ptrdiff_t>(y * 300 + 100), 100, std::uint8_t{255});
  for (const PngFilter filter : {PngFilter::none, PngFilter::up, PngFilter::adaptive}) {
    const auto layer = decoded(encode_png(encode(pixels, size), filter), size);
    REQUIRE(layer);
    CHECK(layer->runs == std::vector<Run>{{100, 200, 255}});
    for (std::size_t y = 11; y < 40; ++y) CHECK(layer->rows[y] == layer->rows[10]);
  }
}

TEST_CASE("any one damaged byte of a mask is noticed") {
  const Size size{16, 9};
  const Bytes good = encode_png(encode(some_mask(size, 3), size));
  for (std::size_t at = 0; at < good.size(); ++at)
    for (const int change : {0x01, 0x80, 0xFF}) {
      Bytes bad = good;
      bad[at] ^= static_cast<std::byte>(change);
      INFO("byte " << at);
      REQUIRE_FALSE(decoded(bad, size));
    }
  for (std::size_t length = 0; length < good.size(); ++length)
    REQUIRE_FALSE(decode_png(std::span(good).first(length), size, {"mask.png", 7}));
}

TEST_CASE("damage under right checksums gives what stb_image gives, or is refused") {
  std::mt19937 random(20);
  int accepted = 0, refused = 0;
  std::uint32_t seed = 100;
  for (const Kind& kind : every_kind()) {
    const Size size{23, 11};
    const Bytes good = write_png(some_picture(size, kind, seed++), kind);
    for (int round = 0; round < 150; ++round) {
      Bytes bad = good;
      for (std::uint32_t i = 0, n = 1 + random() % 4; i < n; ++i) {
        const std::size_t at = random() % 3 ? 33 + random() % (bad.size() - 33) : random() % bad.size();
        bad[at] =
            random() % 2 ? static_cast<std::byte>(random()) : bad[at] ^ static_cast<std::byte>(1u << random() % 8);
      }
      if (random() % 10 == 0) bad.resize(bad.size() - random() % 20);
      mend_checksums(bad);
      const auto layer = decode_png(bad, size, {"mask.png", 7});
      // zlib refuses a few streams that libdeflate and stb_image take: codes for lengths and distances that do not
      // exist.
      const auto by_rows = decode_png(bad, size, {"mask.png", 7}, row_by_row());
      REQUIRE((by_rows ? layer && same(*by_rows, *layer) : !layer || by_rows.error().kind == ErrorKind::broken));
      if (!layer) {
        ++refused;
        const ErrorKind why = layer.error().kind;
        REQUIRE((why == ErrorKind::broken || why == ErrorKind::mismatch || why == ErrorKind::limit));
        REQUIRE(layer.error().layer == 7u);
        continue;
      }
      ++accepted;
      if (kind.colour == 3) continue;  // stb_image reads indices behind a palette's end from memory never set
      const auto judged = by_stb(bad);
      REQUIRE(judged);
      REQUIRE(decode(*layer) == *judged);
    }
  }
  CHECK(accepted > 100);
  CHECK(refused > 1000);
}

TEST_CASE("an index behind the palette's end is black") {
  const Kind kind{3, 8};
  Picture picture{{2, 1}, {0, 1}, {{255, 255, 255}, {255, 255, 255}}, {}, {}};
  Bytes file = write_png(picture, kind);
  // The palette cut to one colour: its length, then three bytes taken out.
  const std::size_t at = text_of(file).find("PLTE");
  file[at - 1] = std::byte{3};
  file.erase(file.begin() + static_cast<std::ptrdiff_t>(at) + 7, file.begin() + static_cast<std::ptrdiff_t>(at) + 10);
  mend_checksums(file);
  CHECK(decode(decoded(file, {2, 1}).value()) == Pixels{255, 0});
}

TEST_CASE("a mask says what is wrong with it") {
  const Size size{16, 9};
  const Bytes good = encode_png(encode(some_mask(size, 3), size));
  const auto error = [&](const Bytes& file, Size expected) { return decoded(file, expected).error(); };
  CHECK(error({}, size).found.find("empty") != std::string::npos);
  CHECK(error(Bytes(100, std::byte{'x'}), size).found.find("not a PNG") != std::string::npos);
  CHECK(error(good, {16, 10}).kind == ErrorKind::mismatch);
  CHECK(error(good, {16, 10}).found.find("16 x 9") != std::string::npos);
  CHECK(error(good, {16, 10}).expected.find("16 x 10") != std::string::npos);
  Bytes unknown = with_chunk(good, "ABCD", "what");
  CHECK(error(unknown, size).found.find("ABCD") != std::string::npos);
  CHECK(decoded(with_chunk(good, "teXt", "a note"), size));
  CHECK(error(with_chunk(good, "tRNS", "abc"), size).kind == ErrorKind::broken);
}

TEST_CASE("what decoding takes follows from the file's own header") {
  const Size size{900, 700};
  const std::uint64_t pixels = 900 * 700, little = 200'000;  // ends of streams and a few rows
  for (const Kind& kind : every_kind()) {
    const Bytes file = write_png(some_picture(size, kind, 1), kind);
    const std::uint64_t bits = static_cast<std::uint64_t>(kind.depth * channels_of(kind.colour));
    const std::uint64_t raw = pixels * bits / 8, beside = kind.interlaced ? 3 * pixels : 0;
    INFO("colour " << kind.colour << " depth " << kind.depth << " interlaced " << kind.interlaced);
    CHECK(png::decoding_bytes(file, {}) >= raw + beside);
    CHECK(png::decoding_bytes(file, {}) <= raw + file.size() + beside + little);
    CHECK(png::decoding_bytes(file, row_by_row()) <= beside + little);
  }
}

TEST_CASE("bombs are refused before memory is taken") {
  const Size huge{60'000, 60'000};
  Bytes file = encode_png(encode(Pixels(4, 255), {2, 2}));
  for (const std::size_t at : {std::size_t{16}, std::size_t{20}})
    for (std::size_t i = 0; i < 4; ++i) file[at + i] = static_cast<std::byte>(60'000u >> (24 - 8 * i));
  mend_checksums(file);
  CHECK(decoded(file, {2, 2}).error().kind == ErrorKind::mismatch);
  CHECK(decoded(file, huge).error().kind == ErrorKind::limit);
  Limits generous;
  generous.pixels_per_mask = 4'000'000'000;
  // Too little data for such a picture: deflate packs 1032 to 1 at best.
  CHECK(decode_png(file, huge, {"mask.png", 1}, generous).error().kind == ErrorKind::broken);
  // The other way round: data that never seems to end behind a small header.
  const Size tall{10, 200'000}, small{10, 10};
  Bytes endless = encode_png(encode(Pixels(std::size_t{10} * 200'000, 0), tall));
  for (std::size_t i = 0; i < 4; ++i) endless[20 + i] = static_cast<std::byte>(10u >> (24 - 8 * i));
  mend_checksums(endless);
  CHECK(decoded(endless, small).error().found.find("longer") != std::string::npos);
}
