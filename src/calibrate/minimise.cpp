// The one optimiser: Sbplx of NLopt (subspace simplex, T. Rowan 1990) needs no derivatives and survives the walls of a
// likelihood; Newton steps by central differences then find the bottom to many digits and give the Hessian.
#include <nlopt.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "hairline/fit.hpp"

namespace hairline {
namespace {

using Function = std::function<double(const std::vector<double>&)>;

struct Counted {
  const Function& f;
  std::uint32_t count = 0;
  double operator()(const std::vector<double>& x) {
    ++count;
    const double value = f(x);
    return std::isfinite(value) ? value : std::numeric_limits<double>::max() / 4;
  }
};

double call(unsigned n, const double* x, double* /*gradient*/, void* data) {
  return (*static_cast<Counted*>(data))(std::vector<double>(x, x + n));
}

void search(Counted& f, std::vector<double>& x, double step) {
  nlopt_opt opt = nlopt_create(NLOPT_LN_SBPLX, static_cast<unsigned>(x.size()));
  nlopt_set_min_objective(opt, call, &f);
  nlopt_set_initial_step1(opt, step);
  nlopt_set_xtol_abs1(opt, 1e-4 * step);
  nlopt_set_ftol_rel(opt, 1e-5);
  nlopt_set_maxeval(opt, 500);
  double value = 0;
  std::vector<double> best = x;
  if (nlopt_optimize(opt, best.data(), &value) > 0) x = best;
  nlopt_destroy(opt);
}

double shifted(Counted& f, std::vector<double> x, int i, double di, int k, double dk) {
  x[static_cast<std::size_t>(i)] += di;
  x[static_cast<std::size_t>(k)] += dk;
  return f(x);
}

// Distance in each direction over which f rises by about half: the standard deviation where f is a negative log
// likelihood.
Eigen::VectorXd scales(Counted& f, const std::vector<double>& x, double value, double step) {
  const int n = static_cast<int>(x.size());
  Eigen::VectorXd scale(n);
  for (int i = 0; i < n; ++i) {
    double h = 1e-2 * step;
    for (int round = 0; round < 3; ++round) {
      const double curvature = (shifted(f, x, i, h, i, 0) - 2 * value + shifted(f, x, i, -h, i, 0)) / (h * h);
      if (!(curvature > 0)) break;
      h = 0.1 * std::min(10 * step, 1 / std::sqrt(curvature));
    }
    scale(i) = 10 * h;
  }
  return scale;
}

Eigen::VectorXd gradient(Counted& f, const std::vector<double>& x, const Eigen::VectorXd& scale) {
  Eigen::VectorXd g(scale.size());
  for (int i = 0; i < g.size(); ++i) {  // fourth order, so that a step of 3 % of the spread leaves no bias
    const double h = 0.03 * scale(i);
    const double near = shifted(f, x, i, h, i, 0) - shifted(f, x, i, -h, i, 0);
    const double far = shifted(f, x, i, 2 * h, i, 0) - shifted(f, x, i, -2 * h, i, 0);
    g(i) = (8 * near - far) / (12 * h);
  }
  return g;
}

Eigen::MatrixXd hessian(Counted& f, const std::vector<double>& x, double value, const Eigen::VectorXd& scale) {
  const int n = static_cast<int>(scale.size());
  Eigen::MatrixXd hessian(n, n);
  for (int i = 0; i < n; ++i) {
    const double hi = 0.05 * scale(i);
    hessian(i, i) = (shifted(f, x, i, hi, i, 0) - 2 * value + shifted(f, x, i, -hi, i, 0)) / (hi * hi);
    for (int k = 0; k < i; ++k) {
      const double hk = 0.05 * scale(k);
      const double corners = shifted(f, x, i, hi, k, hk) - shifted(f, x, i, hi, k, -hk) - shifted(f, x, i, -hi, k, hk) +
                             shifted(f, x, i, -hi, k, -hk);
      hessian(i, k) = hessian(k, i) = corners / (4 * hi * hk);
    }
  }
  return hessian;
}

std::vector<double> plus(const std::vector<double>& x, const Eigen::VectorXd& step) {
  std::vector<double> sum = x;
  for (std::size_t i = 0; i < x.size(); ++i) sum[i] += step(static_cast<Eigen::Index>(i));
  return sum;
}

// Newton steps with halving until the step is a millionth of a standard deviation, or no step helps.
void descend(Counted& f, Minimum& result, double step) {
  Eigen::MatrixXd covariance;
  double half_log_det = 0;
  result.converged = false;
  result.stopped = "the allowed number of steps was used up";
  for (int round = 0; round < 20 && !result.converged; ++round) {
    const Eigen::VectorXd scale = scales(f, result.at, result.value, step);
    const Eigen::LDLT<Eigen::MatrixXd> factors(hessian(f, result.at, result.value, scale));
    if (factors.info() != Eigen::Success || !(factors.vectorD().minCoeff() > 0)) {
      result.stopped = "the readings leave a direction open that no prior closes";
      break;
    }
    covariance = factors.solve(Eigen::MatrixXd::Identity(scale.size(), scale.size()));
    half_log_det = factors.vectorD().array().log().sum() / 2;
    Eigen::VectorXd move = -factors.solve(gradient(f, result.at, scale));
    // Newton decrement: the length of the move in standard deviations.
    const double length = std::sqrt(std::abs(move.dot(factors.reconstructedMatrix() * move)));
    const double noise = 1e-13 * (1 + std::abs(result.value));
    double value = f(plus(result.at, move));
    for (int halving = 0; halving < 20 && value > result.value + noise; ++halving) {
      move /= 2;
      value = f(plus(result.at, move));
    }
    if (value > result.value + noise) {
      result.converged = length < 1e-3;
      result.stopped = "no step leads further down";
      break;
    }
    result.at = plus(result.at, move);
    result.value = value;
    result.converged = length < 1e-6;
    if (result.converged) result.stopped = "the last step moved by less than a millionth of the uncertainty";
  }
  result.log_mass = -result.value - half_log_det;
  result.covariance.clear();
  for (Eigen::Index i = 0; i < covariance.rows(); ++i) {
    result.covariance.emplace_back();
    for (Eigen::Index k = 0; k < covariance.cols(); ++k) result.covariance.back().push_back(covariance(i, k));
  }
}

// f minimised over all coordinates but one, which is held at a distance from the minimum: Newton steps with the
// curvature that the minimum has (the ridge is nearly straight).
class Ridge {
 public:
  Ridge(const Function& f, const Minimum& minimum, std::size_t i) : f_(f), minimum_(minimum), fixed_(i) {
    const auto n = static_cast<Eigen::Index>(minimum.at.size());
    for (Eigen::Index k = 0; k < n; ++k) {
      if (k != static_cast<Eigen::Index>(i)) others_.push_back(static_cast<std::size_t>(k));
    }
    const auto m = static_cast<Eigen::Index>(others_.size());
    given_.resize(m, m);  // covariance of the others with this one held
    for (Eigen::Index a = 0; a < m; ++a) {
      for (Eigen::Index b = 0; b < m; ++b)
        given_(a, b) = c(other(a), other(b)) - c(other(a), i) * c(i, other(b)) / c(i, i);
    }
  }

  /// How far the ridge has risen above the minimum at a signed distance.
  double risen(double distance) const {
    std::vector<double> x = minimum_.at;
    x[fixed_] += distance;
    for (const std::size_t k : others_) x[k] += distance * c(k, fixed_) / c(fixed_, fixed_);
    double value = f_(x);
    for (int round = 0; round < 4; ++round) {
      const Eigen::VectorXd move = -given_ * slope(x);
      double share = 1, lower = value;
      std::vector<double> best = x;
      for (int halving = 0; halving < 6 && lower >= value; ++halving, share /= 2) {
        best = moved(x, share * move);
        lower = f_(best);
      }
      const double gain = value - lower;
      if (gain > 0) x = best, value = lower;
      if (gain < 1e-3) break;
    }
    return std::max(0.0, value - minimum_.value);
  }

 private:
  double c(std::size_t a, std::size_t b) const { return minimum_.covariance[a][b]; }
  std::size_t other(Eigen::Index a) const { return others_[static_cast<std::size_t>(a)]; }
  std::vector<double> moved(std::vector<double> x, const Eigen::VectorXd& move) const {
    for (Eigen::Index a = 0; a < move.size(); ++a) x[other(a)] += move(a);
    return x;
  }
  Eigen::VectorXd slope(const std::vector<double>& x) const {
    Eigen::VectorXd g(given_.rows());
    for (Eigen::Index a = 0; a < g.size(); ++a) {
      const double h = 0.05 * std::sqrt(std::max(1e-16, given_(a, a)));
      std::vector<double> up = x, down = x;
      up[other(a)] += h, down[other(a)] -= h;
      g(a) = (f_(up) - f_(down)) / (2 * h);
    }
    return g;
  }

  const Function& f_;
  const Minimum& minimum_;
  std::size_t fixed_;
  std::vector<std::size_t> others_;
  Eigen::MatrixXd given_;
};

// Where the ridge has risen by `rise` on one side: a secant in sqrt(rise), in which a normal ridge is a straight line.
double ridge_distance(const Function& f, const Minimum& minimum, std::size_t i, double sign, double rise) {
  const Ridge ridge(f, minimum, i);
  const double sd = std::sqrt(minimum.covariance[i][i]), goal = std::sqrt(rise);
  const auto risen = [&](double distance) { return std::sqrt(ridge.risen(sign * distance)); };
  double low = 0, high = sd * std::sqrt(2 * rise), at_low = 0, at_high = risen(high);
  for (int grown = 0; grown < 4 && at_high < goal; ++grown) {
    low = high, at_low = at_high;
    high *= 1.4;
    at_high = risen(high);
  }
  if (at_high < goal) return high;
  for (int round = 0; round < 4; ++round) {
    const double share = std::clamp((goal - at_low) / (at_high - at_low), 0.05, 0.95);
    const double middle = low + share * (high - low), at_middle = risen(middle);
    if (std::abs(at_middle - goal) < 0.01 * goal) return middle;
    (at_middle < goal ? low : high) = middle;
    (at_middle < goal ? at_low : at_high) = at_middle;
  }
  return low + (goal - at_low) / (at_high - at_low) * (high - low);
}

}  // namespace

std::vector<ProfileRange> profile_ranges(const Function& f, const Minimum& minimum, double rise) {
  std::vector<ProfileRange> ranges;
  for (std::size_t i = 0; i < minimum.at.size(); ++i) {
    ranges.push_back({ridge_distance(f, minimum, i, -1, rise), ridge_distance(f, minimum, i, 1, rise)});
  }
  return ranges;
}

Minimum minimise(const Function& function, const std::vector<double>& start, double step) {
  Counted f{function};
  Minimum result;
  result.at = start;
  search(f, result.at, step);
  result.value = f(result.at);
  descend(f, result, step);
  for (int again = 0; again < 4 && !result.converged; ++again) {  // a fresh simplex gets out of a collapsed one
    search(f, result.at, step * std::pow(0.3, again));
    result.value = f(result.at);
    descend(f, result, step);
  }
  result.evaluations = f.count;
  return result;
}

}  // namespace hairline
