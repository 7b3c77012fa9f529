// Details of random voxels beside a flood fill of the whole stack; medians beside sorting.
#include "../../../src/risk/detail_forest.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <tuple>

#include "support/random.hpp"

using namespace hairline;
using namespace hairline::risk;
using test::Random;

namespace {

constexpr std::uint32_t rows = 12, columns = 14, layers = 30;
constexpr double voxel_mm3 = 0.5;

struct Voxel {
  bool in_range = false, at_risk = false, flips = false;
  float critical_s = 0;
};
// Voxels of a stack, layer 1 first.
struct Stack {
  std::vector<Voxel> voxels = std::vector<Voxel>(layers * rows * columns);
  Voxel& at(std::uint32_t layer, std::uint32_t row, std::uint32_t col) {
    return voxels[((layer - 1) * rows + row) * columns + col];
  }
};

Stack random_stack(std::uint64_t seed) {
  Random random(seed);
  Stack stack;
  const double share = random.between_real(0.05, 0.4);
  for (Voxel& voxel : stack.voxels) {
    voxel.in_range = random.chance(share);
    voxel.at_risk = voxel.in_range ? random.chance(0.8) : random.chance(0.05);
    voxel.flips = voxel.at_risk && random.chance(0.6);
    voxel.critical_s = static_cast<float>(random.between_real(1, 4));
    if (random.chance(0.3)) voxel.critical_s = 2;  // so that neighbours make one run
  }
  return stack;
}

// Runs of one layer, and the sets of each.
struct LayerRuns {
  JudgedRuns judged;
  std::vector<Sets> sets;
};

LayerRuns runs_of(Stack& stack, std::uint32_t layer) {
  LayerRuns out;
  JudgedRuns& judged = out.judged;
  std::vector<bool> flips;
  for (std::uint32_t r = 0; r < rows; ++r) {
    for (std::uint32_t c = 0; c < columns; ++c) {
      const Voxel& voxel = stack.at(layer, r, c);
      const Sets sets = (voxel.at_risk ? at_risk : 0) + (voxel.in_range ? in_range : 0);
      if (sets == 0) continue;
      const bool goes_on = !judged.runs.empty() && judged.runs.back().row == r && judged.runs.back().end == c &&
                           judged.runs.back().critical_s == voxel.critical_s && out.sets.back() == sets &&
                           flips.back() == voxel.flips;
      if (goes_on) {
        judged.runs.back().end = c + 1;
      } else {
        judged.runs.push_back({r, c, c + 1, voxel.critical_s, 0, 0, 0});
        out.sets.push_back(sets);
        flips.push_back(voxel.flips);
      }
    }
  }
  for (std::size_t i = 0; i < judged.runs.size(); ++i) {
    const CriticalRun& run = judged.runs[i];
    const double log_critical = std::log(static_cast<double>(run.critical_s));
    const std::int32_t bin = bin_of(log_critical, median_bins);
    const std::uint32_t n = run.end - run.begin;
    judged.bins.push_back({n, bin, static_cast<float>(n * (median_bins * log_critical - bin)), 0, 0});
    judged.flips.push_back(flips[i]);
  }
  return out;
}

// What a detail comes down to: lowest and highest layer, box, voxels, flipped ones, median in hundredths of a second.
using Facts = std::tuple<std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t,
                         std::uint64_t, std::uint64_t, long>;

Facts facts_of(std::uint32_t from, std::uint32_t to, const BoxPx& box, std::uint64_t voxels, std::uint64_t flipped,
               double median_s) {
  return {from, to, box.x0, box.y0, box.x1, box.y1, voxels, flipped, std::lround(100 * median_s)};
}

double median_of(std::vector<float> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return 0.5 * (static_cast<double>(values[(n - 1) / 2]) + static_cast<double>(values[n / 2]));
}

// 8-connected in a layer, sharing a pixel from layer to layer.
std::vector<Facts> flood(Stack& stack, bool Voxel::*member) {
  std::vector<Facts> found;
  std::vector<bool> seen(stack.voxels.size(), false);
  const auto index = [](std::uint32_t n, std::uint32_t r, std::uint32_t c) {
    return ((n - 1) * rows + r) * columns + c;
  };
  for (std::uint32_t n = 1; n <= layers; ++n) {
    for (std::uint32_t r = 0; r < rows; ++r) {
      for (std::uint32_t c = 0; c < columns; ++c) {
        if (seen[index(n, r, c)] || !(stack.at(n, r, c).*member)) continue;
        std::vector<std::array<std::uint32_t, 3>> todo{{n, r, c}};
        seen[index(n, r, c)] = true;
        std::uint32_t from = n, to = n;
        std::uint64_t flips = 0;
        BoxPx box;
        std::vector<float> critical;
        while (!todo.empty()) {
          const auto [z, y, x] = todo.back();
          todo.pop_back();
          from = std::min(from, z);
          to = std::max(to, z);
          box = join(box, {x, y, x + 1, y + 1});
          critical.push_back(stack.at(z, y, x).critical_s);
          flips += stack.at(z, y, x).flips ? 1 : 0;
          for (int dz = -1; dz <= 1; ++dz) {
            for (int dy = -1; dy <= 1; ++dy) {
              for (int dx = -1; dx <= 1; ++dx) {
                if (dz != 0 && (dx != 0 || dy != 0)) continue;
                const std::uint32_t a = z + dz, b = y + dy, d = x + dx;  // wraps below zero, and is then too large
                if (a < 1 || a > layers || b >= rows || d >= columns) continue;
                if (seen[index(a, b, d)] || !(stack.at(a, b, d).*member)) continue;
                seen[index(a, b, d)] = true;
                todo.push_back({a, b, d});
              }
            }
          }
        }
        found.push_back(facts_of(from, to, box, critical.size(), flips, median_of(critical)));
      }
    }
  }
  std::sort(found.begin(), found.end());
  return found;
}

struct Found {
  std::vector<Facts> details, contenders;
};

Found found_in(Stack& stack) {
  DetailForest forest;
  Found found;
  const auto see = [](const DetailSum& sum, std::vector<Facts>& into) {
    CHECK(sum.volume_mm3 == Approx(voxel_mm3 * static_cast<double>(sum.voxels)));
    into.push_back(
        facts_of(sum.from_layer, sum.to_layer, sum.box, sum.voxels, sum.flipped, sum.bins.median().critical_s));
  };
  const auto see_detail = [&](const DetailSum& sum, const Bonds*) { see(sum, found.details); };
  const auto see_contender = [&](const DetailSum& sum) { see(sum, found.contenders); };
  for (std::uint32_t n = layers; n >= 1; --n) {
    const LayerRuns runs = runs_of(stack, n);
    forest.begin_layer();
    for (std::uint32_t i = 0; i < runs.sets.size(); ++i) {
      forest.take(runs.judged.runs[i], i, runs.sets[i], runs.judged.flips[i] != 0);
    }
    forest.finish_layer({n, voxel_mm3, 0}, runs.judged, {});
    forest.close(n, see_detail, see_contender);
  }
  forest.close(0, see_detail, see_contender);
  std::sort(found.details.begin(), found.details.end());
  std::sort(found.contenders.begin(), found.contenders.end());
  return found;
}

bool alike(const std::vector<Facts>& a, const std::vector<Facts>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](Facts p, Facts q) {
    const bool near = std::abs(std::get<8>(p) - std::get<8>(q)) <= 2;  // a bin of 0.4 % is 0.016 s at most
    std::get<8>(p) = std::get<8>(q) = 0;
    return near && p == q;
  });
}

}  // namespace

TEST_CASE("details are what a flood fill of the stack finds, in either set") {
  for (std::uint64_t seed = 0; seed < 40; ++seed) {
    CAPTURE(seed);
    Stack stack = random_stack(seed);
    const Found found = found_in(stack);
    CHECK(alike(found.details, flood(stack, &Voxel::at_risk)));
    CHECK(alike(found.contenders, flood(stack, &Voxel::in_range)));
  }
}

TEST_CASE("bins give the median that sorting gives, added one by one or joined, few or many") {
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    CAPTURE(seed);
    Random random(seed);
    CriticalBins one_by_one, left, right;
    std::vector<float> values;
    const double widest = random.chance(0.5) ? 1.004 : 3;  // all in a bin or two, or in hundreds
    for (std::uint32_t n = random.between(1, 2000); n > 0; --n) {
      const auto critical_s = static_cast<float>(random.between_real(0.9, 0.9 * widest));  // logs on both sides of 0
      const double scaled = median_bins * std::log(static_cast<double>(critical_s));
      const std::int32_t bin = bin_of(scaled / median_bins, median_bins);
      CHECK(bin <= scaled);
      CHECK(scaled < bin + 1);
      const CriticalBin entry{1, bin, static_cast<float>(scaled - bin), 2, -3};
      one_by_one.add(entry);
      (random.chance(0.3) ? left : right).add(entry);
      values.push_back(critical_s);
    }
    left.join(std::move(right));
    for (const CriticalBins* bins : {&one_by_one, &left}) {
      const MedianCritical middle = bins->median();
      CHECK(middle.critical_s == Approx(median_of(values)).epsilon(0.0041));
      CHECK(middle.blur_slope == Approx(2));
      CHECK(middle.depth_slope == Approx(-3));
    }
  }
}
