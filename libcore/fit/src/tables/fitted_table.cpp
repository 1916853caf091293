// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>

#include <rewound/fit/fit_curves.hpp>

namespace rewound::fit {

namespace {

using matrix_row =
    Eigen::Map<const Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>, 0, Eigen::OuterStride<>>;

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
      mean_weight(weighted ? table.curves : 0),
      rated_voltage_V(table.rated_voltage_V, table.rated_voltage_V + table.curves) {}

fit_table fitted_table::in_place(unsigned char* certified) {
  return {.parameters = parameters.data(),
          .covariance = covariance.data(),
          .chi2 = chi2.data(),
          .degrees_of_freedom = degrees_of_freedom.data(),
          .certified = certified,
          .unit_variance = nullptr,
          .mean_weight = weighted ? mean_weight.data() : nullptr};
}

void fitted_table::put_nothing(std::size_t row, least_squares_status why) {
  constexpr double nothing = std::numeric_limits<double>::quiet_NaN();
  std::fill_n(parameters.data() + row * width, width, nothing);
  std::fill_n(covariance.data() + row * width * width, width * width, nothing);
  chi2[row] = nothing;
  degrees_of_freedom[row] = 0;
  status[row] = why;
  if (!weighted) reading_variance[row] = nothing;
}

void fitted_table::put(std::size_t row, const fitted_curve& curve) {
  put_nothing(row, curve.status);
  const auto p = static_cast<std::size_t>(curve.parameters.size());
  double* const numbers = parameters.data() + row * width;
  double* const squares = covariance.data() + row * width * width;
  for (std::size_t i = 0; i < p; ++i) {
    numbers[i] = curve.parameters[static_cast<Eigen::Index>(i)];
    for (std::size_t j = 0; j < p; ++j)
      squares[i * width + j] = curve.covariance(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
  }
  chi2[row] = curve.chi2;
  degrees_of_freedom[row] = static_cast<int>(curve.degrees_of_freedom);
  if (weighted) mean_weight[row] = curve.mean_weight;
  else reading_variance[row] = curve.reading_variance;
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
