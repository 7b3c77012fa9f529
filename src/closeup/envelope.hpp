/// Exact squares of distances along a line, as the lower envelope of parabolas (Felzenszwalb and Huttenlocher, Theory
/// of Computing 8, 2012): a distance transform, one direction after the other.
#pragma once
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

namespace hairline {

class Envelope {
 public:
  /// `places`: rising.
  explicit Envelope(std::vector<double> places) : places_(std::move(places)) {}

  /// after[k] = least of before[i] + (places[i] - places[k])^2; infinity where all are.
  void transform(const std::vector<double>& before, std::vector<double>& after) {
    lowest_.clear();
    for (std::size_t i = 0; i < before.size(); ++i) {
      if (!std::isfinite(before[i])) continue;
      while (!lowest_.empty() && meet(before, lowest_.back().index, i) <= lowest_.back().from) lowest_.pop_back();
      lowest_.push_back({i, lowest_.empty() ? -infinity : meet(before, lowest_.back().index, i)});
    }
    after.assign(before.size(), infinity);
    auto at = lowest_.begin();
    for (std::size_t k = 0; k < after.size() && !lowest_.empty(); ++k) {
      while (at + 1 != lowest_.end() && (at + 1)->from <= places_[k]) ++at;
      after[k] = before[at->index] + (places_[k] - places_[at->index]) * (places_[k] - places_[at->index]);
    }
  }

 private:
  static constexpr double infinity = std::numeric_limits<double>::infinity();
  struct Parabola {
    std::size_t index;
    double from;  // it is the lowest from here on
  };
  // Where two parabolas are equal.
  double meet(const std::vector<double>& before, std::size_t a, std::size_t b) const {
    return 0.5 * ((before[b] - before[a]) / (places_[b] - places_[a]) + places_[a] + places_[b]);
  }
  std::vector<double> places_;
  std::vector<Parabola> lowest_;
};

}  // namespace hairline
