// The chance of square pins and square upright holes, wide walls and a high flat gap against a simulation of 100 000
// prints, with the covariance of the demo's sound record. Closed forms: light in the middle of a square pin is the
// product of the shares of two strips, that of a hole one less that (closed_forms.hpp); round pins of the trade lie
// between.
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numbers>

#include "hairline/demo.hpp"
#include "job_run.hpp"

using namespace hairline;

namespace {

constexpr double pitch = 0.05;

struct Drawn {
  double bond_s, fuse_s, blur_mm, depth_mm;
};
using Critical = std::function<double(const Drawn&)>;

double normal(stacks::Dice& dice) {  // Box and Muller
  return std::sqrt(-2 * std::log(1 - dice.between(0, 1))) * std::cos(2 * std::numbers::pi * dice.between(0, 1));
}

using Square = std::array<std::array<double, 4>, 4>;
Square cholesky(const LogCovariance& v) {
  Square root{};
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      double rest = v[i][j];
      for (std::size_t k = 0; k < j; ++k) rest -= root[i][k] * root[j][k];
      root[i][j] = i == j ? std::sqrt(rest) : rest / root[j][j];
    }
  return root;
}

double simulated(const CureModel& m, double exposure_s, Fate fate, const Critical& critical, double dose_spread) {
  const Square root = cholesky(*m.log_covariance);
  stacks::Dice dice(4711);
  constexpr int prints = 100000;
  int flips = 0;
  for (int n = 0; n < prints; ++n) {
    std::array<double, 4> z{}, log_factor{};
    for (double& one : z) one = normal(dice);
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t k = 0; k <= i; ++k) log_factor[i] += root[i][k] * z[k];
    const double c = critical({m.bond_time_s * std::exp(log_factor[0]), m.fuse_time_s * std::exp(log_factor[1]),
                               m.blur_mm * std::exp(log_factor[2]), m.penetration_depth_mm * std::exp(log_factor[3])});
    const double dose = exposure_s * std::exp(dose_spread * normal(dice));
    flips += fate == Fate::vanish ? dose < c : dose >= c;
  }
  return static_cast<double>(flips) / prints;
}

double strip_share(int pixels, double blur_mm) {
  const double w = pixels * pitch, off = pixels % 2 == 1 ? 0 : pitch / 2, scale = std::numbers::sqrt2 * blur_mm;
  return 0.5 * (std::erf((w / 2 + off) / scale) + std::erf((w / 2 - off) / scale));
}

Critical wall(int px) {
  return [px](const Drawn& d) { return d.bond_s / strip_share(px, d.blur_mm); };
}
Critical pin(int px) {
  return [px](const Drawn& d) { return d.bond_s / std::pow(strip_share(px, d.blur_mm), 2); };
}
Critical slot(int px) {
  return [px](const Drawn& d) { return d.fuse_s / (1 - strip_share(px, d.blur_mm)); };
}
Critical hole(int px) {
  return [px](const Drawn& d) { return d.fuse_s / (1 - std::pow(strip_share(px, d.blur_mm), 2)); };
}
Critical flat(int layers) {
  return [layers](const Drawn& d) { return d.fuse_s * std::exp(layers * 0.05 / d.depth_mm); };
}

// Along x: walls of 3 and 5 px; square pins of 2 to 5 px; a tall block with square holes of 2 to 4 px and slots of 2
// and 3; a block with flat slots of 3 and 6 layers.
constexpr int wall_at[] = {0, 0, 0, 10, 0, 30}, pin_at[] = {0, 0, 60, 80, 100, 125}, hole_at[] = {0, 0, 170, 195, 220},
              slot_at[] = {0, 0, 250, 275};

stacks::Case plate() {
  stacks::Case made;
  made.settings = stacks::plain_settings({420, 60}, 120);
  made.model = stacks::plain_model(0.06);
  made.model.valid_from_s = 0.8, made.model.valid_to_s = 6;
  made.model.log_covariance = harbour_grey_record().fit->log_covariance;
  made.layers = stacks::draw(
      made.settings,
      [](double x, double y, double z) {
        const int col = static_cast<int>(x / pitch), row = static_cast<int>(y / pitch),
                  layer = static_cast<int>(z / 0.05);
        if (row < 5 || row >= 55) return false;
        for (const int w : {3, 5})
          if (col >= wall_at[w] && col < wall_at[w] + w) return true;
        for (int w = 2; w <= 5; ++w)
          if (col >= pin_at[w] && col < pin_at[w] + w && row >= 28 && row < 28 + w) return true;
        if (col >= 150 && col < 300) {
          for (int w = 2; w <= 4; ++w)
            if (col >= hole_at[w] && col < hole_at[w] + w && row >= 28 && row < 28 + w) return false;
          for (const int w : {2, 3})
            if (col >= slot_at[w] && col < slot_at[w] + w) return false;
          return true;
        }
        if (col < 315 || col >= 415) return false;
        const bool inside = col >= 321 && col < 409 && row >= 11 && row < 49;
        return !(inside && ((layer >= 20 && layer < 23) || (layer >= 60 && layer < 66)));
      },
      1);
  return made;
}

const Detail* at(const Report& report, Fate fate, double x, double y, double z) {
  for (const Detail& d : report.details)
    if (d.fate == fate && d.box.from.x < x && x < d.box.to.x && d.box.from.y < y && y < d.box.to.y &&
        d.box.from.z < z && z < d.box.to.z)
      return &d;
  return nullptr;
}

struct Expected {
  const char* kind;
  double exposure_s;
  Fate fate;
  double x, z;
  Critical critical;
};

}  // namespace

TEST_CASE("job: chances of pins, holes, wide walls and high flat gaps equal the share of simulated prints") {
  const stacks::Case made = plate();
  const auto middle = [](const int* from, int w) { return (from[w] + 0.5 * w) * pitch; };
  const std::vector<Expected> list{
      {"wall 3 px", 2.05, Fate::vanish, middle(wall_at, 3), 3, wall(3)},
      {"wall 5 px", 1.6, Fate::vanish, middle(wall_at, 5), 3, wall(5)},
      {"wall 5 px, later", 1.75, Fate::vanish, middle(wall_at, 5), 3, wall(5)},
      {"pin 2 px", 5.0, Fate::vanish, middle(pin_at, 2), 3, pin(2)},
      {"pin 3 px", 2.6, Fate::vanish, middle(pin_at, 3), 3, pin(3)},
      {"pin 4 px", 2.1, Fate::vanish, middle(pin_at, 4), 3, pin(4)},
      {"pin 5 px", 1.7, Fate::vanish, middle(pin_at, 5), 3, pin(5)},
      {"hole 2 px", 0.85, Fate::fuse, middle(hole_at, 2), 3, hole(2)},
      {"hole 3 px", 1.4, Fate::fuse, middle(hole_at, 3), 3, hole(3)},
      {"hole 4 px", 2.3, Fate::fuse, middle(hole_at, 4), 3, hole(4)},
      {"slot 2 px", 1.3, Fate::fuse, middle(slot_at, 2), 3, slot(2)},
      {"slot 3 px", 2.5, Fate::fuse, middle(slot_at, 3), 3, slot(3)},
      {"flat gap of 3 layers", 1.35, Fate::fuse, 365 * pitch, 1.07, flat(3)},
      {"flat gap of 6 layers", 3.4, Fate::fuse, 365 * pitch, 3.15, flat(6)},
  };
  for (const double dose_spread : {0.05, 0.12}) {
    for (const Expected& one : list) {
      AnalyseSettings settings = job_run::judged_at(one.exposure_s);
      settings.risk.dose_spread = dose_spread;
      const Report report = job_run::analyse_case(made, settings);
      const Detail* detail = at(report, one.fate, one.x, 29 * pitch, one.z);
      CAPTURE(one.kind, one.exposure_s, dose_spread);
      REQUIRE(detail != nullptr);
      CAPTURE(detail->critical_exposure_s, detail->log_sd, detail->volume_mm3);
      CAPTURE(one.critical(
          {made.model.bond_time_s, made.model.fuse_time_s, made.model.blur_mm, made.model.penetration_depth_mm}));
      const double share = simulated(made.model, one.exposure_s, one.fate, one.critical, dose_spread);
      CHECK(detail->probability == Approx(share).margin(0.02));
    }
  }
}

TEST_CASE("job: a larger dose spread makes every chance less sure") {
  const stacks::Case made = plate();
  AnalyseSettings settings = job_run::judged_at(2.5);
  settings.risk.dose_spread = 0.03;
  const Report sure = job_run::analyse_case(made, settings);
  settings.risk.dose_spread = 0.2;
  const Report unsure = job_run::analyse_case(made, settings);
  CHECK(unsure.details.size() >= sure.details.size());
  int compared = 0;
  for (const Detail& d : sure.details) {
    const Detail* other = at(unsure, d.fate, 0.5 * (d.box.from.x + d.box.to.x), 0.5 * (d.box.from.y + d.box.to.y),
                             0.5 * (d.box.from.z + d.box.to.z));
    if (other == nullptr || std::abs(other->volume_mm3 / d.volume_mm3 - 1) > 0.01) continue;
    ++compared;
    CHECK(other->log_sd > d.log_sd);
    CHECK(std::abs(other->probability - 0.5) <= std::abs(d.probability - 0.5) + 1e-9);
  }
  CHECK(compared >= 3);
}
