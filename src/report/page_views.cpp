#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "html.hpp"
#include "page_parts.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr double left = 92, right = 16, top = 16, bottom = 34, room = 400, least_height = 100;  // units of the drawing

struct Span {
  double from = std::numeric_limits<double>::infinity(), to = -from;
  void add(double value) { from = std::min(from, value), to = std::max(to, value); }
  double size() const { return to - from; }
};

// One view: columns are x or y of the print, rows its y or its height.
struct View {
  const char *name, *title, *says;
  const Raster* raster;
  Span across, down;
  bool height;  // rows are heights, upwards
  double PlaceMm::*col;
  double PlaceMm::*row;
  double scale = 1;    // units a mm
  double label = 10;   // half the height of a mark's label
  double stretch = 1;  // heights are drawn so many times as tall
  double rows(double mm) const { return mm * scale * stretch; }
  double u(double mm) const { return left + (mm - across.from) * scale; }
  double v(double mm) const { return top + rows(height ? down.to - mm : mm - down.from); }
  double width() const { return left + across.size() * scale + right; }
  double tall() const { return top + rows(down.size()) + bottom; }
};

// Columns of a silhouette with something in them, mm.
Span filled_columns(const Raster& raster) {
  Span span;
  for (std::size_t i = 0; i < raster.values.size(); ++i) {
    const auto col = static_cast<double>(i % raster.width_px);
    if (raster.values[i] != 0) span.add(col * raster.pitch_x_mm), span.add((col + 1) * raster.pitch_x_mm);
  }
  return span;
}

// What the views show: the print, or the whole plate where nothing is known of it, with some air.
Span shown(Span span, double plate_mm) {
  if (span.size() <= 0) span = {0, plate_mm};
  const double air = 0.04 * span.size();
  return {std::max(0.0, span.from - air), std::min(plate_mm, span.to + air)};
}

std::array<View, 3> views_of(const Report& report, const Silhouettes* seen, const std::vector<Mark>& marks) {
  Span x = seen ? filled_columns(seen->front) : Span{}, y = seen ? filled_columns(seen->side) : Span{};
  for (const Mark& mark : marks)
    for (const PlaceMm& at : {mark.box.from, mark.box.to}) x.add(at.x), y.add(at.y);
  for (const PlaceMm& at : {report.base.largest_box.from, report.base.largest_box.to}) x.add(at.x), y.add(at.y);
  x = shown(x, report.job.size.width_px * report.job.pitch.x_mm);
  y = shown(y, report.job.size.height_px * report.job.pitch.y_mm);
  const Span z{0, std::max(report.job.height_mm, 1e-3)};
  std::array<View, 3> views = {
      View{"front", "Front", "x to the right, height upwards", seen ? &seen->front : nullptr, x, z, true, &PlaceMm::x,
           &PlaceMm::z},
      View{"side", "Side", "y to the right, height upwards", seen ? &seen->side : nullptr, y, z, true, &PlaceMm::y,
           &PlaceMm::z},
      View{"top", "Top", "x to the right, y down", seen ? &seen->top : nullptr, x, y, false, &PlaceMm::x, &PlaceMm::y}};
  for (View& view : views) {
    view.scale = room / std::max({view.across.size(), view.down.size(), 1e-3});
    if (marks.size() > 40) view.label = 7;  // so that the print is seen between them
    if (view.height) view.stretch = std::max(1.0, std::ceil(least_height / view.rows(view.down.size())));
  }
  return views;
}

std::uint32_t layer_at(const Report& report, double z_mm) {
  const auto below = [](const LayerRow& row, double mm) { return row.bottom_mm + row.height_mm < mm - 1e-9; };
  const auto row = std::lower_bound(report.layers.begin(), report.layers.end(), z_mm, below);
  return row == report.layers.end() ? report.job.layers : row->layer;
}

std::string ruler(const Report& report, const View& view) {
  std::string text = "<g class=\"ruler\">";
  // As many words as there is room for.
  const double step = even_step(view.down.size() / std::clamp(view.rows(view.down.size()) / 25, 1.0, 8.0)),
               across = even_step(view.across.size() / std::clamp(view.across.size() * view.scale / 45, 1.0, 8.0));
  for (double mm = std::ceil(view.down.from / step) * step; mm <= view.down.to; mm += step) {
    const std::string words = view.height && mm > 0 ? fmt::format("{} mm · {}", number_text(mm), layer_at(report, mm))
                                                    : fmt::format("{} mm", number_text(mm));
    text += fmt::format("<path d=\"M{0:.1f} {1:.1f}h5\"/><text class=\"tick\" x=\"{2:.1f}\" y=\"{3:.1f}\">{4}</text>",
                        left - 6, view.v(mm), left - 9, view.v(mm) + 3.5, words);
  }
  for (double mm = std::ceil(view.across.from / across) * across; mm <= view.across.to; mm += across)
    text +=
        fmt::format("<path d=\"M{0:.1f} {1:.1f}v5\"/><text class=\"tick below\" x=\"{0:.1f}\" y=\"{2:.1f}\">{3}</text>",
                    view.u(mm), view.tall() - bottom + 1, view.tall() - bottom + 18, number_text(mm));
  return text + "</g>";
}

std::string picture(const View& view) {
  std::string text = fmt::format("<rect class=\"frame\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\"/>",
                                 left, top, view.across.size() * view.scale, view.rows(view.down.size()));
  if (view.raster == nullptr || view.raster->values.empty()) return text;
  const Raster& raster = *view.raster;
  const double tall_mm = raster.height_px * raster.pitch_y_mm;
  const char* smooth = raster.pitch_x_mm * view.scale < 3 ? " smooth" : "";  // large pixels show as such
  // Heights are whole pixels: the lowest row begins at the plate.
  const double at_top = view.height ? view.v(tall_mm) : view.v(0);
  return text +
         fmt::format(
             "<svg x=\"{0:.1f}\" y=\"{1:.1f}\" width=\"{2:.1f}\" height=\"{3:.1f}\" viewBox=\"{0:.1f} {1:.1f} {2:.1f} "
             "{3:.1f}\">",
             left, top, view.across.size() * view.scale, view.rows(view.down.size())) +
         fmt::format(
             "<image class=\"pixels{}\" x=\"{:.2f}\" y=\"{:.2f}\" width=\"{:.2f}\" height=\"{:.2f}\" "
             "preserveAspectRatio=\"none\" href=\"{}\"/></svg>",
             smooth, view.u(0), at_top, raster.width_px * raster.pitch_x_mm * view.scale, view.rows(tall_mm),
             depth_png(raster));
}

using Spot = std::pair<double, double>;

// Near `at`, in the drawing, and clear of the labels before it; `at` itself where there is no room.
Spot label_spot(const View& view, Spot at, const std::vector<Spot>& taken) {
  const double label = view.label;
  const auto clear = [&](Spot spot) {
    if (spot.first < left + label || spot.first > view.width() - label || spot.second < label ||
        spot.second > view.tall() - bottom - label / 2)
      return false;
    return std::none_of(taken.begin(), taken.end(), [&](Spot other) {
      return std::hypot(spot.first - other.first, spot.second - other.second) < 2.1 * label;
    });
  };
  for (int ring = 0; ring < 9; ++ring)
    for (int turn = 0; turn < std::max(1, 8 * ring); ++turn) {
      const double angle = 2 * std::numbers::pi * (turn + 0.5) / std::max(1, 8 * ring);
      const Spot spot{at.first + 2.2 * label * ring * std::sin(angle),
                      at.second - 2.2 * label * ring * std::cos(angle)};
      if (clear(spot)) return spot;
    }
  return at;
}

std::string label_shape(const std::string& shape, Spot at, double size) {
  const auto [x, y] = at;
  if (shape == "closed")
    return fmt::format("<rect class=\"label\" x=\"{0:.1f}\" y=\"{1:.1f}\" width=\"{2:.1f}\" height=\"{2:.1f}\"/>",
                       x - 0.9 * size, y - 0.9 * size, 1.8 * size);
  if (shape == "island")
    return fmt::format(
        "<path class=\"label\" d=\"M{0:.1f} {1:.1f}l{2:.1f} {2:.1f}l-{2:.1f} {2:.1f}l-{2:.1f} -{2:.1f}z\"/>", x,
        y - 1.2 * size, 1.2 * size);
  return fmt::format("<circle class=\"label\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\"/>", x, y, size);
}

Spot middle_of(const View& view, const BoxMm& box) {
  return {(view.u(box.from.*view.col) + view.u(box.to.*view.col)) / 2,
          (view.v(box.from.*view.row) + view.v(box.to.*view.row)) / 2};
}

// The place of a mark and a line from it to the label; drawn beneath all labels.
std::string place_html(const View& view, const Mark& mark, Spot label_at) {
  const double u0 = view.u(mark.box.from.*view.col), u1 = view.u(mark.box.to.*view.col),
               v0 = view.v(mark.box.from.*view.row), v1 = view.v(mark.box.to.*view.row);
  const Spot at = middle_of(view, mark.at);
  return fmt::format(
      "<g class=\"place {}\" data-key=\"{}\"><rect class=\"box\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" "
      "height=\"{:.1f}\"/><path class=\"leader\" d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}\"/></g>\n",
      mark.shape, mark.key, std::min(u0, u1) - 1, std::min(v0, v1) - 1, std::abs(u1 - u0) + 2, std::abs(v1 - v0) + 2,
      at.first, at.second, label_at.first, label_at.second);
}

std::string mark_html(const View& view, const Mark& mark, Spot spot) {
  const std::string name = html_text(mark.name);
  return fmt::format(
             "<a class=\"mark {0}\" id=\"mark-{1}-{2}\" href=\"#{3}\" data-key=\"{2}\" data-name=\"{4}\" "
             "aria-label=\"{2}: {4}\"><title>{4}</title>",
             mark.shape, view.name, mark.key, mark.entry(), name) +
         label_shape(mark.shape, spot, view.label) +
         fmt::format("<text class=\"{}{}\" x=\"{:.1f}\" y=\"{:.1f}\">{}</text></a>\n",
                     mark.key.size() > 2 ? "long" : "", view.label < 10 ? " small" : "", spot.first,
                     spot.second + 0.35 * view.label, mark.key);
}

std::string marks_html(const View& view, const std::vector<Mark>& marks) {
  std::vector<Spot> spots;
  std::string places, labels;
  for (const Mark& mark : marks) {
    spots.push_back(label_spot(view, middle_of(view, mark.at), spots));
    places += place_html(view, mark, spots.back());
    labels += mark_html(view, mark, spots.back());
  }
  return places + labels;
}

}  // namespace

std::string views_html(const Report& report, const Silhouettes* silhouettes, const std::vector<Mark>& marks) {
  const std::array<View, 3> views = views_of(report, silhouettes, marks);
  const bool low = std::max(views[0].tall() / views[0].width(), views[1].tall() / views[1].width()) < 0.75;
  std::string text = fmt::format("<div class=\"views{}\">\n", low ? " low" : "");
  for (const View& view : views) {
    const std::string says = view.stretch > 1 ? fmt::format("{}, drawn {:.0f} times as tall", view.says, view.stretch)
                                              : std::string(view.says);
    text += fmt::format(
        "<figure class=\"view\" id=\"view-{0}\"><svg role=\"group\" aria-label=\"{1} of the print, {2}\" viewBox=\"0 0 "
        "{3:.0f} {4:.0f}\">\n",
        view.name, view.title, says, view.width(), view.tall());
    text += picture(view) + ruler(report, view) + '\n';
    text += marks_html(view, marks);
    text += fmt::format("</svg><figcaption>{}: {}; mm</figcaption></figure>\n", view.title, says);
  }
  return text + "</div>\n";
}

}  // namespace hairline
