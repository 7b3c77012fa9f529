// The coupon as a whole: sizes, time, mass, features where the plan says they are, sheet, files and errors.
#include "hairline/coupon.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <set>

#include "calibrate/reading_fields.hpp"
#include "hairline/archive.hpp"
#include "hairline/files.hpp"

using namespace hairline;

namespace {

CouponSettings common(std::vector<double> exposures_s = {2.3, 2.4, 2.5, 2.6}) {
  CouponSettings s;
  s.exposures_s = std::move(exposures_s);
  return s;
}

struct Pixels {
  Size size;
  std::vector<std::uint8_t> v;
  explicit Pixels(const Layer& layer) : size(layer.size), v(decode(layer)) {}
  int at(double x_mm, double y_mm, Pitch pitch) const {
    return v[static_cast<std::size_t>(y_mm / pitch.y_mm) * size.width_px + static_cast<std::size_t>(x_mm / pitch.x_mm)];
  }
};

double share_px(const Layer& layer) {
  double sum = 0;
  for (std::uint32_t row = 0; row < layer.size.height_px; ++row) {
    for (const Run& r : layer.row(row)) sum += (r.end - r.begin) * (r.value / 255.0);
  }
  return sum;
}

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

struct Folder {
  std::filesystem::path path;
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "hairline-coupon-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
};

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

}  // namespace

TEST_CASE("under 15 minutes and under 4 g at 0.05 mm with common settings (common practice, no source)") {
  const CouponSettings s = common({2.5});
  const Coupon c = *lay_out_coupon(s);
  CHECK(c.layers <= 75);
  double pixels = 0;
  for (std::uint32_t n = 1; n <= c.layers; ++n) pixels += share_px(draw_coupon_layer(c, 2.5, n));
  const double grams = pixels * c.pitch.pixel_mm2() * c.layer_height_mm / 1000 * s.density_g_per_ml;
  CHECK((grams > 1 && grams < 4));
  const JobSettings job = coupon_job(c, s, 2.5);
  // By hand: 6 mm up at 60 mm/min and down at 150 mm/min are 6 s and 2.4 s, rest 0.5 s; 5 base layers of 30 s.
  const double by_hand = 5 * (30 + 8.9) + (c.layers - 5) * (2.5 + 8.9);
  CHECK(by_hand < 15 * 60);
  CHECK(duration_s(job, printed_layers(job, 2.5)) == Approx(by_hand).epsilon(1e-6));
}

TEST_CASE("pins and holes follow the R10 series of ISO 3:1973 (values from memory): ten steps to the decade") {
  const Coupon c = *lay_out_coupon(common());
  REQUIRE(c.pins.size() == 9);
  REQUIRE(c.holes.size() == 9);
  for (std::size_t i = 0; i < 9; ++i) {
    // The rounded series keeps within 1.3 % of 10^(i/10).
    CHECK(c.pins[i].diameter_mm == Approx(0.1 * std::pow(10, static_cast<double>(i) / 10)).epsilon(0.013));
    CHECK(c.holes[i].diameter_mm == c.pins[i].diameter_mm);
  }
}

TEST_CASE("pins and holes have the area of their circles on the masks (closed form)") {
  const CouponSettings s = common();
  const Coupon c = *lay_out_coupon(s);
  const Layer layer = draw_coupon_layer(c, 2.5, c.pins.front().from_layer + 8);
  const Pixels p(layer);
  for (const bool pin : {true, false}) {
    for (const CouponRound& r : pin ? c.pins : c.holes) {
      double sum = 0;
      for (int dy = -10; dy <= 10; ++dy) {
        for (int dx = -10; dx <= 10; ++dx) {
          const double v = p.at(r.centre.x + 0.05 * dx, r.centre.y + 0.05 * dy, s.pitch) / 255.0;
          sum += (pin ? v : 1 - v) * s.pitch.pixel_mm2();
        }
      }
      INFO((pin ? "pin " : "hole ") << r.diameter_mm);
      CHECK(sum == Approx(M_PI / 4 * r.diameter_mm * r.diameter_mm).margin(0.0002));
    }
  }
}

TEST_CASE("wedges taper evenly from 0.6 mm to nothing in x, y and one slanted direction") {
  const Coupon c = *lay_out_coupon(common());
  REQUIRE(c.wedges.size() == 6);
  std::set<std::pair<int, int>> kinds;
  for (const CouponWedge& w : c.wedges) {
    kinds.insert({int(w.kind), int(w.direction)});
    CHECK(w.width_at_mm(w.thick_end) == Approx(0.6));
    CHECK(w.width_at_mm(w.thin_end) == Approx(0).margin(1e-12));
    CHECK(w.width_at_mm(w.place_of(0.17)) == Approx(0.17));
    CHECK(w.length_mm() / 0.6 * 0.01 >= 0.4 - 1e-9);  // 0.01 mm of width is at least 0.4 mm to the eye
    const double dx = std::abs(w.thin_end.x - w.thick_end.x), dy = std::abs(w.thin_end.y - w.thick_end.y);
    if (w.direction == WedgeDirection::along_x) CHECK(dy == Approx(0).margin(1e-12));
    if (w.direction == WedgeDirection::along_y) CHECK(dx == Approx(0).margin(1e-12));
    if (w.direction == WedgeDirection::slanted) CHECK((dx > 1 && dy > 1));
  }
  CHECK(kinds.size() == 6);
}

TEST_CASE("wide parts of the drawn wedges are as wide as they are named, to the grey steps") {
  const CouponSettings s = common();
  const Coupon c = *lay_out_coupon(s);
  const Pixels p(draw_coupon_layer(c, 2.5, c.wedges.front().from_layer + 10));
  for (const CouponWedge& w : c.wedges) {
    if (w.direction == WedgeDirection::slanted) continue;
    for (const double width : {0.55, 0.5, 0.45, 0.4, 0.35, 0.3}) {
      const PointMm at = w.place_of(width);
      double sum = 0;
      for (int k = -10; k < 10; ++k) {
        const double aside = 0.05 * k;
        const double x = w.direction == WedgeDirection::along_x ? at.x : at.x + aside;
        const double y = w.direction == WedgeDirection::along_x ? at.y + aside : at.y;
        sum += 0.05 * p.at(x, y, s.pitch) / 255.0;
      }
      const double drawn = w.kind == WedgeKind::wall ? sum : 1.0 - sum;
      CHECK(drawn == Approx(width).margin(0.002));  // the row of pixels reaches half a pixel along the taper: 0.0006 mm
    }
  }
}

TEST_CASE("each wedge has ticks every 0.05 mm of width, longer ones every 0.1 mm") {
  const CouponSettings s = common();
  const Coupon c = *lay_out_coupon(s);
  for (const CouponWedge& w : c.wedges) {
    const bool wall = w.kind == WedgeKind::wall;
    const Pixels p(draw_coupon_layer(c, 2.5, wall ? w.from_layer + 2 : w.to_layer + 2));
    const double side = w.direction == WedgeDirection::along_y ? -1 : 1;
    const double ux = (w.thin_end.x - w.thick_end.x) / w.length_mm(),
                 uy = (w.thin_end.y - w.thick_end.y) / w.length_mm();
    const auto at = [&](double width, double aside) {
      const PointMm q = w.place_of(width);
      return p.at(q.x - uy * aside * side, q.y + ux * aside * side, s.pitch);
    };
    for (int i = 0; i <= 12; ++i) {
      INFO("kind " << int(w.kind) << " direction " << int(w.direction) << " tick " << i);
      CHECK(at(0.05 * i, 1.2) == 255);
      CHECK((at(0.05 * i, 2.1) == 255) == (i % 2 == 0));
      if (i < 12) CHECK(at(0.05 * i + 0.025, 1.2) == 0);
    }
  }
}

TEST_CASE("flat slots are 1 to 12 layers high, open through, with solid above and below") {
  const CouponSettings s = common();
  const Coupon c = *lay_out_coupon(s);
  REQUIRE(c.flat_slots.size() == 12);
  std::vector<Pixels> layers;
  for (std::uint32_t n = 1; n <= c.layers; ++n) layers.emplace_back(draw_coupon_layer(c, 2.5, n));
  for (std::uint32_t k = 0; k < 12; ++k) {
    const CouponFlatSlot& slot = c.flat_slots[k];
    CHECK(slot.layers == k + 1);
    CHECK(slot.height_mm == Approx(0.05 * (k + 1)));
    const double x = (slot.box.from.x + slot.box.to.x) / 2;
    for (const double y : {slot.box.from.y + 0.1, (slot.box.from.y + slot.box.to.y) / 2, slot.box.to.y - 0.1}) {
      std::uint32_t open = 0, first = 0, solid_above = 0;
      for (std::uint32_t n = 1; n <= c.layers; ++n) {
        const bool empty = layers[n - 1].at(x, y, s.pitch) < solid_from;
        if (empty && solid_above == 0) first = first ? first : n, ++open;
        if (!empty && open) ++solid_above;
      }
      CHECK(open == k + 1);
      CHECK(first == slot.box.from_layer);
      CHECK(first > c.pad.to_layer);
      CHECK(solid_above >= 20);  // 1 mm and more of roof, six usual penetration depths
    }
  }
}

TEST_CASE("strip and bar are free beneath, block and gauge slot are as wide as drawn") {
  const CouponSettings s = common();
  const Coupon c = *lay_out_coupon(s);
  CHECK(c.strip.to_layer == c.strip.from_layer);
  CHECK(c.bar.to_layer - c.bar.from_layer + 1 == 8);
  for (const CouponBox* b : {&c.strip, &c.bar}) {
    const double x = (b->from.x + b->to.x) / 2, y = (b->from.y + b->to.y) / 2;
    for (std::uint32_t n = c.pad.to_layer + 1; n <= c.layers; ++n) {
      const bool solid_here = Pixels(draw_coupon_layer(c, 2.5, n)).at(x, y, s.pitch) == 255;
      CHECK(solid_here == (n >= b->from_layer && n <= b->to_layer));
    }
  }
  CHECK(c.block.to.x - c.block.from.x == Approx(5));
  CHECK(c.gauge_slot.to.x - c.gauge_slot.from.x == Approx(2));
  const Pixels p(draw_coupon_layer(c, 2.5, c.block.to_layer));
  double block = 0, slot = 0;
  for (double x = c.block.from.x - 1; x < c.block.to.x + 1.2; x += 0.05) {
    block += 0.05 * p.at(x + 0.01, (c.block.from.y + c.block.to.y) / 2, s.pitch) / 255.0;
  }
  for (double x = c.gauge_slot.from.x - 1; x < c.gauge_slot.to.x + 0.99; x += 0.05) {
    slot += 0.05 * (255 - p.at(x + 0.01, (c.gauge_slot.from.y + c.gauge_slot.to.y) / 2, s.pitch)) / 255.0;
  }
  CHECK(block == Approx(5).margin(0.01));
  CHECK(slot == Approx(2).margin(0.01));
}

TEST_CASE("the exposure can be counted from the bars") {
  CHECK(exposure_mark(2.3) == ExposureMark{0, 2, 3, 0});
  CHECK(exposure_mark(12.37) == ExposureMark{1, 2, 3, 7});
  CHECK(exposure_mark(0.1) == ExposureMark{0, 0, 1, 0});
  const CouponSettings s = common({12.37});
  const Coupon c = *lay_out_coupon(s);
  const Pixels p(draw_coupon_layer(c, 12.37, c.marks.to_layer));
  std::vector<int> bars;
  for (int column = 0; column < 4; ++column) {
    int count = 0;
    bool before = false;
    for (double y = c.marks.from.y + 0.025; y < c.marks.to.y; y += 0.05) {
      const bool here = p.at(c.marks.from.x + 0.7 + 1.8 * column, y, s.pitch) >= solid_from;
      count += here && !before;
      before = here;
    }
    bars.push_back(count);
  }
  CHECK(bars == std::vector<int>{2, 3, 4, 8});  // one head and the digit's bars in each column
}

TEST_CASE("the coupon fits its image at any pitch and is centred on a larger one") {
  for (const Pitch pitch : {Pitch{0.05, 0.05}, Pitch{0.018, 0.025}, Pitch{0.0471, 0.0471}, Pitch{0.2, 0.2}}) {
    CouponSettings s = common();
    s.pitch = pitch;
    const Coupon c = *lay_out_coupon(s);
    const Layer pad = draw_coupon_layer(c, 2.5, 1);
    const BoxPx box = bounds(solid(pad));
    CHECK((box.x0 >= 1 && box.y0 >= 1 && box.x1 < c.image.width_px && box.y1 < c.image.height_px));
    CHECK((box.x1 - box.x0) * pitch.x_mm == Approx(c.pad.to.x - c.pad.from.x).margin(1.01 * pitch.x_mm));
  }
  CouponSettings s = common();
  s.image = Size{2560, 1620};
  const Coupon c = *lay_out_coupon(s);
  const BoxPx box = bounds(solid(draw_coupon_layer(c, 2.5, 1)));
  CHECK(std::abs(int(box.x0) - int(2560 - box.x1)) <= 1);
  CHECK(std::abs(int(box.y0) - int(1620 - box.y1)) <= 1);
}

TEST_CASE("settings out of range are refused and named") {
  const auto kind_of = [](auto change) {
    CouponSettings s = common();
    change(s);
    const Result<Coupon> c = lay_out_coupon(s);
    if (c) return std::string("accepted");
    CHECK_FALSE(c.error().found.empty());
    CHECK_FALSE(c.error().expected.empty());
    return to_string(c.error().kind);
  };
  const double nan = std::nan("");
  CHECK(kind_of([](CouponSettings&) {}) == "accepted");
  CHECK(kind_of([](CouponSettings& s) { s.pitch.x_mm = 0; }) == "usage");
  CHECK(kind_of([&](CouponSettings& s) { s.pitch.y_mm = nan; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.layer_height_mm = 1; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.exposures_s = {}; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.exposures_s = {2.5, -1}; }) == "usage");
  CHECK(kind_of([&](CouponSettings& s) { s.exposures_s = {nan}; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.exposures_s = {2.5, 2.501}; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.exposures_s = {100}; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) {
          for (int i = 0; i < 20; ++i) s.exposures_s.push_back(3 + i);
        }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.image = Size{900, 700}; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.label = "a/b"; }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.label = std::string(25, 'A'); }) == "usage");
  CHECK(kind_of([](CouponSettings& s) { s.base_layers = 4'000'000'000u; }) == "usage");
}

TEST_CASE("a coupon that could not be read again is refused before it is drawn") {
  const std::filesystem::path folder = std::filesystem::temp_directory_path() / "hairline-coupon-too-large";
  std::filesystem::remove_all(folder);
  CouponSettings settings = common({2.5});
  settings.image = Size{20001, 10000};
  const auto large = write_coupon(folder, settings);
  REQUIRE_FALSE(large);
  CHECK(large.error().kind == ErrorKind::usage);
  CHECK(large.error().found.find("20001 x 10000 pixels") != std::string::npos);
  CHECK(large.error().expected == "at most 200000000 pixels in a mask");
  settings.image.reset();
  settings.resin_label.assign(1u << 20, 'r');
  CHECK_FALSE(write_coupon(folder, settings));
  CHECK_FALSE(std::filesystem::exists(folder));
}

TEST_CASE("the sheet has a picture, a line for each exposure, and the cautions") {
  CouponSettings s = common({2.3, 2.5, 12.34});
  s.resin_label = "grey <b>&\"";
  const std::string sheet = coupon_sheet(*lay_out_coupon(s), s, {{2.3, 700, 2}, {2.5, 774, 2}, {12.34, 3000, 2}});
  CHECK(count_of(sheet, "<svg") == 1);
  for (const char* line : {"<td>2.30 s</td>", "<td>2.50 s</td>", "<td>12.34 s</td>"}) CHECK(count_of(sheet, line) == 1);
  for (const char* word : {"Gloves", "eye protection", "Ventilation", "UV", "Solvent", "Waste", "safety data sheet",
                           "local codes", "licensed practice"}) {
    INFO(word);
    CHECK(count_of(sheet, word) >= 1);
  }
  CHECK(sheet.find("grey &lt;b&gt;&amp;&quot;") != std::string::npos);
  // Nothing is fetched and nothing runs.
  for (const char* word : {"http", "src=", "url(", "<script", "@import"}) CHECK(sheet.find(word) == std::string::npos);
  for (const char* tag : {"table", "svg", "ol", "ul", "div", "body", "html", "tbody", "thead"}) {
    const std::string opening = std::string("<").append(tag), closing = std::string("</").append(tag).append(">");
    CHECK(count_of(sheet, closing) == count_of(sheet, opening + ">") + count_of(sheet, opening + " "));
  }
}

TEST_CASE("on a narrow screen the sheet is as wide as the screen") {
  const CouponSettings s = common({2.3, 2.5});
  const std::string sheet = coupon_sheet(*lay_out_coupon(s), s, {{2.3, 700, 2}});
  for (const char* part : {"name=\"viewport\"", "@media screen and (max-width", "<div class=\"readings\"><table"})
    CHECK(count_of(sheet, part) == 1);
}

// Looked at once as a printed page, for 1 to 12 times: the rest of the page takes 155 mm and 6.2 mm a time.
TEST_CASE("the picture leaves room for the rest of the page") {
  for (const std::vector<double>& times :
       {std::vector<double>{2}, {2, 2.4, 2.8}, {1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.4}}) {
    const CouponSettings s = common(times);
    const Coupon coupon = *lay_out_coupon(s);
    const std::string sheet = coupon_sheet(coupon, s, {{times[0], 700, 2}});
    const double width_mm = std::stod(sheet.substr(sheet.find("<svg style='width:") + 18));
    const double aspect = (coupon.pad.to.x - coupon.pad.from.x) / (coupon.pad.to.y - coupon.pad.from.y);
    CHECK(width_mm >= 60);
    CHECK(width_mm / aspect + 6.2 * static_cast<double>(times.size()) + 155 <= 297 - 2 * 9);
  }
}

TEST_CASE("with a record the sheet shows its limits and readings beside the picture") {
  CouponSettings s = common({2.3, 2.5});
  s.record.emplace();
  s.record->resin.label = "grey <b>";
  s.record->fit = CureModel{};
  s.record->fit->bond_time_s = 1.6, s.record->fit->fuse_time_s = 0.55, s.record->fit->blur_mm = 0.04;
  s.record->fit->valid_from_s = 1.8, s.record->fit->valid_to_s = 3.2;
  s.record->bracket.emplace_back();
  s.record->bracket.back().exposure_s = 2.4;
  s.record->bracket.back().thinnest_wall_mm = 0.08;
  const std::string sheet = coupon_sheet(*lay_out_coupon(s), s, {{2.3, 700, 2}, {2.5, 774, 2}});
  CHECK(count_of(sheet, "class=\"limit-chart\"") == 1);
  CHECK(count_of(sheet, "class=\"residual-chart\"") == 1);
  CHECK(count_of(sheet, "wall read at 2.4 s: 0.08 mm") == 1);
  CHECK(count_of(sheet, "What grey &lt;b&gt; printed so far") == 1);
  s.record->fit.reset();  // nothing to draw: the sheet of a resin that is not known
  const CouponSettings unknown = common({2.3, 2.5});
  CHECK(coupon_sheet(*lay_out_coupon(s), s, {{2.3, 700, 2}, {2.5, 774, 2}}) ==
        coupon_sheet(*lay_out_coupon(unknown), unknown, {{2.3, 700, 2}, {2.5, 774, 2}}));
}

TEST_CASE("the sheet asks what record read takes, in its order and words") {
  const CouponSettings s = common({2.3, 2.5});
  const std::string sheet = coupon_sheet(*lay_out_coupon(s), s, {{2.3, 700, 2}, {2.5, 774, 2}});
  std::size_t item = 0, column = 0;
  for (const FieldRule& rule : asked_rules()) {
    INFO(rule.key);
    item = sheet.find("<li><b>" + std::string(rule.letter) + " ", item);
    REQUIRE(item != std::string::npos);
    if (rule.role == Role::print) continue;
    std::string name = rule.option + 2;
    std::replace(name.begin(), name.end(), '-', ' ');
    column = sheet.find(std::string(">") + rule.letter + " " + name + "</th>", column);
    REQUIRE(column != std::string::npos);
  }
  for (const char* word : look_words) CHECK(count_of(sheet, std::string("<b>") + word + "</b>: ") == 1);
}

TEST_CASE("a bracket lies around the guess, in steps that can be told apart; archives of a folder are found by name") {
  CHECK(bracket_around(2.15) == std::vector<double>{1.85, 2, 2.15, 2.6, 3.2});
  CHECK(bracket_around(0.5) == std::vector<double>{0.43, 0.46, 0.5, 0.6, 0.75});
  const Folder folder;
  CHECK(coupons_in(folder.path / "none").empty());
  for (const char* name :
       {"coupon-10.00s.zip", "coupon-2.15s.zip", "coupon-2s.zip", "coupon-.zip", "coupon-2.30s.zip.part"})
    REQUIRE(write_text(folder.path / name, "x"));
  CHECK(coupons_in(folder.path) == std::vector<double>{2.15, 10});
}

TEST_CASE("files: archives that open, the STL and the sheet, equal bytes each time") {
  const Folder first, second;
  const CouponSettings s = common({2.3, 2.55});
  const auto written = write_coupon(first.path, s);
  REQUIRE(written);
  REQUIRE(write_coupon(second.path / "new" / "folder", s));
  std::vector<std::string> names;
  for (const auto& path : written->files) {
    names.push_back(path.filename().string());
    CHECK(text_of(path) == text_of(second.path / "new" / "folder" / path.filename()));
  }
  CHECK(names == std::vector<std::string>{"coupon-2.30s.zip", "coupon-2.55s.zip", "coupon.stl", "coupon-sheet.html"});
  const Result<Archive> archive = Archive::open(first.path / "coupon-2.55s.zip");
  REQUIRE(archive);
  CHECK(archive->settings().normal_s == 2.55);
  CHECK(archive->settings().base_s == 30.0);
  const Coupon c = *lay_out_coupon(s);
  CHECK(archive->settings().layer_count == c.layers);
  REQUIRE(written->prints.size() == 2);
  CHECK(written->prints[1].duration_s ==
        duration_s(archive->settings(), printed_layers(archive->settings(), archive->settings().normal_s)));
  double solid_px = 0;
  for (std::uint32_t number = 1; number <= c.layers; ++number)
    for (const std::uint8_t value : decode(*archive->read_layer(number))) solid_px += value >= 128 ? 1 : 0;
  CHECK(written->prints[1].resin_g == Approx(solid_px * 0.05 * 0.05 * 0.05 / 1000 * 1.1));
  CouponSettings known = s;
  known.record_file = "my grey.json";
  CHECK(coupon_steps(known, written->prints)[3].ends_with("hairline record read 'my grey.json'"));
  CHECK(coupon_steps(known, written->prints)[4].empty());
  for (const std::string& step : coupon_steps(s, written->prints)) {
    CHECK(step.size() <= 74);  // a line each, beside a lead of 6
    CHECK(text_of(first.path / "coupon-sheet.html").find(step) != std::string::npos);
  }
  const Result<Layer> layer = archive->read_layer(c.marks.to_layer);
  REQUIRE(layer);
  CHECK(decode(*layer) == decode(draw_coupon_layer(c, 2.55, c.marks.to_layer)));
}

TEST_CASE("a place that cannot be written to, or a cancel, leaves nothing half-written") {
  const Folder folder;
  std::ofstream(folder.path / "file") << "x";
  const auto failed = write_coupon(folder.path / "file" / "sub", common());
  REQUIRE_FALSE(failed);
  CHECK(failed.error().kind == ErrorKind::unwritable);
  Progress progress;
  progress.cancel();
  const auto cancelled = write_coupon(folder.path / "out", common(), &progress);
  REQUIRE_FALSE(cancelled);
  CHECK(cancelled.error().kind == ErrorKind::cancelled);
  CHECK(std::filesystem::is_empty(folder.path / "out"));
}
