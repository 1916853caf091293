// SPDX-License-Identifier: MIT
#include "fitted_curves.hpp"

#include <algorithm>
#include <limits>

namespace rewound::python {

curve_batch::curve_batch(fit::curve_family of, std::size_t curves) : family(of) {
  const std::size_t p = parameters_each();
  parameters.resize(curves * p);
  covariance.resize(curves * p * p);
  chi2.resize(curves);
  degrees_of_freedom.resize(curves);
  status.assign(curves, fit::least_squares_status::converged);
}

fit::fit_table curve_batch::as_table(unsigned char* certified) {
  return {parameters.data(), covariance.data(), chi2.data(), degrees_of_freedom.data(), certified};
}

void curve_batch::put(std::size_t row, const fitted_curve& curve) {
  const std::size_t p = parameters_each();
  std::copy(curve.parameters.begin(), curve.parameters.end(),
            parameters.begin() + static_cast<std::ptrdiff_t>(row * p));
  for (std::size_t i = 0; i < p; ++i)
    for (std::size_t j = 0; j < p; ++j)
      covariance[row * p * p + i * p + j] =
          curve.covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  chi2[row] = curve.chi2;
  degrees_of_freedom[row] = static_cast<int>(curve.degrees_of_freedom);
  status[row] = curve.status;
}

}  // namespace rewound::python
