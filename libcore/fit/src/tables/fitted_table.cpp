// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>

#include <rewound/fit/fit_curves.hpp>

namespace rewound::fit {

namespace {

using matrix_row =
    Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>, 0, Eigen::OuterStride<>>;

bool counts_in(const curve_table& in, std::size_t i) {
  return in.weight[i] > 0.0 && !std::isnan(in.voltage_V[i]) && !std::isnan(in.current_A[i]);
}

/// Of the readings in use; NaN where a curve has none.
std::vector<double> mean_weights(const curve_table& in) {
  std::vector<double> out(in.curves);
  for (std::size_t row = 0; row < in.curves; ++row) {
    double sum = 0.0;
    double used = 0.0;
    for (std::size_t i = row * in.readings; i < (row + 1) * in.readings; ++i) {
      const bool counts = counts_in(in, i);
      sum += counts ? in.weight[i] : 0.0;
      used += counts ? 1.0 : 0.0;
    }
    out[row] = sum / used;
  }
  return out;
}

}  // namespace

fitted_table::fitted_table(const curve_table& table, std::size_t parameters_each)
    : width(parameters_each),
      weighted(table.weight != nullptr),
      parameters(table.curves * width),
      covariance(table.curves * width * width),
      chi2(table.curves),
      degrees_of_freedom(table.curves),
      status(table.curves, least_squares_status::converged),
      reading_variance(weighted ? 0 : table.curves),
      mean_weight(weighted ? mean_weights(table) : std::vector<double>{}),
      rated_voltage_V(table.rated_voltage_V, table.rated_voltage_V + table.curves) {}

fit_table fitted_table::in_place(unsigned char* certified) {
  return {parameters.data(), covariance.data(), chi2.data(), degrees_of_freedom.data(), certified};
}

void fitted_table::put(std::size_t row, const fitted_curve& curve) {
  const auto p = static_cast<std::size_t>(curve.parameters.size());
  double* const numbers = parameters.data() + row * width;
  double* const squares = covariance.data() + row * width * width;
  std::fill(numbers, numbers + width, std::numeric_limits<double>::quiet_NaN());
  std::fill(squares, squares + width * width, std::numeric_limits<double>::quiet_NaN());
  for (std::size_t i = 0; i < p; ++i) {
    numbers[i] = curve.parameters[static_cast<Eigen::Index>(i)];
    for (std::size_t j = 0; j < p; ++j)
      squares[i * width + j] = curve.covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  }
  chi2[row] = curve.chi2;
  degrees_of_freedom[row] = static_cast<int>(curve.degrees_of_freedom);
  status[row] = curve.status;
  if (!weighted) reading_variance[row] = curve.reading_variance;
}

fitted_curve fitted_table::curve(std::size_t row) const {
  const auto of = family_of(row);
  const Eigen::Index p = parameter_count(of);
  const auto stride = static_cast<Eigen::Index>(width);
  const bool absolute = counts == scatter::not_at_all;
  const double dof = degrees_of_freedom[row];
  return {.family = of,
          .status = status[row],
          .weighted = weighted,
          .parameters = Eigen::Map<const Eigen::VectorXd>(parameters.data() + row * width, p),
          .covariance = matrix_row(covariance.data() + row * width * width, p, p, Eigen::OuterStride<>(stride)),
          .chi2 = chi2[row],
          .degrees_of_freedom = degrees_of_freedom[row],
          .reading_variance = !weighted  ? reading_variance[row]
                              : absolute ? 1.0
                                         : chi2[row] / dof,
          .mean_weight = weighted ? mean_weight[row] : 1.0,
          .interval_degrees = fit::interval_degrees(weighted, dof, counts)};
}

}  // namespace rewound::fit
