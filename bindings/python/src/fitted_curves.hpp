// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include <rewound/fit/batch_fit.hpp>

#include "curve_fit.hpp"

namespace rewound::python {

/// Weighted curves of one family, by the solver of many curves at once. Numbers stand in tables of a row per curve.
struct curve_batch {
  fit::curve_family family = fit::curve_family::power;
  std::vector<double> parameters;
  std::vector<double> covariance;
  std::vector<double> chi2;
  std::vector<int> degrees_of_freedom;
  std::vector<fit::least_squares_status> status;

  curve_batch(fit::curve_family of, std::size_t curves);

  std::size_t curves() const { return chi2.size(); }
  std::size_t parameters_each() const { return static_cast<std::size_t>(fit::parameter_count(family)); }
  /// The tables as the solver writes and reads them.
  fit::fit_table as_table(unsigned char* certified = nullptr);
  /// One curve that another method has fitted.
  void put(std::size_t row, const fitted_curve& curve);
};

/// The curves of one call, in the order given: either all in a batch, or each for itself.
struct fitted_curves {
  std::optional<curve_batch> batch;
  std::vector<fitted_curve> each;
  std::vector<double> rated_voltage_V;

  std::size_t size() const { return batch ? batch->curves() : each.size(); }
};

}  // namespace rewound::python
