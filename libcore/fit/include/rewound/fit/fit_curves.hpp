// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/fit/curve_family.hpp>
#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/fit_curve.hpp>
#include <rewound/fit/instruction_set.hpp>
#include <rewound/fit/least_squares.hpp>
#include <rewound/fit/prediction_table.hpp>

// Tables of curves; link rewound::fit_tables. One curve alone: fit_curve.hpp, and as a judgement takes it, with the
// accuracy of the meters known, curve_choice.hpp. All of them share the objective, the search and the choice of family.
namespace rewound::fit {

struct table_options {
  std::optional<curve_family> family;  ///< none: the one that choose_family (curve_choice.hpp) names for each curve
  bool robust = false;                 ///< Huber's weights; see fit_curve
  /// Uncertainties or weights are absolute: scatter::not_at_all. Else scatter::beside_statement where uncertainties are
  /// stated, and scatter::alone.
  bool absolute = false;
  int threads = 1;  ///< the answers do not depend on it
  /// What lanes of registers run on.
  instruction_set set = instruction_sets().back();
};

/// Fitted curves in the order of their table. A row of parameters is as long as that of the curve that has most; what a
/// curve lacks is NaN, and so are all numbers of a fit that failed.
struct fitted_table {
  std::vector<curve_family> family;  ///< one a curve, or one for all
  std::size_t width = 1;             ///< parameters in a row
  bool weighted = false;
  scatter counts = scatter::alone;
  std::vector<double> parameters;  ///< by rows
  std::vector<double> covariance;  ///< width x width a curve; see scatter
  std::vector<double> chi2;
  std::vector<int> degrees_of_freedom;
  std::vector<least_squares_status> status;
  std::vector<double> reading_variance;  ///< see fitted_curve; with weights empty, being chi2 / dof or 1
  std::vector<double> mean_weight;       ///< with weights: of the readings of each curve
  std::vector<double> rated_voltage_V;
  std::size_t left_lanes = 0;  ///< curves that were fitted one by one, or finished so

  fitted_table() = default;
  fitted_table(const curve_table& table, std::size_t parameters_each);

  std::size_t size() const { return chi2.size(); }
  curve_family family_of(std::size_t row) const { return family.size() == 1 ? family.front() : family[row]; }
  /// One curve by itself.
  fitted_curve curve(std::size_t row) const;
  void put(std::size_t row, const fitted_curve& curve);
  /// A curve that could not be fitted.
  void put_nothing(std::size_t row, least_squares_status why);
  /// Where lanes of registers write and read.
  fit_table in_place(unsigned char* certified = nullptr);
};

/// Fits every curve of the table: in lanes of registers (batch_fit.hpp) where they know the family, the curves that
/// they do not certify and all others one by one as fit_curve does.
///
/// @throws base::error (precondition) naming the reading that cannot be: "current[2, 5]" of a table that may lack
/// readings, "current[5]" of another
fitted_table fit_curves(const curve_table& table, const table_options& options = {});

/// Currents of fitted curves with their intervals, as predict() gives them one by one.
///
/// @param voltage_V  above 0: a row per curve and `count` columns, or one row that all curves share
/// @param weight     of the new readings, in the shape of the voltages, on curves with weights; each curve's mean
/// weight
///                   where null
/// @throws base::error (precondition) on a voltage, a weight or a level that cannot be
void predict(const fitted_table& fitted, const double* voltage_V, std::size_t count, double level, bool new_reading,
             const prediction_table& answers, const double* weight = nullptr, bool shared = false);

/// Profile intervals of all parameters (profile_intervals.hpp), each in the shape of fitted_table::parameters.
struct profile_table {
  std::vector<double> low;
  std::vector<double> high;
};

/// @param table    the readings that the curves were fitted to
/// @param options  those that they were fitted with
/// @throws base::error (precondition) on a level that cannot be
profile_table profiles(const fitted_table& fitted, const curve_table& table, const table_options& options,
                       double level);

}  // namespace rewound::fit
