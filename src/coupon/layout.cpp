/// Layout of the coupon, seen as on the sheet (x right, y down, mm from the pad's corner):
///
///      0        10                                    39      47
///    0 +---------+--------------------------------------+-------+
///      | A  B    |  A  wall along x, ticks              | H   K |   A walls     B upright slots
///      | w  s    |  B  slot along x, ticks              | strip |   C pins      D holes
///   10 | a  l    |  \               C . . . . . pins    | bar   |   H strip, K bar, on posts
///      | l  o    |     \  wall      D o o o o o holes   |       |   M exposure bars
///      | l  t    |  \     \  slanted                    | M     |   F caliper block, G slot
///   20 |         |     \     \                          | ===   |   E flat slots
///      |         | F G    \     \                       | ===   |
///      |         | [ ] [ ]   \ slot                     |       |
///   30 |         |                                      |       |
///      |        E flat slots 1 .. 12                    |       |
///   37 +--------------------------------------------------------+
///        (label below, if any)
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "../base/ascii.hpp"
#include "../calibrate/reading_fields.hpp"
#include "hairline/coupon.hpp"
#include "matched_taper.hpp"

namespace hairline {
namespace {

constexpr double pad_width = 47, pad_height = 37, label_strip = 3.4, pad_corner = 2.5;
constexpr double margin = 1;  // around the pad when the image may be as large as it likes
constexpr double taper_length = 24, thick_width = 0.6, tick_spacing_width = 0.05;
constexpr double slant_deg = 30;
constexpr std::size_t longest_label = 24;
constexpr double label_height = 2.0, label_stroke = 0.3;

/// Layers that come nearest to a height, at least one.
std::uint32_t layers_of(double height_mm, double layer_height_mm) {
  return static_cast<std::uint32_t>(std::max(1.0, std::round(height_mm / layer_height_mm)));
}

class Planner {
 public:
  explicit Planner(const CouponSettings& settings) : settings_(settings) {}

  Coupon plan() {
    place_on_image();
    pad_layers_ =
        std::max(layers_of(0.5, settings_.layer_height_mm), settings_.base_layers + settings_.transition_layers + 2);
    add_pad();
    add_wedges();
    add_pins_and_holes();
    add_flat_slots();
    add_bars();
    add_gauges();
    add_marks();
    for (const CouponPrism& p : c_.prisms) c_.layers = std::max(c_.layers, p.to_layer);
    return std::move(c_);
  }

  static double outer_height(const CouponSettings& s) { return pad_height + (s.label.empty() ? 0 : label_strip); }

 private:
  /// First layer above the pad.
  std::uint32_t above_pad() const { return pad_layers_ + 1; }
  std::uint32_t top_of(double height_above_pad_mm) const {
    return pad_layers_ + layers_of(height_above_pad_mm, settings_.layer_height_mm);
  }
  PointMm at(double x, double y) const { return {origin_.x + x, origin_.y + y}; }

  void place_on_image() {
    const Pitch p = settings_.pitch;
    const double w = pad_width, h = outer_height(settings_);
    c_.pitch = p;
    c_.layer_height_mm = settings_.layer_height_mm;
    const auto pixels = [](double mm, double pitch) { return std::ceil(mm / pitch - 1e-9); };
    c_.image = settings_.image.value_or(Size{static_cast<std::uint32_t>(pixels(w + 2 * margin, p.x_mm)),
                                             static_cast<std::uint32_t>(pixels(h + 2 * margin, p.y_mm))});
    // Whole pixels, so that the grid falls the same way on every image.
    origin_ = {std::floor((c_.image.width_px - w / p.x_mm) / 2 + 1e-9) * p.x_mm,
               std::floor((c_.image.height_px - h / p.y_mm) / 2 + 1e-9) * p.y_mm};
  }

  void add(OutlineMm outline, std::uint32_t from, std::uint32_t to, bool cuts = false) {
    c_.prisms.push_back({std::move(outline), {}, from, to, cuts});
  }
  CouponBox add_box(double x0, double y0, double x1, double y1, std::uint32_t from, std::uint32_t to,
                    bool cuts = false) {
    const CouponBox box{at(x0, y0), at(x1, y1), from, to};
    add(box_outline(box.from, box.to), from, to, cuts);
    return box;
  }

  void add_pad() {
    const double w = pad_width, h = outer_height(settings_), c = pad_corner;
    c_.pad = {at(0, 0), at(w, h), 1, pad_layers_};
    // One corner is cut, so that a mirrored print is noticed.
    add({at(0, 0), at(w, 0), at(w, h), at(c, h), at(0, h - c)}, 1, pad_layers_);
  }

  /// Point `along` the wedge from its thick end and `aside` of its axis.
  static PointMm beside(const CouponWedge& w, double along, double aside) {
    const double length = w.length_mm();
    const double ux = (w.thin_end.x - w.thick_end.x) / length, uy = (w.thin_end.y - w.thick_end.y) / length;
    return {w.thick_end.x + ux * along - uy * aside, w.thick_end.y + uy * along + ux * aside};
  }
  static OutlineMm slab(const CouponWedge& w, double along0, double along1, double aside0, double aside1) {
    return {beside(w, along0, aside0), beside(w, along1, aside0), beside(w, along1, aside1), beside(w, along0, aside1)};
  }

  void add_wedges() {
    const double a = slant_deg * std::numbers::pi / 180;
    const double ux = std::cos(a), uy = std::sin(a);
    struct Axis {
      WedgeDirection direction;
      PointMm wall, slot;  // thick ends, from the pad's corner
      PointMm unit;
    };
    const PointMm slanted{15.6, 11.9};
    const Axis axes[] = {
        {WedgeDirection::along_x, {13, 2}, {11, 6.8}, {1, 0}},
        {WedgeDirection::along_y, {7.6, 3}, {2.8, 1}, {0, 1}},
        {WedgeDirection::slanted,
         slanted,
         {slanted.x - 4.8 * uy - 1.5 * ux, slanted.y + 4.8 * ux - 1.5 * uy},
         {ux, uy}},
    };
    for (const WedgeKind kind : {WedgeKind::wall, WedgeKind::slot}) {
      for (const Axis& axis : axes) {
        CouponWedge w;
        w.kind = kind;
        w.direction = axis.direction;
        const PointMm thick = kind == WedgeKind::wall ? axis.wall : axis.slot;
        w.thick_end = at(thick.x, thick.y);
        const auto on_grid = kind == WedgeKind::wall ? on_pixel_middle : on_pixel_border;
        if (axis.direction == WedgeDirection::along_x) w.thick_end.y = on_grid(w.thick_end.y, settings_.pitch.y_mm);
        if (axis.direction == WedgeDirection::along_y) w.thick_end.x = on_grid(w.thick_end.x, settings_.pitch.x_mm);
        w.thin_end = {w.thick_end.x + taper_length * axis.unit.x, w.thick_end.y + taper_length * axis.unit.y};
        w.thick_width_mm = thick_width;
        w.from_layer = above_pad();
        w.to_layer = top_of(kind == WedgeKind::wall ? 1.6 : 1.8);
        if (kind == WedgeKind::wall) {
          add_wall(w);
        } else {
          add_slot(w);
        }
        c_.wedges.push_back(w);
      }
    }
  }

  /// Slots lie between two rows of pixels: so they are two pixels wide on the mask, not one and then three, over the
  /// widths that matter, and count as narrow gaps there (docs/exposure.md; at blurs under one pixel a gap of three
  /// pixels all along no longer does: see TaperMatch).
  static double on_pixel_border(double mm, double pitch_mm) { return std::round(mm / pitch_mm) * pitch_mm; }
  static double on_pixel_middle(double mm, double pitch_mm) { return (std::floor(mm / pitch_mm) + 0.5) * pitch_mm; }

  void add_taper(const CouponWedge& w, double beyond_mm, bool cuts) {
    c_.prisms.push_back(
        {taper_prism(w, beyond_mm),
         matched_taper(w, beyond_mm, settings_.pitch, settings_.blurs.value_or(usual_blurs(settings_.pitch))),
         w.from_layer, w.to_layer, cuts});
  }

  void add_wall(const CouponWedge& w) {
    add(slab(w, -2, 0.2, -0.9, 0.9), w.from_layer, w.to_layer);  // a stout anchor at the thick end
    add_taper(w, 0.1, false);
    add_ticks(w, 0.8 * side_of(w), above_pad(), top_of(0.3));
  }

  void add_slot(const CouponWedge& w) {
    const double near = -1.5 * side_of(w), far = 2.8 * side_of(w);
    add(slab(w, 0, taper_length + 1.5, std::min(near, far), std::max(near, far)), w.from_layer, w.to_layer);
    add_taper(w, 0.5, true);
    add_ticks(w, 0.8 * side_of(w), w.to_layer + 1, w.to_layer + layers_of(0.25, settings_.layer_height_mm));
  }

  /// Side of the axis the scale lies on: below walls and slots along x, to the right of those along y.
  static double side_of(const CouponWedge& w) { return w.direction == WedgeDirection::along_y ? -1 : 1; }

  void add_ticks(const CouponWedge& w, double aside, std::uint32_t from, std::uint32_t to) {
    const int last = static_cast<int>(std::lround(thick_width / tick_spacing_width));
    for (int i = 0; i <= last; ++i) {
      const double along = taper_length * (1 - i * tick_spacing_width / thick_width);
      const double end = aside + (i % 2 == 0 ? 1.6 : 0.8) * (aside > 0 ? 1 : -1);
      add(slab(w, along - 0.15, along + 0.15, std::min(aside, end), std::max(aside, end)), from, to);
    }
  }

  CouponRound round_at(double x, double y, double diameter_mm, std::uint32_t to_layer) const {
    const PointMm p = at(x, y);
    return {{on_pixel_middle(p.x, settings_.pitch.x_mm), on_pixel_middle(p.y, settings_.pitch.y_mm)},
            diameter_mm,
            above_pad(),
            to_layer};
  }

  void add_pins_and_holes() {
    constexpr double first_x = 26.8, step = 1.4;
    const std::uint32_t block_top = top_of(1.6);
    add_box(first_x - 1.1, 13.2, first_x + 8 * step + 1.1, 15.6, above_pad(), block_top);
    double x = first_x;
    for (const double diameter : coupon_ladder_mm) {
      const CouponRound pin = round_at(x, 11.6, diameter, top_of(1.0));
      const CouponRound hole = round_at(x, 14.4, diameter, block_top);
      add_round(pin, false);
      add_round(hole, true);
      c_.pins.push_back(pin);
      c_.holes.push_back(hole);
      x += step;
    }
  }

  void add_round(const CouponRound& r, bool cuts) {
    c_.prisms.push_back({polygon_outline(r.centre, r.diameter_mm, 32), disc_outline(r.centre, r.diameter_mm),
                         r.from_layer, r.to_layer, cuts});
  }

  void add_flat_slots() {
    constexpr double left = 11, wide = 1.6, column = 0.7, front = 32, back = 35;
    const std::uint32_t floor_top = top_of(0.3), first = floor_top + 1;
    const std::uint32_t roof_top = floor_top + 12 + layers_of(1.0, settings_.layer_height_mm);
    add_box(left, front, left + 12 * wide + 13 * column, back, above_pad(), roof_top);
    for (std::uint32_t n = 1; n <= 12; ++n) {
      const double x = left + column + (n - 1) * (wide + column);
      CouponFlatSlot slot;
      slot.layers = n;
      slot.height_mm = n * settings_.layer_height_mm;
      slot.box = add_box(x, front - 0.3, x + wide, back + 0.3, first, first + n - 1, true);
      slot.box.from.y += 0.3, slot.box.to.y -= 0.3;
      c_.flat_slots.push_back(slot);
      if (n % 4 == 0) add_box(x + 0.5, back + 0.5, x + 1.1, back + 1.4, above_pad(), top_of(0.3));  // one to count from
    }
  }

  void add_bars() {
    const std::uint32_t strip = top_of(1.8) + 1;
    c_.strip = add_box(39.6, 1, 42.6, 9, strip, strip);
    c_.bar = add_box(43.4, 1, 46.4, 9, top_of(1.4) + 1, top_of(1.4) + layers_of(0.4, settings_.layer_height_mm));
    for (const CouponBox* b : {&c_.strip, &c_.bar}) {
      for (const double y : {1.0, 7.5}) {
        const double x = b->from.x - origin_.x;
        add_box(x, y, x + 3, y + 1.5, above_pad(), b->to_layer);
      }
    }
  }

  void add_gauges() {
    const std::uint32_t top = top_of(2.3);
    c_.block = add_box(10.8, 23.6, 10.8 + coupon_block_mm, 28.6, above_pad(), top);
    add_box(17.2, 27, 23.2, 30, above_pad(), top);
    c_.gauge_slot = add_box(19.2, 26.5, 19.2 + coupon_slot_mm, 30.5, above_pad(), top, true);
    c_.gauge_slot.from.y += 0.5, c_.gauge_slot.to.y -= 0.5;
  }

  void add_marks() {
    const std::uint32_t top = top_of(0.6);
    c_.marks = {at(39.6, 11), at(46.4, 24.4), above_pad(), top};
    for (int column = 0; column < 4;
         ++column) {  // a thick bar heads each column, so that an empty one is felt as empty
      const double x = 39.6 + 1.8 * column;
      add_box(x, 11, x + 1.4, 12.2, above_pad(), top);
    }
    if (settings_.label.empty()) return;
    c_.label = text_outlines(settings_.label, at(4, pad_height + 2.4), label_height, label_stroke);
  }

  const CouponSettings& settings_;
  Coupon c_;
  PointMm origin_;
  std::uint32_t pad_layers_ = 0;
};

Error usage(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::usage, "", std::move(found), std::move(expected), std::move(advice)};
}

std::string number(double value) {
  return fmt::format("{}", value);
}

/// Not `value < low || value > high`, which lets NaN pass.
bool within(double value, double low, double high) {
  return value >= low && value <= high;
}

std::optional<Error> wrong_range(const char* what, double value, double low, double high, const char* unit) {
  if (within(value, low, high)) return std::nullopt;
  return usage(std::string(what) + " is " + number(value) + " " + unit,
               number(low) + " to " + number(high) + " " + unit, "Give a value in that range.");
}

std::optional<Error> wrong_exposures(const std::vector<double>& exposures_s) {
  if (exposures_s.empty())
    return usage("no exposure is given", "at least one exposure in seconds", "Give the times to print.");
  if (exposures_s.size() > most_coupon_exposures) {
    return usage(std::to_string(exposures_s.size()) + " exposures are given",
                 "at most " + std::to_string(most_coupon_exposures) + ", the lines of one reading sheet",
                 "Print them in two brackets.");
  }
  std::vector<long> seen;
  for (const double t : exposures_s) {
    if (auto error = wrong_range("an exposure", t, 0.1, 99.99, "s")) return error;
    const long hundredths = std::lround(t * 100);
    if (std::find(seen.begin(), seen.end(), hundredths) != seen.end()) {
      return usage("the exposure " + number(t) + " s is given twice", "times that differ by 0.01 s or more",
                   "Leave one of them out.");
    }
    seen.push_back(hundredths);
  }
  return std::nullopt;
}

std::optional<Error> wrong_label(const std::string& label) {
  const bool drawable = std::all_of(label.begin(), label.end(), [](char c) {
    return is_letter(c) || is_digit(c) || c == ' ' || c == '-' || c == '.';
  });
  if (drawable && label.size() <= longest_label) return std::nullopt;
  return usage("the label is \"" + label + "\"", "at most 24 letters, digits, spaces, hyphens and full stops",
               "Choose a plainer or shorter label.");
}

std::optional<Error> too_small(const CouponSettings& s) {
  if (!s.image) return std::nullopt;
  const double height = Planner::outer_height(s);
  const auto w = static_cast<std::uint32_t>(std::ceil(pad_width / s.pitch.x_mm - 1e-9)) + 2;
  const auto h = static_cast<std::uint32_t>(std::ceil(height / s.pitch.y_mm - 1e-9)) + 2;
  if (s.image->width_px >= w && s.image->height_px >= h && s.image->width_px <= 65535 && s.image->height_px <= 65535) {
    return std::nullopt;
  }
  return usage(
      "the image is " + std::to_string(s.image->width_px) + " x " + std::to_string(s.image->height_px) + " pixels",
      "at least " + std::to_string(w) + " x " + std::to_string(h) + " and at most 65535 pixels a side",
      "Give the printer's full image size, or leave it out.");
}

std::optional<Error> wrong_settings(const CouponSettings& s) {
  constexpr double least_mm = coupon_grid_mm.low, most_mm = coupon_grid_mm.high;
  if (auto e = wrong_range("the pixel pitch in x", s.pitch.x_mm, least_mm, most_mm, "mm")) return e;
  if (auto e = wrong_range("the pixel pitch in y", s.pitch.y_mm, least_mm, most_mm, "mm")) return e;
  if (auto e = wrong_range("the layer height", s.layer_height_mm, least_mm, most_mm, "mm")) return e;
  if (auto e = wrong_range("the base exposure", s.base_s, 0.1, 600, "s")) return e;
  if (auto e = wrong_range("the number of base and transition layers",
                           static_cast<double>(s.base_layers) + s.transition_layers, 0, 40, "layers")) {
    return e;
  }
  if (auto e = wrong_range("the density", s.density_g_per_ml, 0.5, 5, "g/ml")) return e;
  if (s.blurs) {
    if (auto e = wrong_range("the least blur", s.blurs->from_mm, 0.001, 1, "mm")) return e;
    if (auto e = wrong_range("the most blur", s.blurs->to_mm, s.blurs->from_mm, 1, "mm")) return e;
  }
  if (auto e = wrong_exposures(s.exposures_s)) return e;
  if (auto e = wrong_label(s.label)) return e;
  return too_small(s);
}

}  // namespace

double CouponWedge::length_mm() const {
  return std::hypot(thin_end.x - thick_end.x, thin_end.y - thick_end.y);
}

double CouponWedge::width_at_mm(PointMm place) const {
  const double length = length_mm();
  const double along =
      ((place.x - thick_end.x) * (thin_end.x - thick_end.x) + (place.y - thick_end.y) * (thin_end.y - thick_end.y)) /
      length;
  return thick_width_mm * std::clamp(1 - along / length, 0.0, 1.0);
}

PointMm CouponWedge::place_of(double width_mm) const {
  const double share = 1 - width_mm / thick_width_mm;
  return {thick_end.x + (thin_end.x - thick_end.x) * share, thick_end.y + (thin_end.y - thick_end.y) * share};
}

BlurRange usual_blurs(Pitch pitch) {
  const double pixel_mm = std::max({pitch.x_mm, pitch.y_mm, 0.05});
  return {0.52 * pixel_mm, 1.2 * pixel_mm};
}

ExposureMark exposure_mark(double exposure_s) {
  const auto hundredths = static_cast<std::uint32_t>(std::lround(exposure_s * 100));
  return {hundredths / 1000, hundredths / 100 % 10, hundredths / 10 % 10, hundredths % 10};
}

Result<Coupon> lay_out_coupon(const CouponSettings& settings) {
  if (std::optional<Error> error = wrong_settings(settings)) return tl::unexpected(*error);
  return Planner(settings).plan();
}

}  // namespace hairline
