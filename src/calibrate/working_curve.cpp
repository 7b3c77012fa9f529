// Working curve (Jacobs line) by ordinary least squares: depth = Dp ln t - Dp ln t_gel.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <cmath>

#include "hairline/fit.hpp"

namespace hairline {
namespace {

Error refuse(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::invalid, "", std::move(found), std::move(expected), std::move(advice)};
}

// Ordinary least squares by the QR of `design`, whose columns were divided by `length`.
LinearFit solved(const Eigen::ColPivHouseholderQR<Eigen::MatrixXd>& qr, const Eigen::MatrixXd& design,
                 const Eigen::VectorXd& values, const Eigen::VectorXd& length) {
  const Eigen::Index n = design.rows(), p = design.cols();
  Eigen::VectorXd solution = qr.solve(values);
  solution += qr.solve(values - design * solution);  // one step of refinement
  const double variance = (values - design * solution).squaredNorm() / static_cast<double>(n - p);
  const Eigen::MatrixXd r = qr.matrixR().topLeftCorner(p, p).triangularView<Eigen::Upper>();
  const Eigen::MatrixXd r_inverse = r.triangularView<Eigen::Upper>().solve(Eigen::MatrixXd::Identity(p, p));
  const Eigen::MatrixXd scaled =
      qr.colsPermutation() * Eigen::MatrixXd(r_inverse * r_inverse.transpose()) * qr.colsPermutation().transpose();

  LinearFit fit;
  fit.residual_sd = std::sqrt(variance);
  for (Eigen::Index i = 0; i < p; ++i) {
    fit.coefficients.push_back(solution(i) / length(i));
    fit.standard_errors.push_back(std::sqrt(variance * scaled(i, i)) / length(i));
    fit.covariance.emplace_back();
    for (Eigen::Index k = 0; k < p; ++k)
      fit.covariance.back().push_back(variance * scaled(i, k) / (length(i) * length(k)));
  }
  return fit;
}

}  // namespace

Result<LinearFit> fit_linear(const std::vector<std::vector<double>>& rows, const std::vector<double>& y) {
  const auto n = static_cast<Eigen::Index>(rows.size());
  const auto p = rows.empty() ? 0 : static_cast<Eigen::Index>(rows.front().size());
  if (p == 0 || n <= p || rows.size() != y.size()) {
    return tl::unexpected(
        refuse(fmt::format("{} points for {} coefficients", n, p), "more points than coefficients", "Add readings."));
  }
  Eigen::MatrixXd design(n, p);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& row = rows[static_cast<std::size_t>(i)];
    if (row.size() != rows.front().size())
      return tl::unexpected(refuse("rows of unequal length", fmt::format("{} numbers a row", p), "Correct the rows."));
    design.row(i) = Eigen::Map<const Eigen::RowVectorXd>(row.data(), p);
  }
  const Eigen::VectorXd values = Eigen::Map<const Eigen::VectorXd>(y.data(), n);
  // Columns of one length: the pivoting then sees dependence, not units.
  const Eigen::VectorXd length = design.colwise().norm();
  if (!(length.minCoeff() > 0)) {
    return tl::unexpected(refuse("a column of zeros", "columns that vary", "Leave that column out."));
  }
  design = design * length.cwiseInverse().asDiagonal();
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(design);
  qr.setThreshold(1e-13);
  if (qr.rank() < p) {
    return tl::unexpected(refuse("readings that do not tell the coefficients apart", "readings at different exposures",
                                 "Add readings at other exposures."));
  }
  return solved(qr, design, values, length);
}

Result<WorkingCurve> fit_working_curve(const std::vector<CureDepthReading>& readings,
                                       std::optional<double> irradiance_mw_per_cm2) {
  if (readings.size() < 3)
    return tl::unexpected(refuse(fmt::format("{} cure depth readings", readings.size()),
                                 "at least 3, so that the line has an error of its own",
                                 "Measure the bridge bar of coupons printed at other exposures."));
  std::vector<std::vector<double>> rows;
  std::vector<double> depths;
  for (const auto& reading : readings) {
    if (!(reading.exposure_s > 0) || !(reading.depth_mm > 0) || !std::isfinite(reading.exposure_s + reading.depth_mm)) {
      return tl::unexpected(refuse(fmt::format("cure depth {} mm at {} s", reading.depth_mm, reading.exposure_s),
                                   "numbers over 0", "Correct the reading."));
    }
    rows.push_back({1, std::log(reading.exposure_s)});
    depths.push_back(reading.depth_mm);
  }
  const auto line = fit_linear(rows, depths);
  if (!line) return tl::unexpected(line.error());
  const double intercept = line->coefficients[0], slope = line->coefficients[1];
  if (!(slope > 0))
    return tl::unexpected(
        refuse("cure depths that do not grow with exposure", "deeper cure at more time", "Look for swapped readings."));
  WorkingCurve curve;
  curve.readings = static_cast<std::uint32_t>(readings.size());
  curve.residual_sd_mm = line->residual_sd;
  curve.penetration_depth_mm = slope;
  curve.penetration_depth_se_mm = line->standard_errors[1];
  curve.gel_time_s = std::exp(-intercept / slope);
  // First order: ln gel = -b0 / b1.
  const double d0 = -1 / slope, d1 = intercept / (slope * slope);
  const double log_variance =
      d0 * d0 * line->covariance[0][0] + 2 * d0 * d1 * line->covariance[0][1] + d1 * d1 * line->covariance[1][1];
  curve.gel_time_se_s = curve.gel_time_s * std::sqrt(std::max(0.0, log_variance));
  if (irradiance_mw_per_cm2) {
    curve.critical_mj_per_cm2 = *irradiance_mw_per_cm2 * curve.gel_time_s;
    curve.critical_se_mj_per_cm2 = *irradiance_mw_per_cm2 * curve.gel_time_se_s;
  }
  return curve;
}

double optical_depth_mm(double absorbance, double path_mm) {
  return path_mm / (absorbance * std::log(10.0));
}

}  // namespace hairline
