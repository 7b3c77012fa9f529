/// The test piece: one plate of wedges, pins, holes, flat slots and bars from which a resin record is read.
///
/// One description of the geometry (`Coupon`) is behind the masks, the STL, the reading sheet and the tests. Everything
/// stands on one pad. Wedges taper evenly from 0.6 mm to nothing over 24 mm beside ticks every 0.05 mm of width, so a
/// width of 0.01 mm is 0.4 mm of length to the eye. Pins and holes follow the R10 series of ISO 3:1973 (values from
/// memory).
///
/// Grey steps: the sides of a wedge lie between pixel borders, and a grey pixel spreads its light over its whole width.
/// A side drawn by area alone would give the middle of a thin wall too little light, at 0.05 mm pixels as if it were up
/// to 0.02 mm thinner. So on the masks a wedge is as wide as it takes for the middle of a wall to get the light of its
/// true width, `erf(w / (2 sqrt2 s))`; slots likewise. That depends on the blur s, so each width is drawn for the blurs
/// whose limit it can be, such that the least and the most of them are missed by the same. Along x and y every third
/// pixel of a thin wedge is a wide place, like a small tooth: much blur smooths the teeth away; less lets through what
/// a smaller blur asks for, more light in a wall, less in a slot. And a slot wider than two pixels keeps its outer
/// pixels solid where it must, so that it still counts as a narrow gap (docs/exposure.md). Where walls and slots are
/// wide, and in the STL, the plain taper is drawn.
#pragma once
#include <array>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "hairline/draw.hpp"
#include "hairline/progress.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"
#include "hairline/settings.hpp"

namespace hairline {

/// Blurs the wedges are drawn for: standard deviations of gaussian spread, from_mm <= to_mm.
struct BlurRange {
  double from_mm = 0, to_mm = 0;
};
/// For a resin that is not known yet: 0.026 to 0.06 mm, and with pixels over 0.05 mm 0.52 to 1.2 pixels.
BlurRange usual_blurs(Pitch pitch);

struct CouponSettings {
  Pitch pitch;                    ///< 0.01 to 0.2 mm
  double layer_height_mm = 0.05;  ///< 0.01 to 0.2 mm
  std::vector<double>
      exposures_s;  ///< normal exposures, 0.1 to 99.99 s, told apart to 0.01 s; one archive each; 1 to 16 of them
  double base_s = 30;
  std::uint32_t base_layers = 5, transition_layers = 0;  ///< together at most 40
  Motion motion{6, 60, 150, 0, 0.5};
  double density_g_per_ml = 1.1;
  std::optional<Size> image;  ///< unset: just large enough; else the coupon is centred on it
  std::string label;          ///< raised on the pad: capitals, digits, space, hyphen, full stop; at most 24
  std::string resin_label, printer_label;
  std::optional<BlurRange> blurs;     ///< 0.001 to 1 mm; unset: the usual ones
  std::string record_file;            ///< that is read into; empty: there is none yet
  std::optional<ResinRecord> record;  ///< what is known of the resin: the sheet shows its limits and readings
};

inline constexpr std::size_t most_coupon_exposures = 16;  ///< what one page of the sheet has lines for

/// ISO 3:1973, R10: ten steps to the decade, here 0.1 to 0.63 mm.
inline constexpr double coupon_ladder_mm[] = {0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63};

enum class WedgeKind : std::uint8_t { wall, slot };
enum class WedgeDirection : std::uint8_t { along_x, along_y, slanted };

/// A wall or upright slot whose width falls evenly from `thick_width_mm` to 0 along its axis.
struct CouponWedge {
  WedgeKind kind = WedgeKind::wall;
  WedgeDirection direction = WedgeDirection::along_x;
  PointMm thick_end, thin_end;  ///< of the axis, plate coordinates
  double thick_width_mm = 0.6;
  std::uint32_t from_layer = 1, to_layer = 1;  ///< 1-based, inclusive
  double length_mm() const;
  /// Width where the axis passes nearest to `place`; 0 beyond the thin end, the thick width beyond the thick end.
  double width_at_mm(PointMm place) const;
  /// Place on the axis where the wedge is `width_mm` wide, 0 <= width <= thick_width_mm.
  PointMm place_of(double width_mm) const;
};

/// An upright round pin, or a round hole from the top of its block down to the pad.
struct CouponRound {
  PointMm centre;
  double diameter_mm = 0;
  std::uint32_t from_layer = 1, to_layer = 1;
};

/// A box of the coupon: columns and rows in mm, layers inclusive.
struct CouponBox {
  PointMm from, to;
  std::uint32_t from_layer = 1, to_layer = 1;
};

/// A flat slot, `layers` high, open to the front and the back.
struct CouponFlatSlot {
  CouponBox box;
  std::uint32_t layers = 1;
  double height_mm = 0;
};

/// An upright prism; the coupon is all adding prisms together less all cutting ones.
struct CouponPrism {
  OutlineMm outline;  ///< as meant
  OutlineMm drawn;    ///< as drawn on masks where that differs (see the note on grey steps); else empty
  std::uint32_t from_layer = 1, to_layer = 1;
  bool cuts = false;
};

struct Coupon {
  Size image;
  Pitch pitch;
  double layer_height_mm = 0.05;
  std::uint32_t layers = 0;
  CouponBox pad;
  std::vector<CouponWedge> wedges;  ///< walls along x, y, slanted, then slots likewise
  std::vector<CouponRound> pins, holes;
  std::vector<CouponFlatSlot> flat_slots;
  CouponBox strip;  ///< one layer, free beneath: its thickness is the cure depth of one exposure
  CouponBox bar;    ///< several layers, free beneath: what it is thicker than drawn is light that went on downwards
  CouponBox block;  ///< coupon_block_mm wide (x), for the caliper
  CouponBox gauge_slot;  ///< coupon_slot_mm wide (x), for the caliper's inner jaws
  CouponBox marks;  ///< where the exposure is marked: four columns of bars (tens, ones, tenths, hundredths of seconds)
  std::vector<CouponPrism> prisms;  ///< all of the coupon but the exposure's own bars and the label
  std::vector<OutlineMm> label;     ///< drawn joined, on the layers of the marks
};

/// Checks the settings and lays everything out. Fails with usage: a value out of range, two exposures alike, an image
/// that is too small, a label with other characters or too long.
Result<Coupon> lay_out_coupon(const CouponSettings& settings);

/// Bars that mark an exposure: `count` per column, most significant first.
struct ExposureMark {
  std::uint32_t tens = 0, ones = 0, tenths = 0, hundredths = 0;
  bool operator==(const ExposureMark&) const = default;
};
ExposureMark exposure_mark(double exposure_s);

/// Mask of layer `number`, 1-based, with the bars of `exposure_s`.
Layer draw_coupon_layer(const Coupon& coupon, double exposure_s, std::uint32_t number);
/// Manifest of the archive for one exposure.
JobSettings coupon_job(const Coupon& coupon, const CouponSettings& settings, double exposure_s);

/// Binary STL of the coupon without exposure bars and label: closed, every edge shared by two triangles, right-handed
/// with y up as the coupon is seen on the sheet, mm.
std::string coupon_stl(const Coupon& coupon);

/// What printing one archive takes, as a check of it says: seconds, and g of resin.
struct CouponPrint {
  double exposure_s = 0, duration_s = 0, resin_g = 0;
};
/// What to do with the files: slice the STL and mark its prints, or send the archives, then read and type; the last one
/// is empty where there is a record.
std::array<std::string, 5> coupon_steps(const CouponSettings& settings, const std::vector<CouponPrint>& prints);

/// The reading sheet: one A4 page of HTML with the steps, a picture, a table to fill in and the cautions; nothing is
/// loaded from elsewhere. Precondition: one print for each exposure.
std::string coupon_sheet(const Coupon& coupon, const CouponSettings& settings, const std::vector<CouponPrint>& prints);

/// How a reading is taken off the coupon, by its letter on the sheet, as sentences; "" where that says enough.
std::string how_to_take(const std::string& letter, double layer_height_mm);
/// The cautions of the sheet, as a fragment of HTML: gloves, air, UV, solvent, waste.
std::string_view coupon_cautions();

/// Name of one archive: "coupon-2.30s.zip".
std::string coupon_file_name(double exposure_s);

/// Five times around a guess, from where a coupon just stands to where slots close: 0.85 to 1.5 guesses, to 0.05 s
/// (0.01 s under 1 s; common practice, no source).
std::vector<double> bracket_around(double guess_s);
/// What a record says of the coupons to print for it; times and the rest as they are left out.
CouponSettings coupon_for(const ResinRecord& record);
/// What is wrong with a typed guess of the normal exposure, "" where nothing is; and the times proposed around it.
std::string guess_misfit(const std::string& text);
std::vector<double> times_around(const std::string& guess);
/// What is wrong with typed times for these settings, "" where nothing is; and the times.
std::string times_misfit(const std::string& text, CouponSettings settings);
std::vector<double> times_from(const std::string& text);
/// The exposures of the archives in a folder, by their names, ascending; none where it cannot be listed.
std::vector<double> coupons_in(const std::filesystem::path& dir);
/// Of these, the ones the record does not have the look of, which is read last.
std::vector<double> coupons_to_read(const std::filesystem::path& dir, const ResinRecord& record);

struct WrittenCoupon {
  std::vector<std::filesystem::path> files;  ///< one archive per exposure, coupon.stl, coupon-sheet.html
  std::vector<CouponPrint> prints;           ///< in the order of the exposures
};
/// Writes them into `dir` (made if missing). Fails with usage (settings, and archives larger than `Limits`),
/// unwritable, cancelled; no half-written file is left.
Result<WrittenCoupon> write_coupon(const std::filesystem::path& dir, const CouponSettings& settings,
                                   Progress* progress = nullptr);

}  // namespace hairline
