#include "shapes.hpp"

#include <algorithm>
#include <cmath>
#include <memory>
#include <numbers>

namespace hairline::shapes {
namespace {

using stacks::Inside;

// ---------------------------------------------------------------- closed forms (docs/exposure.md, docs/shapes.md)

constexpr double sure = 1.12;  // this far from a limit in dose a person is sure

// Light in the middle of a shape, between what its place among the pixels can make of it.
struct Light {
  double least = 0, most = 0;
};
Light operator*(Light a, Light b) {
  return {a.least * b.least, a.most * b.most};
}
Light dark(Light wall) {  // the light where the wall is a gap
  return {1 - wall.most, 1 - wall.least};
}

// Sizes go by blur, for that is what decides, but nothing is so small that it might not be drawn: wherever it lies
// among the pixels, one of them is at least half covered.
double strip_mm(const Conditions& c, double blurs) {
  return std::max(blurs * c.model.blur_mm, 1.3 * c.pitch_mm);
}
double spot_mm(const Conditions& c, double blurs) {
  return std::max(blurs * c.model.blur_mm, 1.75 * c.pitch_mm);
}

double root_half(double blur_mm) {
  return std::numbers::sqrt2 * blur_mm;
}

// Grey edges blur once more, and the middle of an even number of pixels lies half a pixel beside the brightest one.
Light wall(const Conditions& c, double width_mm) {
  const double s = c.model.blur_mm, p = c.pitch_mm, wide = std::sqrt(s * s + p * p / 6);
  const double beside =
      0.5 * (std::erf((width_mm + p) / (2 * root_half(wide))) + std::erf((width_mm - p) / (2 * root_half(wide))));
  return {beside, std::erf(width_mm / (2 * root_half(s)))};
}

// Light of a disc at a place `off_mm` beside its middle: its chords, added up.
double disc_light(double diameter_mm, double blur_mm, double off_mm) {
  const int steps = 400;
  const double radius = diameter_mm / 2;
  double sum = 0;
  for (int i = 0; i < steps; ++i) {
    const double x = (2 * (i + 0.5) / steps - 1) * radius, half = std::sqrt(radius * radius - x * x);
    const double across =
        std::exp(-(x - off_mm) * (x - off_mm) / (2 * blur_mm * blur_mm)) / (blur_mm * std::sqrt(2 * std::numbers::pi));
    sum += across * std::erf(half / root_half(blur_mm)) * diameter_mm / steps;
  }
  return sum;
}
Light pin(const Conditions& c, double diameter_mm) {
  const double s = c.model.blur_mm, p = c.pitch_mm, wide = std::sqrt(s * s + p * p / 6);
  return {disc_light(diameter_mm, wide, p / std::numbers::sqrt2),
          -std::expm1(-diameter_mm * diameter_mm / (8 * s * s))};
}

// The exposure from which a tall place in full light fuses at the job's layer height.
double tall_fuse_s(const Conditions& c) {
  const CureModel& m = c.model;
  const double a_record = std::exp(-m.layer_height_mm / m.penetration_depth_mm);
  const double a = std::exp(-c.height_mm / m.penetration_depth_mm);
  return m.fuse_time_s * std::exp((c.height_mm - m.layer_height_mm) / (2 * m.penetration_depth_mm)) * (1 - a) /
         (1 - a_record);
}
// The same for a flat gap under solid of some thickness.
double flat_fuse_s(const Conditions& c, double gap_mm, double solid_mm) {
  const double depth = c.model.penetration_depth_mm;
  return tall_fuse_s(c) * std::exp(gap_mm / depth) / (1 - std::exp(-solid_mm / depth));
}

using Answering = std::function<Answer(double)>;

Answering always(Answer answer) {
  return [=](double) { return answer; };
}
// A part that is there or not: it vanishes where its light does not bond.
Answering stands(const Conditions& c, Light light) {
  const double bond = bond_s(c);
  return [=](double t) {
    if (sure * t < bond / light.most) return Answer::lost;
    return t > sure * bond / light.least ? Answer::harmless : Answer::unsure;
  };
}
// A gap open to the top, `deep_mm` deep: it fills from the bottom up to where too little light settles from above.
Answering stays_open(const Conditions& c, Light light, double deep_mm) {
  const double fuse = tall_fuse_s(c), depth = c.model.penetration_depth_mm;
  const auto filled_mm = [=](double dose) {
    return dose <= fuse ? 0 : std::max(0.0, deep_mm + depth * std::log(1 - fuse / dose));
  };
  return [=](double t) {
    const double least = filled_mm(t / sure * light.least), most = filled_mm(t * sure * light.most);
    if (least >= 0.5 * deep_mm && least >= 0.15) return Answer::lost;
    return most <= 0.06 ? Answer::harmless : Answer::unsure;
  };
}
// A point or edge that thins out: it ends short by the length over which it is too thin.
Answering keeps_its_point(double short_at_least_mm(const Conditions&, double), const Conditions& c, double per_mm,
                          double tall_mm) {
  return [=](double t) {
    const double least = std::max(0.0, short_at_least_mm(c, t * sure) - c.pitch_mm) / per_mm;
    const double most = short_at_least_mm(c, t / sure) / per_mm;
    if (std::min(least, tall_mm) >= 0.6) return Answer::lost;
    return std::min(most, tall_mm) <= 0.3 ? Answer::harmless : Answer::unsure;
  };
}
// The size at which a light that rises with it just bonds, by bisection.
double limit_mm(const Conditions& c, double t, double light(double in_blurs)) {
  if (t <= bond_s(c)) return 1e9;
  double low_blurs = 0, high_blurs = 20;
  for (int i = 0; i < 60; ++i) {
    const double half = 0.5 * (low_blurs + high_blurs);
    (light(half) < bond_s(c) / t ? low_blurs : high_blurs) = half;
  }
  return high_blurs * c.model.blur_mm;
}
double wall_limit(const Conditions& c, double t) {
  return limit_mm(c, t, [](double w) { return std::erf(w / root_half(2)); });
}
double square_limit(const Conditions& c, double t) {
  return limit_mm(c, t, [](double w) { return std::pow(std::erf(w / root_half(2)), 2); });
}
double pin_limit(const Conditions& c, double t) {
  return limit_mm(c, t, [](double d) { return -std::expm1(-d * d / 8); });
}
Answering stays_open_flat(const Conditions& c, double gap_mm, double solid_mm) {
  const double from = flat_fuse_s(c, gap_mm, solid_mm);
  return [=](double t) {
    if (t > sure * from) return Answer::lost;
    return t * sure < from ? Answer::harmless : Answer::unsure;
  };
}

// ---------------------------------------------------------------- solids

Inside box(PlaceMm a, PlaceMm b) {
  return
      [=](double x, double y, double z) { return x >= a.x && x < b.x && y >= a.y && y < b.y && z >= a.z && z < b.z; };
}
Inside upright(double cx, double cy, double diameter, double z0, double z1) {
  return [=](double x, double y, double z) {
    return z >= z0 && z < z1 && (x - cx) * (x - cx) + (y - cy) * (y - cy) < diameter * diameter / 4;
  };
}
Inside ball(PlaceMm at, double radius) {
  return [=](double x, double y, double z) {
    return (x - at.x) * (x - at.x) + (y - at.y) * (y - at.y) + (z - at.z) * (z - at.z) < radius * radius;
  };
}
Inside any(std::vector<Inside> parts) {
  return [parts = std::move(parts)](double x, double y, double z) {
    return std::any_of(parts.begin(), parts.end(), [&](const Inside& part) { return part(x, y, z); });
  };
}
Inside minus(Inside a, Inside b) {
  return [a = std::move(a), b = std::move(b)](double x, double y, double z) { return a(x, y, z) && !b(x, y, z); };
}

// Everything stands in a plate of 3 mm with 0.3 mm around the plinth, off the pixel grid by a hair.
constexpr double side = 3.0, margin = 0.3, mid = 1.507, top = 0.4;
constexpr double low = margin + 0.007, high = side - margin + 0.007;

Inside plinth(double z1 = top) {
  return box({low, low, 0}, {high, high, z1});
}

Drawn job(const Conditions& c, double tall_mm, Inside solid, BoxMm feature, Fate fate, Answering answer) {
  Drawn out;
  const auto pixels = static_cast<std::uint32_t>(std::ceil(side / c.pitch_mm));
  const auto layers = static_cast<std::uint32_t>(std::ceil(tall_mm / c.height_mm - 1e-9));
  out.job.settings = stacks::plain_settings({pixels, pixels}, layers, {c.pitch_mm, c.pitch_mm}, c.height_mm);
  out.job.settings.normal_s = 1.56 * bond_s(c);
  out.job.model = c.model;
  out.job.layers = stacks::draw(out.job.settings, solid, 3);
  out.feature = feature;
  out.fate = fate;
  out.answer = std::move(answer);
  return out;
}

BoxMm around(PlaceMm from, PlaceMm to) {
  return {{from.x - 0.06, from.y - 0.06, from.z}, {to.x + 0.06, to.y + 0.06, to.z}};
}
const BoxMm everywhere{{0, 0, 0}, {side, side, 10}};

// Whole layers, so that a flat gap is as high as it is meant to be.
double in_layers(const Conditions& c, double mm) {
  return std::max(1.0, std::round(mm / c.height_mm)) * c.height_mm;
}

// ---------------------------------------------------------------- what is too thin

struct Set {
  std::vector<Shape> shapes;
  void add(const std::string& kind, const std::string& name, std::function<Drawn(const Conditions&)> draw) {
    shapes.push_back({kind, kind + ", " + name, std::move(draw)});
  }
};
std::string times(double k, const std::string& unit) {
  const std::string text = std::to_string(k);
  return text.substr(0, text.find('.') + 2) + " " + unit;
}
std::string blurs(double k) {
  return times(k, "blur");
}

void pickets(Set& set) {
  for (const double k : {1.5, 2.0, 2.6, 3.2, 4.2})
    set.add("picket", blurs(k), [=](const Conditions& c) {
      const double w = spot_mm(c, k);
      const PlaceMm a{mid - w / 2, mid - w / 2, top}, b{mid + w / 2, mid + w / 2, 1.6};
      return job(c, 1.6, any({plinth(), box(a, b)}), around(a, b), Fate::vanish, stands(c, wall(c, w) * wall(c, w)));
    });
  for (const double k : {1.8, 2.4, 3.0, 3.8, 5.0})
    set.add("round pin", blurs(k), [=](const Conditions& c) {
      const double d = spot_mm(c, k);
      return job(c, 1.6, any({plinth(), upright(mid, mid, d, top, 1.6)}),
                 around({mid - d / 2, mid - d / 2, top}, {mid + d / 2, mid + d / 2, 1.6}), Fate::vanish,
                 stands(c, pin(c, d)));
    });
  for (const double k : {1.6, 2.2, 4.2})
    set.add("rail", blurs(k), [=](const Conditions& c) {
      const double w = spot_mm(c, k);
      std::vector<Inside> parts{plinth(), box({low, mid - 0.25, 1.3}, {high, mid + 0.25, 1.7})};
      for (int i = 0; i < 4; ++i) {
        const double x = low + 0.3 + 0.55 * i;
        parts.push_back(box({x - w / 2, mid - w / 2, top}, {x + w / 2, mid + w / 2, 1.3}));
      }
      return job(c, 1.7, any(parts), around({low, mid - w / 2, top}, {high, mid + w / 2, 1.3}), Fate::vanish,
                 stands(c, wall(c, w) * wall(c, w)));
    });
}

void walls(Set& set) {
  for (const double k : {1.1, 1.5, 2.2, 3.0, 4.0})
    set.add("wall", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      const PlaceMm a{low + 0.3, mid - w / 2, top}, b{high - 0.3, mid + w / 2, 1.5};
      return job(c, 1.5, any({plinth(), box(a, b)}), around(a, b), Fate::vanish, stands(c, wall(c, w)));
    });
  for (const double k : {1.1, 1.5, 2.5, 4.0})
    set.add("fin", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      const PlaceMm a{1.1, mid - w / 2, top}, b{high - 0.1, mid + w / 2, 1.5};
      return job(c, 1.5, any({plinth(), box({low, low, top}, {1.1, high, 1.5}), box(a, b)}), around(a, b), Fate::vanish,
                 stands(c, wall(c, w)));
    });
  for (const double k : {1.2, 2.0, 3.5})
    set.add("bridge", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      const PlaceMm a{low + 0.6, mid - w / 2, 1.2}, b{high - 0.6, mid + w / 2, 1.6};
      return job(c, 1.6,
                 any({plinth(), box({low, mid - 0.4, top}, {low + 0.6, mid + 0.4, 1.6}),
                      box({high - 0.6, mid - 0.4, top}, {high, mid + 0.4, 1.6}), box(a, b)}),
                 around(a, b), Fate::vanish, stands(c, wall(c, w)));
    });
  for (const double k : {1.1, 1.5, 2.2, 3.0, 4.5})
    set.add("shell", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      return job(c, 1.6,
                 any({plinth(), minus(upright(mid, mid, 1.8 + w, top, 1.6), upright(mid, mid, 1.8 - w, top, 2))}),
                 around({mid - 1, mid - 1, top}, {mid + 1, mid + 1, 1.6}), Fate::vanish, stands(c, wall(c, w)));
    });
}

void more_thin(Set& set) {
  // Turned in the layer, so that no edge follows the pixels.
  for (const double k : {1.3, 2.0, 4.0})
    set.add("slanted wall", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      return job(c, 1.5,
                 any({plinth(),
                      [=](double x, double y, double z) {
                        const double u = (x - mid) * 0.9 + (y - mid) * 0.436, v = (y - mid) * 0.9 - (x - mid) * 0.436;
                        return z >= top && z < 1.5 && std::abs(u) < 0.9 && std::abs(v) < w / 2;
                      }}),
                 everywhere, Fate::vanish, stands(c, wall(c, w)));
    });
  for (const double k : {1.8, 2.4, 6.0})
    set.add("slanted rod", blurs(k), [=](const Conditions& c) {  // 30 degrees from upright, between two blocks
      const double d = spot_mm(c, k);
      return job(c, 2.2,
                 any({plinth(), box({low, mid - 0.4, 1.8}, {high, mid + 0.4, 2.2}),
                      box({low, mid - 0.4, 0}, {0.8, mid + 0.4, 2}),
                      [=](double x, double y, double z) {
                        return z >= top && z < 1.8 &&
                               std::hypot((x - 1.3 - (z - top) * 0.577) * 0.866, y - mid) < d / 2;
                      }}),
                 around({1.2, mid - 0.2, top}, {2.3, mid + 0.2, 1.8}), Fate::vanish, stands(c, pin(c, d)));
    });
  for (const double k : {1.2, 1.6, 4.5})
    set.add("lattice", blurs(k), [=](const Conditions& c) {  // upright bars that cross every 0.9 mm
      const double w = strip_mm(c, k);
      return job(c, 1.5,
                 any({plinth(),
                      [=](double x, double y, double z) {
                        if (z < top || z >= 1.5 || x < low || x >= high || y < low || y >= high) return false;
                        const auto bar = [&](double v) { return std::abs(std::remainder(v - mid, 0.9)) < w / 2; };
                        return bar(x) || bar(y);
                      }}),
                 everywhere, Fate::vanish, stands(c, wall(c, w)));
    });
  for (const double k : {1.1, 1.5, 4.0})
    set.add("short fin", blurs(k), [=](const Conditions& c) {  // 0.5 mm out of a wall, all the way up
      const double w = strip_mm(c, k);
      const PlaceMm a{1.5, mid - w / 2, top}, b{2.0, mid + w / 2, 1.5};
      return job(c, 1.5, any({plinth(), box({low, low, top}, {1.5, high, 1.5}), box(a, b)}), around(a, b), Fate::vanish,
                 stands(c, wall(c, w)));
    });
  for (const double k : {1.3, 3.0, 8.0})
    set.add("battlements", blurs(k), [=](const Conditions& c) {  // merlons on a wall, as deep as wide
      const double w = spot_mm(c, k), z = in_layers(c, 1.2), e = in_layers(c, 0.4);
      return job(c, z + e,
                 any({plinth(), box({low, mid - w / 2, top}, {high, mid + w / 2, z}),
                      [=](double x, double y, double h) {
                        return h >= z && h < z + e && x >= low && x < high && std::abs(y - mid) < w / 2 &&
                               std::abs(std::remainder(x - mid, 3 * w)) < w / 2;
                      }}),
                 everywhere, Fate::vanish, stands(c, wall(c, w) * wall(c, w)));
    });
}

// An H, 1.4 mm tall.
Inside letter(double stroke, double z0, double z1) {
  return any({box({mid - 0.5 - stroke / 2, mid - 0.7, z0}, {mid - 0.5 + stroke / 2, mid + 0.7, z1}),
              box({mid + 0.5 - stroke / 2, mid - 0.7, z0}, {mid + 0.5 + stroke / 2, mid + 0.7, z1}),
              box({mid - 0.5, mid - stroke / 2, z0}, {mid + 0.5, mid + stroke / 2, z1})});
}
const BoxMm letter_box{{mid - 0.75, mid - 0.8, 0}, {mid + 0.75, mid + 0.8, 10}};

void lettering(Set& set) {
  for (const double rise : {0.2, 0.35})
    for (const double k : {1.1, 1.5, 3.0, 4.0})
      set.add("raised lettering", blurs(k) + (rise < 0.3 ? ", low" : ""), [=](const Conditions& c) {
        const double w = strip_mm(c, k), z = in_layers(c, 0.6), e = in_layers(c, rise);
        return job(c, z + e, any({plinth(z), letter(w, z, z + e)}), letter_box, Fate::vanish, stands(c, wall(c, w)));
      });
  for (const double deep : {0.3, 0.5})
    for (const double k : {1.1, 1.6, 5.0})
      set.add("sunk lettering", blurs(k) + (deep < 0.4 ? ", shallow" : ""), [=](const Conditions& c) {
        const double w = strip_mm(c, k), z = in_layers(c, 1.0), e = in_layers(c, deep);
        return job(c, z, minus(plinth(z), letter(w, z - e, z + 1)), letter_box, Fate::fuse,
                   stays_open(c, dark(wall(c, w)), e));
      });
  for (const double k : {1.1, 1.5, 3.0, 4.0})
    set.add("text on a slope", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      return job(
          c, 1.6,
          [=](double x, double y, double z) {
            if (x < low || x >= high || y < low || y >= high || z >= 1.6) return false;
            if (z < top || z < top + (y - 1.1)) return true;
            if (z >= top + (y - 0.5)) return false;  // strokes rise 0.6 mm to the side
            return std::abs(x - mid) < w / 2 || std::abs(x - mid - 0.8) < w / 2 || std::abs(x - mid + 0.8) < w / 2;
          },
          everywhere, Fate::vanish, stands(c, wall(c, w)));
    });
}

double radians(double degrees) {
  return degrees * std::numbers::pi / 180;
}

// Half angle of the point, degrees; each tall enough to be a point, and no wider than the plinth.
void points(Set& set) {
  const auto tall = [](double half) { return std::min(1.6, 1.1 / std::tan(radians(half))); };
  for (const double half : {3.0, 5.0, 10.0, 20.0, 35.0, 45.0})
    set.add("cone", std::to_string(static_cast<int>(half)) + " degrees", [=](const Conditions& c) {
      const double h = tall(half), slope = std::tan(radians(half));
      return job(
          c, top + h,
          any({plinth(), [=](double x, double y,
                             double z) { return z >= top && std::hypot(x - mid, y - mid) < (top + h - z) * slope; }}),
          everywhere, Fate::vanish, keeps_its_point(pin_limit, c, 2 * slope, h));
    });
  for (const double half : {3.0, 15.0, 30.0, 45.0})
    set.add("pyramid", std::to_string(static_cast<int>(half)) + " degrees", [=](const Conditions& c) {
      const double h = tall(half), slope = std::tan(radians(half));
      return job(c, top + h,
                 any({plinth(),
                      [=](double x, double y, double z) {
                        return z >= top && std::max(std::abs(x - mid), std::abs(y - mid)) < (top + h - z) * slope;
                      }}),
                 everywhere, Fate::vanish, keeps_its_point(square_limit, c, 2 * slope, h));
    });
  for (const double half : {2.0, 7.5, 20.0, 45.0})
    set.add("ridge", std::to_string(static_cast<int>(half)) + " degrees", [=](const Conditions& c) {
      const double h = tall(half), slope = std::tan(radians(half));
      return job(c, top + h,
                 any({plinth(),
                      [=](double x, double y, double z) {
                        return z >= top && x >= low && x < high && std::abs(y - mid) < (top + h - z) * slope;
                      }}),
                 everywhere, Fate::vanish, keeps_its_point(wall_limit, c, 2 * slope, h));
    });
  for (const double half : {2.0, 7.5, 15.0, 30.0, 45.0})
    set.add("knife", std::to_string(static_cast<int>(half)) + " degrees", [=](const Conditions& c) {
      const double slope = std::tan(radians(half)), length = std::min(2.0, 1.0 / slope), end = low + 0.3 + length;
      return job(c, 1.4,
                 any({plinth(), box({low, low, top}, {low + 0.3, high, 1.4}),
                      [=](double x, double y, double z) {
                        return z >= top && z < 1.4 && x >= low && std::abs(y - mid) < (end - x) * slope;
                      }}),
                 everywhere, Fate::vanish, keeps_its_point(wall_limit, c, 2 * slope, length));
    });
}

void carriers(Set& set) {
  for (const double k : {1.5, 2.2, 3.2, 4.5, 8.0})
    set.add("neck", blurs(k), [=](const Conditions& c) {
      const double w = spot_mm(c, k), z = in_layers(c, 0.4) + top;
      const PlaceMm a{mid - w / 2, mid - w / 2, top}, b{mid + w / 2, mid + w / 2, z};
      return job(c, z + 0.6,
                 any({plinth(), box(a, b), box({mid - 0.5, mid - 0.5, z}, {mid + 0.5, mid + 0.5, z + 0.6})}),
                 around(a, b), Fate::vanish, stands(c, wall(c, w) * wall(c, w)));
    });
  for (const double k : {1.6, 2.2, 5.0})
    set.add("two layers of neck", blurs(k), [=](const Conditions& c) {
      const double w = spot_mm(c, k), z0 = in_layers(c, top), z = z0 + 2 * c.height_mm;
      const PlaceMm a{mid - w / 2, mid - w / 2, z0}, b{mid + w / 2, mid + w / 2, z};
      // The body around the neck is so high above the plinth that nothing fuses: it stands in a well.
      const Inside well = box({mid - 0.7, mid - 0.7, z0 - 0.4}, {mid + 0.7, mid + 0.7, 9});
      const Inside stem = box({mid - w, mid - w, 0}, {mid + w, mid + w, z0});
      return job(c, z + 0.7,
                 any({minus(plinth(z0), well), box({low, low, 0}, {high, high, 0.1}), stem, box(a, b),
                      box({mid - 0.35, mid - 0.35, z}, {mid + 0.35, mid + 0.35, z + 0.7})}),
                 around(a, b), Fate::vanish, k >= 5 ? always(Answer::harmless) : stands(c, wall(c, w) * wall(c, w)));
    });
  for (const double k : {1.8, 8.0})
    set.add("disc on a post", blurs(k), [=](const Conditions& c) {
      const double d = spot_mm(c, k), thick = in_layers(c, 0.15);
      return job(c, 1.3 + thick,
                 any({plinth(), upright(mid, mid, d, top, 1.3), upright(mid, mid, 1.8, 1.3, 1.3 + thick)}), everywhere,
                 Fate::vanish, stands(c, pin(c, d)));
    });
  for (const double k : {7.0, 9.0})
    set.add("support tip", blurs(k), [=](const Conditions& c) {
      const double d = spot_mm(c, k);
      return job(c, 2.0,
                 any({plinth(), box({low, low, top}, {low + 0.6, high, 2.0}), box({low, low, 1.4}, {high, high, 2.0}),
                      [=](double x, double y, double z) {  // a cone that ends under the body
                        return z >= top && z < 1.4 &&
                               std::hypot(x - 2.2, y - mid) < d / 2 + std::max(0.0, 1.3 - z) * 0.35;
                      }}),
                 everywhere, Fate::vanish, always(Answer::harmless));
    });
}

// ---------------------------------------------------------------- what may fill

void slots(Set& set) {
  for (const double k : {1.1, 1.5, 2.2, 4.5, 6.0, 12.0})
    set.add("slot", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      const PlaceMm a{low, mid - w / 2, top}, b{high, mid + w / 2, 1.6};
      return job(c, 1.6, minus(plinth(1.6), box(a, {b.x, b.y, 9})), around(a, b), Fate::fuse,
                 stays_open(c, dark(wall(c, w)), 1.2));
    });
  for (const double k : {1.1, 1.5, 5.0})
    set.add("slot closed at its ends", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      const PlaceMm a{low + 0.5, mid - w / 2, top}, b{high - 0.5, mid + w / 2, 1.6};
      return job(c, 1.6, minus(plinth(1.6), box(a, {b.x, b.y, 9})), around(a, b), Fate::fuse,
                 stays_open(c, dark(wall(c, w)), 1.2));
    });
  for (const double k : {1.6, 2.2, 3.0, 5.0, 7.0, 12.0})
    set.add("round hole", blurs(k), [=](const Conditions& c) {
      const double d = spot_mm(c, k);
      return job(c, 1.6, minus(plinth(1.6), upright(mid, mid, d, top, 9)),
                 around({mid - d / 2, mid - d / 2, top}, {mid + d / 2, mid + d / 2, 1.6}), Fate::fuse,
                 stays_open(c, dark(pin(c, d)), 1.2));
    });
  for (const double k : {1.8, 2.4, 6.0})
    set.add("drain hole", blurs(k), [=](const Conditions& c) {  // through the roof of a hollow dome
      const double d = spot_mm(c, k);
      const auto dome = [](double x, double y, double z) {
        const double r = std::hypot(x - mid, y - mid, z);
        return z < 1.5 && r >= 1.0 && r < 1.45;
      };
      return job(c, 1.5, minus(dome, upright(mid, mid, d, 0.5, 9)),
                 around({mid - d / 2, mid - d / 2, 0.95}, {mid + d / 2, mid + d / 2, 1.5}), Fate::fuse,
                 stays_open(c, dark(pin(c, d)), 0.4));
    });
  for (const double k : {1.5, 2.0, 5.0})
    set.add("square hole", blurs(k), [=](const Conditions& c) {
      const double w = spot_mm(c, k);
      const PlaceMm a{mid - w / 2, mid - w / 2, top}, b{mid + w / 2, mid + w / 2, 1.6};
      return job(c, 1.6, minus(plinth(1.6), box(a, {b.x, b.y, 9})), around(a, b), Fate::fuse,
                 stays_open(c, dark(wall(c, w) * wall(c, w)), 1.2));
    });
  for (const double k : {1.8, 2.4, 6.0})
    set.add("screen", blurs(k), [=](const Conditions& c) {
      const double d = spot_mm(c, k);
      std::vector<Inside> holes;
      for (int i = -1; i <= 1; ++i)
        for (int j = -1; j <= 1; ++j) holes.push_back(upright(mid + 0.7 * i, mid + 0.7 * j, d, top, 9));
      return job(c, 1.4, minus(plinth(1.4), any(holes)), everywhere, Fate::fuse, stays_open(c, dark(pin(c, d)), 1.0));
    });
  for (const double deep : {0.4, 0.8})
    for (const double k : {1.1, 1.6, 5.0})
      set.add("groove", blurs(k) + (deep < 0.5 ? ", shallow" : ""), [=](const Conditions& c) {
        const double w = strip_mm(c, k), z = in_layers(c, 1.3), e = in_layers(c, deep);
        const PlaceMm a{low, mid - w / 2, z - e}, b{high, mid + w / 2, z};
        return job(c, z, minus(plinth(z), box(a, {b.x, b.y, 9})), around(a, b), Fate::fuse,
                   stays_open(c, dark(wall(c, w)), e));
      });
}

void more_gaps(Set& set) {
  for (const double k : {1.2, 1.5, 5.0})
    set.add("slanted slot", blurs(k), [=](const Conditions& c) {
      const double w = strip_mm(c, k);
      return job(c, 1.6,
                 minus(plinth(1.6),
                       [=](double x, double y, double z) {
                         const double u = (x - mid) * 0.9 + (y - mid) * 0.436, v = (y - mid) * 0.9 - (x - mid) * 0.436;
                         return z >= top && std::abs(u) < 0.9 && std::abs(v) < w / 2;
                       }),
                 everywhere, Fate::fuse, stays_open(c, dark(wall(c, w)), 1.2));
    });
  for (const double k : {0.8, 5.0})
    set.add("upright screen", times(k, "Dp"),
            [=](const Conditions& c) {  // round holes through a stout wall
              const double d = std::max(k * c.model.penetration_depth_mm, 3 * c.height_mm), z = top + 0.2 + d / 2;
              const double over = 0.4, tall = z + d / 2 + over;
              const double all = flat_fuse_s(c, d, over), none = flat_fuse_s(c, d / 2, over);
              return job(c, tall,
                         any({plinth(),
                              [=](double x, double y, double h) {
                                return h < tall && x >= low && x < high && std::abs(y - mid) < 0.6 &&
                                       std::hypot(std::remainder(x - mid, d + 0.4), h - z) >= d / 2;
                              }}),
                         around({low, mid - 0.6, z - d / 2}, {high, mid + 0.6, z + d / 2}), Fate::fuse, [=](double t) {
                           if (t > sure * all) return Answer::lost;
                           return t * sure < none ? Answer::harmless : Answer::unsure;
                         });
            });
  for (const double k : {1.1, 5.0})
    set.add("gap between walls", blurs(k), [=](const Conditions& c) {  // two stout walls on one plinth, side by side
      const double w = strip_mm(c, k);
      const PlaceMm a{low, mid - w / 2, top}, b{high, mid + w / 2, 1.8};
      return job(
          c, 1.8,
          any({plinth(), box({low, mid - 0.6, top}, {high, a.y, 1.8}), box({low, b.y, top}, {high, mid + 0.6, 1.8})}),
          around(a, b), Fate::fuse, stays_open(c, dark(wall(c, w)), 1.4));
    });
}

void flat_gaps(Set& set) {
  for (const double k : {0.5, 1.0, 2.5, 3.5, 5.0})
    set.add("undercut", times(k, "Dp"), [=](const Conditions& c) {
      const double z = in_layers(c, 0.8), g = in_layers(c, k * c.model.penetration_depth_mm), over = in_layers(c, 0.6);
      const PlaceMm a{1.2, low, z}, b{high + 1, high + 1, z + g};
      return job(c, z + g + over, minus(plinth(z + g + over), box(a, b)), around(a, {high, high, b.z}), Fate::fuse,
                 stays_open_flat(c, g, over));
    });
  for (const double k : {0.8, 3.5, 5.0, 7.0})
    set.add("sideways hole", times(k, "Dp"), [=](const Conditions& c) {
      const double d = std::max(k * c.model.penetration_depth_mm, 3 * c.height_mm), over = 0.5, z = top + 0.3 + d / 2;
      const double tall = z + d / 2 + over;
      const Inside hole = [=](double x, double, double h) { return std::hypot(x - mid, h - z) < d / 2; };
      const double all = flat_fuse_s(c, d, over), depth = c.model.penetration_depth_mm;
      // The share of the round whose chord closes: its two sides.
      const auto closes = [=](double t) {
        const double chord = depth * std::log(std::max(1.0, t / flat_fuse_s(c, 0, over)));
        if (chord >= d) return 1.0;
        const double angle = 2 * std::asin(chord / d);
        return (angle - std::sin(angle)) / std::numbers::pi;
      };
      return job(c, tall, minus(plinth(tall), hole),
                 around({mid - d / 2, low, z - d / 2}, {mid + d / 2, high, z + d / 2}), Fate::fuse, [=](double t) {
                   if (t > sure * all) return Answer::lost;
                   return closes(t * sure) <= 0.12 ? Answer::harmless : Answer::unsure;
                 });
    });
  for (const double k : {0.5, 1.0, 4.5})
    set.add("flat weld", times(k, "Dp"), [=](const Conditions& c) {
      const double z = in_layers(c, 1.0), g = in_layers(c, k * c.model.penetration_depth_mm), over = in_layers(c, 0.5);
      return job(c, z + g + over,
                 any({plinth(), box({low, low + 0.3, top}, {1.5, high - 0.3, z}),
                      box({2.3, low + 0.3, top}, {high, high - 0.3, z + g + over}),
                      box({low, low + 0.3, z + g}, {high, high - 0.3, z + g + over})}),
                 around({low, low, z}, {1.5, high, z + g}), Fate::fuse, stays_open_flat(c, g, over));
    });
}

void moving_parts(Set& set) {
  for (const double k : {1.1, 1.5, 5.0, 7.0})
    set.add("pin in a ring", blurs(k), [=](const Conditions& c) {
      const double g =
          std::max(k * c.model.blur_mm, 2.2 * c.pitch_mm);  // so wide that the mask parts the two all around
      std::vector<Inside> parts{plinth(), upright(mid, mid, 0.8, top, 2.0),
                                minus(upright(mid, mid, 2.2, 1.1, 2.0), upright(mid, mid, 0.8 + 2 * g, 1, 3))};
      for (int i = 0; i < 3; ++i) {
        const double angle = 2.1 * i;
        parts.push_back(upright(mid + 0.9 * std::cos(angle), mid + 0.9 * std::sin(angle), 0.36, top, 1.2));
      }
      return job(c, 2.0, any(parts), around({mid - 0.4 - g, mid - 0.4 - g, 1.1}, {mid + 0.4 + g, mid + 0.4 + g, 2}),
                 Fate::fuse, stays_open(c, dark(wall(c, g)), 0.9));
    });
  // Two square links: one lies on two posts, the other stands on edge through it, `g` from its bar.
  for (const double k : {1.1, 1.5, 6.0})
    set.add("chain link", blurs(k), [=](const Conditions& c) {
      const double g = strip_mm(c, k);
      const double z0 = 1.5, z1 = 2.1, bar = 1.75;  // the lying link, and where its right bar begins
      const Inside lying = minus(box({low, mid - 1.1, z0}, {bar + 0.3, mid + 1.1, z1}),
                                 box({low + 0.45, mid - 0.65, 0}, {bar, mid + 0.65, 9}));
      const Inside standing = minus(box({bar - g - 0.3, mid - 0.3, top}, {high, mid + 0.3, 3.0}),
                                    box({bar - g, 0, 0.8}, {high - 0.4, side, 2.7}));
      return job(c, 3.0,
                 any({plinth(), box({low, mid - 1.1, top}, {low + 0.45, mid - 0.65, z0}),
                      box({low, mid + 0.65, top}, {low + 0.45, mid + 1.1, z0}), lying, standing}),
                 around({bar - g, mid - 0.3, z0}, {bar, mid + 0.3, z1}), Fate::fuse,
                 stays_open(c, dark(wall(c, g)), z1 - z0));
    });
}

// ---------------------------------------------------------------- what a person lets pass

void harmless(Set& set) {
  const auto plain = [&](const std::string& kind, const std::string& name, double tall,
                         std::function<Inside(const Conditions&)> solid) {
    set.add(kind, name, [=](const Conditions& c) {
      return job(c, tall, solid(c), everywhere, Fate::fuse, always(Answer::harmless));
    });
  };
  for (const double full : {40.0, 60.0, 90.0}) {
    const double slope = std::tan(radians(full / 2));
    const std::string name = std::to_string(static_cast<int>(full)) + " degrees";
    plain("upright crease", name, 1.3, [=](const Conditions&) {
      return minus(plinth(1.3), [=](double x, double y, double z) {
        return z >= top && x > 1.4 && std::abs(y - mid) < (x - 1.4) * slope;
      });
    });
    plain("valley", name, 1.4, [=](const Conditions&) {
      return minus(plinth(1.4),
                   [=](double, double y, double z) { return z > 0.7 && std::abs(y - mid) < (z - 0.7) * slope; });
    });
  }
  plain("bodies that touch", "cylinders", 1.3, [](const Conditions&) {
    return any({plinth(), upright(mid - 0.6, mid, 1.24, top, 1.3), upright(mid + 0.6, mid, 1.24, top, 1.3)});
  });
  plain("bodies that touch", "cylinder and wall", 1.3, [](const Conditions&) {
    return any({plinth(), box({low, low, top}, {1.0, high, 1.3}), upright(1.58, mid, 1.2, top, 1.3)});
  });
  plain("bodies that touch", "ball on the plinth", 2.0, [](const Conditions&) {
    return any({plinth(), ball({mid, mid, 1.1}, 0.8)});
  });
  plain("bodies that touch", "two balls", 2.2, [](const Conditions&) {
    return any({plinth(), ball({mid - 0.45, mid, 1.0}, 0.7), ball({mid + 0.45, mid, 1.1}, 0.8)});
  });
  for (const double radius : {0.4, 0.8, 1.2})
    plain("rounded top", std::to_string(radius).substr(0, 3) + " mm", 0.5 + radius, [=](const Conditions&) {
      return any({plinth(), minus(ball({mid, mid, top}, radius), box({0, 0, 0}, {side, side, top}))});
    });
  for (const double degrees : {4.0, 10.0, 20.0})
    plain("shallow slope", std::to_string(static_cast<int>(degrees)) + " degrees", 1.4, [=](const Conditions&) {
      const double slope = std::tan(radians(degrees));
      return any({plinth(), [=](double x, double y, double z) {
                    return x >= low && x < high && y >= low && y < high && z < top + (x - low) * slope;
                  }});
    });
  plain("plate of one layer", "1.5 mm wide", 0.8, [](const Conditions& c) {
    const double z = in_layers(c, 0.5);
    return any({plinth(z), box({mid - 0.75, mid - 0.75, z}, {mid + 0.75, mid + 0.75, z + c.height_mm})});
  });
  plain("plate of one layer", "two steps", 0.9, [](const Conditions& c) {
    const double z = in_layers(c, 0.5);
    return any({plinth(z), box({mid - 0.9, mid - 0.9, z}, {mid + 0.9, mid + 0.9, z + c.height_mm}),
                upright(mid, mid, 1.2, z, z + 2 * c.height_mm)});
  });
  for (const double radius : {0.35, 0.6})
    plain("hollow ball", std::to_string(radius).substr(0, 4) + " mm", 1.8, [=](const Conditions&) {
      return minus(plinth(1.8), ball({mid, mid, 0.95}, radius));
    });
  plain("texture", "pyramids every 0.6 mm", 1.2, [](const Conditions&) {
    return [](double x, double y, double z) {
      if (x < low || x >= high || y < low || y >= high) return false;
      const double u = std::abs(std::remainder(x, 0.6)), v = std::abs(std::remainder(y, 0.6));
      return z < 1.1 - std::max(u, v);  // 45 degrees, 0.3 mm deep
    };
  });
  plain("texture", "joints between bricks", 1.0, [](const Conditions&) {  // 0.1 mm deep, 0.4 mm wide
    return [](double x, double y, double z) {
      if (x < low || x >= high || y < low || y >= high) return false;
      const bool joint = std::abs(std::remainder(x - mid, 1.2)) < 0.2 || std::abs(std::remainder(y - mid, 1.0)) < 0.2;
      return z < (joint ? 0.9 : 1.0);
    };
  });
  plain("texture", "screw thread", 2.0, [](const Conditions&) {  // ridges of 90 degrees around a rod, 0.5 mm apart
    return any({plinth(), [](double x, double y, double z) {
                  return z >= top && z < 2.0 && std::hypot(x - mid, y - mid) < 0.7 + std::abs(std::remainder(z, 0.5));
                }});
  });
  plain("texture", "scales", 1.8, [](const Conditions&) {  // a wall of overlapping scales, 0.15 mm proud
    return any({plinth(), [](double x, double y, double z) {
                  const double row = std::floor(z / 0.3), out = 0.15 * (1 - (z / 0.3 - row));
                  const double bow = std::remainder(x + 0.25 * row, 0.5);
                  return z >= top && z < 1.8 && x >= low && x < high && y >= 1.0 && y < 1.6 + out * (1 - 8 * bow * bow);
                }});
  });
  plain("block", "plain", 1.2, [](const Conditions&) { return plinth(1.2); });
  plain("block", "stairs", 1.4, [](const Conditions&) {
    return any({plinth(), box({1.0, low, 0}, {high, high, 0.7}), box({1.6, low, 0}, {high, high, 1.0}),
                box({2.1, low, 0}, {high, high, 1.4})});
  });
  plain("block", "turned by 30 degrees", 1.3, [](const Conditions&) {
    return any({plinth(), [](double x, double y, double z) {
                  const double u = (x - mid) * 0.866 + (y - mid) * 0.5, v = (y - mid) * 0.866 - (x - mid) * 0.5;
                  return z < 1.3 && std::abs(u) < 0.7 && std::abs(v) < 0.5;
                }});
  });
  plain("block", "cylinder", 1.5, [](const Conditions&) { return any({plinth(), upright(mid, mid, 1.6, top, 1.5)}); });
}

CureModel resin(double bond_s, double fuse_s, double blur_mm, double depth_mm) {
  CureModel model;
  model.bond_time_s = bond_s;
  model.fuse_time_s = fuse_s;
  model.blur_mm = blur_mm;
  model.penetration_depth_mm = depth_mm;
  model.valid_from_s = 0.5 * bond_s;
  model.valid_to_s = 4 * bond_s;
  return model;
}

}  // namespace

double bond_s(const Conditions& c) {
  return c.model.bond_time_s * std::exp((c.height_mm - c.model.layer_height_mm) / c.model.penetration_depth_mm);
}

std::vector<Conditions> conditions() {
  return {{"harbour grey", resin(1.6, 0.55, 0.038, 0.16), 0.05, 0.05},
          {"fine pixels", resin(1.2, 0.45, 0.03, 0.1), 0.022, 0.03},
          {"soft light", resin(2.2, 0.6, 0.06, 0.12), 0.05, 0.05},
          {"deep cure", resin(2.0, 0.8, 0.045, 0.2), 0.035, 0.05},
          {"thick layers", resin(1.5, 0.4, 0.07, 0.25), 0.06, 0.1},
          {"quick", resin(0.9, 0.35, 0.05, 0.14), 0.04, 0.04},
          {"sharp light", resin(2.6, 0.7, 0.03, 0.13), 0.05, 0.03}};
}

std::vector<Shape> all() {
  Set set;
  pickets(set);
  walls(set);
  more_thin(set);
  lettering(set);
  points(set);
  carriers(set);
  slots(set);
  more_gaps(set);
  flat_gaps(set);
  moving_parts(set);
  harmless(set);
  return set.shapes;
}

}  // namespace hairline::shapes
