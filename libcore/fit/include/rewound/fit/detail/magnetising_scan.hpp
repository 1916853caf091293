// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <vector>

#include <Eigen/Core>

#include <rewound/fit/detail/box_search.hpp>
#include <rewound/fit/detail/curve_problem.hpp>
#include <rewound/fit/detail/power_bounds.hpp>

namespace rewound::fit::detail {

/// The fit with the best a and b for one m.
struct projected_point {
  double m;
  double chi2;
  double slope;  ///< d chi2 / d m
  double a;
  double b;
};

/// Sum of squares as a function of m alone. With t = ln x - ln x_max no power overflows.
class projected_sum {
 public:
  explicit projected_sum(const curve_problem& problem) {
    const auto& readings = problem.readings();
    for (const double x : readings.x) t_.push_back(std::log(x));
    top_ = *std::max_element(t_.begin(), t_.end());
    double square = 0.0;
    for (std::size_t i = 0; i < t_.size(); ++i) {
      const auto at = static_cast<Eigen::Index>(i);
      const double root = std::sqrt(problem.share()[at] * readings.weight[at]);
      t_[i] -= top_;
      line_.push_back(root * std::exp(t_[i]));
      across_.push_back(root * readings.current[at]);
      square += line_[i] * line_[i];
      target_square_ += across_[i] * across_[i];
    }
    length_ = std::sqrt(square);
    for (const double each : line_) unit_.push_back(each / length_);
    along_ = std::inner_product(unit_.begin(), unit_.end(), across_.begin(), 0.0);
    for (std::size_t i = 0; i < t_.size(); ++i) across_[i] -= along_ * unit_[i];
  }

  double spread() const { return -*std::min_element(t_.begin(), t_.end()); }

  projected_point at(double m) const {
    const auto [rise, shared, square] = bend_at(m);
    double product = 0.0;
    for (std::size_t i = 0; i < t_.size(); ++i) product += (rise[i] - shared * unit_[i]) * across_[i];
    const double b = product / square;
    double chi2 = 0.0, slope = 0.0;
    for (std::size_t i = 0; i < t_.size(); ++i) {
      const double residual = across_[i] - b * (rise[i] - shared * unit_[i]);
      chi2 += residual * residual;
      slope -= 2.0 * b * residual * (line_[i] + rise[i]) * t_[i];
    }
    const double a = (along_ - b * shared) / length_ - b;
    return {m, chi2, slope, a * std::exp(-top_), b * std::exp(-m * top_)};
  }

  /// Whether the bent part of the curve stands out of the rounding of the currents.
  bool bends(const projected_point& point) const {
    const double n = static_cast<double>(t_.size());
    const double length = std::sqrt(bend_at(point.m).square);
    const double least = 16.0 * n * std::numeric_limits<double>::epsilon() * std::sqrt(target_square_);
    return std::abs(point.b) * std::exp(point.m * top_) * length > least;
  }

 private:
  /// x^m - x, which spans the same curves beside x as x^m does, and keeps its digits near m = 1; its share of x, and
  /// the square of what is left of it without.
  struct bend {
    std::vector<double> rise;
    double shared, square;
  };

  bend bend_at(double m) const {
    bend out{line_, 0.0, 0.0};
    for (std::size_t i = 0; i < t_.size(); ++i) {
      out.rise[i] *= std::expm1((m - 1.0) * t_[i]);
      out.shared += unit_[i] * out.rise[i];
    }
    for (std::size_t i = 0; i < t_.size(); ++i) {
      const double left = out.rise[i] - out.shared * unit_[i];
      out.square += left * left;
    }
    return out;
  }

  std::vector<double> t_, line_, unit_, across_;
  double top_, length_, along_, target_square_ = 0.0;
};

/// The minimum between a falling and a rising point, by Illinois steps on the slope: near a minimum chi2 is all
/// rounding, while the slope still tells the place.
inline projected_point refine(const projected_sum& sum, projected_point falling, projected_point rising) {
  constexpr int most_steps = 100;
  double left = falling.slope;
  double right = rising.slope;
  projected_point last = falling;
  int side = 0;
  for (int i = 0; i < most_steps; ++i) {
    double m = falling.m + (rising.m - falling.m) * left / (left - right);
    if (!(m > falling.m && m < rising.m)) m = 0.5 * (falling.m + rising.m);
    const projected_point here = sum.at(m);
    if (here.slope == 0.0 || std::abs(m - last.m) <= 2.0 * std::numeric_limits<double>::epsilon() * m) return here;
    last = here;
    const int now = here.slope < 0.0 ? -1 : 1;
    if (now < 0) {
      falling = here;
      left = here.slope;
      if (side == now) right *= 0.5;
    } else {
      rising = here;
      right = here.slope;
      if (side == now) left *= 0.5;
    }
    side = now;
  }
  return last;
}

/// The direction of the bent part turns by at most half the spread of ln x for each unit of m; a step turns it by
/// a twentieth of a radian.
inline int steps_for(double spread) {
  const double span = highest_power - lowest_weighted_power;
  return static_cast<int>(std::clamp(std::ceil(10.0 * span * spread), 40.0, 4000.0));
}

inline std::vector<projected_point> minima(const projected_sum& sum) {
  std::vector<projected_point> out;
  const int steps = steps_for(sum.spread());
  projected_point before = sum.at(lowest_weighted_power);
  if (before.slope >= 0.0) out.push_back(before);
  for (int i = 1; i <= steps; ++i) {
    const double share = static_cast<double>(i) / steps;
    const projected_point here =
        sum.at(i == steps ? highest_power : lowest_weighted_power + share * (highest_power - lowest_weighted_power));
    if (before.slope < 0.0 && here.slope >= 0.0) out.push_back(refine(sum, before, here));
    before = here;
  }
  if (before.slope < 0.0) out.push_back(before);
  return out;
}

/// The lowest of all minima of sum share w (I - a x - b x^m)^2 over a, b of any sign and 1.2 <= m <= 12.
///
/// For a given m the best a and b are linear, which leaves a function of m alone: it is scanned in steps too small to
/// hide a minimum, and each minimum is refined. Singular where the readings do not tell m: fewer than three voltages,
/// or currents on a straight line through 0.
/// Source: variable projection, G. H. Golub, V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413-432.
inline search_result scan_magnetising(const curve_problem& problem) {
  if (problem.readings().voltages() < 3) return {least_squares_status::singular, {}, 0.0};
  const projected_sum sum(problem);
  const auto found = minima(sum);
  const auto best =
      std::min_element(found.begin(), found.end(), [](const auto& p, const auto& q) { return p.chi2 < q.chi2; });
  if (best == found.end()) return {least_squares_status::not_finite, {}, 0.0};
  if (!std::isfinite(best->chi2) || !std::isfinite(best->a) || !std::isfinite(best->b))
    return {least_squares_status::not_finite, {}, 0.0};
  if (!sum.bends(*best)) return {least_squares_status::singular, {}, 0.0};
  return {least_squares_status::converged, Eigen::Vector3d(best->a, best->b, best->m), best->chi2};
}

}  // namespace rewound::fit::detail
