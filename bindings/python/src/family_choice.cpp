// SPDX-License-Identifier: MIT
#include "family_choice.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include <rewound/fit/curve_choice.hpp>

#include "curve_search.hpp"

namespace rewound::python {

namespace {

using Eigen::Index;
using Eigen::VectorXd;
using fit::curve_family;

/// C. M. Hurvich, C.-L. Tsai, Biometrika 76 (1989) 297-307, for errors of unknown size.
double unknown_scale_akaike(const curve_readings& in, curve_family family, double chi2) {
  const double n = static_cast<double>(in.x.size());
  const double k = fit::parameter_count(family) + 1;
  // Below rounding all families fit alike, and the simplest shall win.
  const double rounding = 16.0 * std::numeric_limits<double>::epsilon();
  const double least = rounding * rounding * (in.weight.array() * in.current.array().square()).sum();
  return n * std::log(std::max(chi2, least) / n) + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0);
}

curve_family choose_weighted(const curve_readings& in) {
  constexpr double tie = 2.0;  // as fit::fit_current_curve: models within 2 have substantial support
  const Index voltages = in.voltages();
  auto best = voltages >= 2 ? curve_family::power : curve_family::proportional;
  double best_value = std::numeric_limits<double>::infinity();
  for (const auto family : fit::families_by_simplicity) {
    const Index p = fit::parameter_count(family);
    if (in.x.size() < p + 3 || voltages < p + 1) continue;
    const curve_problem problem(in, family, VectorXd::Ones(in.x.size()));
    const auto found = search_curve(problem);
    if (!found.usable()) continue;
    const double value = unknown_scale_akaike(in, family, found.chi2);
    if (value >= best_value - tie) continue;
    best = family;
    best_value = value;
  }
  return best;
}

}  // namespace

curve_family choose_family(const curve_readings& readings) {
  if (readings.x.size() == 0) return curve_family::proportional;
  if (readings.weighted()) return choose_weighted(readings);
  std::vector<fit::curve_reading> points;
  for (Index i = 0; i < readings.x.size(); ++i)
    points.push_back({readings.x[i], readings.current[i], readings.relative_u_x[i], readings.relative_u_current[i]});
  const auto chosen = fit::fit_current_curve(points);
  return chosen ? chosen->family : curve_family::proportional;
}

}  // namespace rewound::python
