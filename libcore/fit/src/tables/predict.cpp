// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/batch_prediction.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "table_rows.hpp"

namespace rewound::fit {

namespace {

/// Whether the kernels' Student's t and variance of a new reading are those asked for.
bool all_in_lanes(const fitted_table& fitted, bool new_reading, const double* weight) {
  if (fitted.counts == scatter::not_at_all || (new_reading && weight)) return false;
  const auto& degrees = fitted.degrees_of_freedom;
  return fitted.weighted && fitted.family.size() == 1 && in_batches(fitted.family.front(), false) &&
         std::all_of(degrees.begin(), degrees.end(), [](int dof) { return dof <= static_cast<int>(most_readings); });
}

void predict_one_by_one(const fitted_table& fitted, const double* voltage, bool shared, std::size_t count, double level,
                        bool new_reading, const double* weight, const prediction_table& answers) {
  for (std::size_t row = 0; row < fitted.size(); ++row) {
    const auto curve = fitted.curve(row);
    for (std::size_t i = row * count; i < (row + 1) * count; ++i) {
      const auto own = weight ? std::optional(weight[i]) : std::nullopt;
      const double at = voltage[shared ? i - row * count : i];
      const auto here = predict(curve, at / fitted.rated_voltage_V[row], level, new_reading, own);
      answers.value_A[i] = here.value;
      answers.low_A[i] = here.low;
      answers.high_A[i] = here.high;
    }
  }
}

}  // namespace

void predict(const fitted_table& fitted, const double* voltage_V, std::size_t count, double level, bool new_reading,
             const prediction_table& answers, const double* weight, bool shared) {
  base::expect(level > 0.0 && level < 1.0, "level", shown_digits(level), "a number between 0 and 1");
  for (const double* at = voltage_V; at != voltage_V + (shared ? 1 : fitted.size()) * count; ++at)
    if (!(std::isfinite(*at) && *at > 0.0))  // the text takes longer than the prediction
      base::expect(false, "voltage", shown_digits(*at), "finite numbers above 0");
  base::expect(!weight || fitted.weighted, "weight", "a weight for curves that were fitted without",
               "weights of curves that were fitted with them");
  for (const double* at = weight; at && at != weight + fitted.size() * count; ++at)
    if (!(std::isfinite(*at) && *at > 0.0)) base::expect(false, "weight", shown_digits(*at), "finite numbers above 0");
  if (!all_in_lanes(fitted, new_reading, weight))
    return predict_one_by_one(fitted, voltage_V, shared, count, level, new_reading, weight, answers);
  const fitted_rows fits{fitted.parameters.data(), fitted.covariance.data(), fitted.chi2.data(),
                         fitted.degrees_of_freedom.data(), fitted.mean_weight.data()};
  const prediction_points at{voltage_V, count, shared, fitted.rated_voltage_V.data()};
  predict_batch(fits, fitted.family.front(), at, level, new_reading, 0, fitted.size(), answers);
}

}  // namespace rewound::fit
