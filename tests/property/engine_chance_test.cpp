// The chance of a detail against a simulation of 100 000 prints: bond time, fuse time, blur and penetration depth drawn
// from the record's covariance, the dose from the process spread, the critical exposure from its closed form (sources:
// closed_forms.hpp).
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <numbers>

#include "whole_run.hpp"

using namespace hairline;

namespace {

struct Drawn {
  double bond_s, fuse_s, blur_mm, depth_mm;
};

// Standard normal numbers by Box and Muller from the project's own dice.
double normal(stacks::Dice& dice) {
  return std::sqrt(-2 * std::log(1 - dice.between(0, 1))) * std::cos(2 * std::numbers::pi * dice.between(0, 1));
}

LogCovariance covariance() {
  // Spreads of 4, 6, 7 and 5 %; bond and fuse time move together (0.5), blur against fuse time (-0.4).
  LogCovariance out{};
  const std::array<double, 4> sd{0.04, 0.06, 0.07, 0.05};
  for (std::size_t i = 0; i < 4; ++i) out[i][i] = sd[i] * sd[i];
  out[0][1] = out[1][0] = 0.5 * sd[0] * sd[1];
  out[1][2] = out[2][1] = -0.4 * sd[1] * sd[2];
  return out;
}

double simulated(const CureModel& model, double exposure_s, bool vanish,
                 const std::function<double(const Drawn&)>& critical) {
  const LogCovariance& v = *model.log_covariance;
  std::array<std::array<double, 4>, 4> root{};  // Cholesky
  for (std::size_t i = 0; i < 4; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      double rest = v[i][j];
      for (std::size_t k = 0; k < j; ++k) rest -= root[i][k] * root[j][k];
      root[i][j] = i == j ? std::sqrt(rest) : rest / root[j][j];
    }
  stacks::Dice dice(99);
  int flips = 0;
  constexpr int prints = 100000;
  for (int n = 0; n < prints; ++n) {
    std::array<double, 4> z{}, log_factor{};
    for (double& one : z) one = normal(dice);
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t k = 0; k <= i; ++k) log_factor[i] += root[i][k] * z[k];
    const double c =
        critical({model.bond_time_s * std::exp(log_factor[0]), model.fuse_time_s * std::exp(log_factor[1]),
                  model.blur_mm * std::exp(log_factor[2]), model.penetration_depth_mm * std::exp(log_factor[3])});
    const double dose = exposure_s * std::exp(0.05 * normal(dice));
    flips += vanish ? dose < c : dose >= c;
  }
  return static_cast<double>(flips) / prints;
}

double strip_share(int pixels, double blur_mm) {
  const double w = pixels * 0.05, off = pixels % 2 == 1 ? 0 : 0.025, scale = std::numbers::sqrt2 * blur_mm;
  return 0.5 * (std::erf((w / 2 + off) / scale) + std::erf((w / 2 - off) / scale));
}

// Bodies along x, all tall: walls of 1 to 4 pixels, then blocks with slots of 1 to 3 pixels, then a block with flat
// slots of 2 to 6 layers at 28 layers from one to the next; each far enough from the next. The flat slots
// are wide, so that the brighter rim along their sides does not move the median.
stacks::Case plate() {
  stacks::Case made;
  made.settings = stacks::plain_settings({320, 60}, 135);
  made.model = stacks::plain_model(0.06);
  made.model.valid_from_s = 0.8;
  made.model.valid_to_s = 5;
  made.model.log_covariance = covariance();
  made.layers = stacks::draw(
      made.settings,
      [](double x, double y, double z) {
        if (y < 0.4 || y > 2.6) return false;
        const int col = static_cast<int>(x / 0.05), layer = static_cast<int>(z / 0.05);
        for (int w = 1; w <= 4; ++w)
          if (col >= 20 * w && col < 20 * w + w) return true;
        if (col >= 110 && col < 190) {
          for (int w = 1; w <= 3; ++w)
            if (col >= 110 + 20 * w && col < 110 + 20 * w + w) return false;
          return true;
        }
        if (col < 200 || col >= 310) return false;
        for (int slot = 2; slot <= 5; ++slot) {
          const int from = 5 + 28 * (slot - 2);
          if (layer >= from && layer < from + slot && col >= 206 && col < 304 && y > 0.55 && y < 2.45) return false;
        }
        return true;
      },
      1);
  return made;
}

const Detail* at(const Report& report, Fate fate, double x, double z) {
  for (const Detail& detail : report.details)
    if (detail.fate == fate && detail.box.from.x < x && x < detail.box.to.x && detail.box.from.z < z &&
        z < detail.box.to.z)
      return &detail;
  return nullptr;
}

struct Expected {
  double exposure_s;
  Fate fate;
  double x, z;
  std::function<double(const Drawn&)> critical;
};

}  // namespace

TEST_CASE("analyse: chances equal the share of simulated prints") {
  const stacks::Case made = plate();
  const auto wall = [](int w) { return [w](const Drawn& d) { return d.bond_s / strip_share(w, d.blur_mm); }; };
  const auto slot = [](int w) { return [w](const Drawn& d) { return d.fuse_s / (1 - strip_share(w, d.blur_mm)); }; };
  const auto flat = [](int n) { return [n](const Drawn& d) { return d.fuse_s * std::exp(n * 0.05 / d.depth_mm); }; };
  const auto wall_x = [](int w) { return (20 * w + 0.5 * w) * 0.05; };
  const auto slot_x = [](int w) { return (110 + 20 * w + 0.5 * w) * 0.05; };
  const auto flat_z = [](int n) { return (5 + 28 * (n - 2) + 0.5 * n) * 0.05; };
  const std::vector<Expected> list{
      {4.6, Fate::vanish, wall_x(1), 3, wall(1)},    {2.7, Fate::vanish, wall_x(2), 3, wall(2)},
      {3.0, Fate::vanish, wall_x(2), 3, wall(2)},    {2.0, Fate::vanish, wall_x(3), 3, wall(3)},
      {1.75, Fate::vanish, wall_x(4), 3, wall(4)},   {0.85, Fate::fuse, slot_x(1), 3, slot(1)},
      {1.25, Fate::fuse, slot_x(2), 3, slot(2)},     {2.7, Fate::fuse, slot_x(3), 3, slot(3)},
      {1.05, Fate::fuse, 11.25, flat_z(2), flat(2)}, {1.5, Fate::fuse, 11.25, flat_z(3), flat(3)},
      {1.9, Fate::fuse, 11.25, flat_z(4), flat(4)},  {2.6, Fate::fuse, 11.25, flat_z(5), flat(5)},
  };
  for (const Expected& one : list) {
    const Report report = whole_run::analyse_case(made, {one.exposure_s, 2});
    const Detail* detail = at(report, one.fate, one.x, one.z);
    CAPTURE(one.exposure_s, one.x, one.z);
    REQUIRE(detail != nullptr);
    CAPTURE(detail->critical_exposure_s, detail->log_sd, detail->volume_mm3);
    const double share = simulated(made.model, one.exposure_s, one.fate == Fate::vanish, one.critical);
    CHECK(share > 0.02);
    CHECK(share < 0.98);
    CHECK(detail->probability == Approx(share).margin(0.02));
  }
}
