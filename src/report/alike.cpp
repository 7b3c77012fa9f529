// Details that are alike, so that a row of pickets reads as one line.
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>

#include "hairline/report.hpp"

namespace hairline {
namespace {

struct Centre {
  double x = 0, y = 0;
};

Centre centre_of(const BoxMm& box) {
  return {(box.from.x + box.to.x) / 2, (box.from.y + box.to.y) / 2};
}

double squared_distance(const Centre& a, const Centre& b) {
  return (a.x - b.x) * (a.x - b.x) + (a.y - b.y) * (a.y - b.y);
}

// Distance of each centre to its nearest neighbour. Sorted along x, only those nearer in x than the best so far are
// tried.
std::vector<double> nearest_distances(std::vector<Centre> centres) {
  std::sort(centres.begin(), centres.end(),
            [](const Centre& a, const Centre& b) { return std::tie(a.x, a.y) < std::tie(b.x, b.y); });
  std::vector<double> nearest(centres.size());
  for (std::size_t i = 0; i < centres.size(); ++i) {
    double best = std::numeric_limits<double>::infinity();  // squared
    const auto beyond = [&](std::size_t j) {
      const double dx = centres[j].x - centres[i].x;
      return dx * dx > best;
    };
    for (std::size_t j = i + 1; j < centres.size() && !beyond(j); ++j)
      best = std::min(best, squared_distance(centres[i], centres[j]));
    for (std::size_t j = i; j-- > 0 && !beyond(j);) best = std::min(best, squared_distance(centres[i], centres[j]));
    nearest[i] = std::sqrt(best);
  }
  return nearest;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : (values[half - 1] + values[half]) / 2;
}

}  // namespace

std::vector<DetailGroup> group_alike(const std::vector<Detail>& details, Pitch pitch) {
  using Key = std::tuple<Fate, State, bool, bool, bool, std::uint32_t, std::uint32_t>;
  struct Open {
    std::size_t group;
    double width_mm;  // of its first, worst member
  };
  const double pixel_mm = std::min(pitch.x_mm, pitch.y_mm) * (1 + 1e-9);
  std::map<Key, std::vector<Open>> open;
  std::vector<DetailGroup> groups;
  std::vector<std::vector<Centre>> centres;
  for (const Detail& detail : details) {
    std::vector<Open>& candidates =
        open[{detail.fate, detail.state, detail.lost, detail.base, detail.flat, detail.from_layer, detail.to_layer}];
    const auto same = std::find_if(candidates.begin(), candidates.end(), [&](const Open& candidate) {
      return std::abs(candidate.width_mm - detail.width_mm) <= pixel_mm;
    });
    std::size_t group = groups.size();
    if (same != candidates.end()) {
      group = same->group;
    } else {
      candidates.push_back({group, detail.width_mm});
      groups.emplace_back();
      centres.emplace_back();
    }
    groups[group].ids.push_back(detail.id);
    centres[group].push_back(centre_of(detail.box));
  }
  for (std::size_t i = 0; i < groups.size(); ++i) {
    std::sort(groups[i].ids.begin(), groups[i].ids.end());
    if (centres[i].size() >= 2) groups[i].spacing_mm = median(nearest_distances(std::move(centres[i])));
  }
  return groups;
}

}  // namespace hairline
