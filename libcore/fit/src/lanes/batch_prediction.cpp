// SPDX-License-Identifier: MIT
#include <rewound/fit/batch_prediction.hpp>

#include <array>
#include <limits>
#include <mutex>

#include <rewound/fit/batch_fit.hpp>
#include <rewound/measurement/distribution.hpp>

#include "kernel_choice.hpp"

namespace rewound::fit {

namespace {

constexpr int most_degrees = static_cast<int>(most_readings);

/// Student's factor of each number of degrees of freedom; NaN where there are none.
using factor_table = std::array<double, most_degrees + 1>;

/// The factors of the level asked for last are kept: a quantile takes longer than a fit.
factor_table factors_of(double level) {
  static std::mutex guard;
  static double kept_level = 0.0;
  static factor_table kept;
  const std::lock_guard hold(guard);
  if (level != kept_level) {
    kept[0] = std::numeric_limits<double>::quiet_NaN();
    for (int i = 1; i <= most_degrees; ++i)
      kept[static_cast<std::size_t>(i)] = measurement::coverage_factor(level, static_cast<double>(i));
    kept_level = level;
  }
  return kept;
}

}  // namespace

void predict_batch(const fitted_rows& fits, curve_family family, const prediction_points& at, double level,
                   bool new_reading, std::size_t first, std::size_t last, const prediction_table& answers,
                   instruction_set set) {
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  base::expect(in_batches(family, false), "family", "one that is not fitted in batches",
               "power, log_quadratic or magnetising");
  const kernel_table& kernels = kernels_of(set);
  const factor_table factors = factors_of(level);
  const prediction_task task{&fits, &at, &answers, factors.data(), most_degrees, new_reading, first, last};
  if (family == curve_family::magnetising) kernels.predict_magnetising(task);
  else if (family == curve_family::log_quadratic) kernels.predict_log_quadratic(task);
  else kernels.predict_power(task);
}

}  // namespace rewound::fit
