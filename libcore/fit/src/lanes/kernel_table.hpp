// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include <rewound/fit/curve_table.hpp>
#include <rewound/fit/prediction_table.hpp>

// What each source file of an instruction set offers; plain structs, so that nothing of it is compiled with its flags.
namespace rewound::fit {

/// The rows first to last of a table to fit, or those of a list.
struct fit_task {
  const curve_table* table;
  const fit_table* answers;
  std::size_t first;
  std::size_t last;
  /// First and last count in this list, which ascends but for curves with errors; null: they count rows.
  const std::size_t* rows = nullptr;
  bool robust = false;  ///< with errors in both coordinates; else a robust fit has kernels of its own
};

/// As predict_batch, with Student's factor for each number of degrees of freedom.
struct prediction_task {
  const fitted_rows* fits;
  const prediction_points* at;
  const prediction_table* answers;
  const double* factor;
  int most_degrees_of_freedom;
  bool new_reading;
  std::size_t first;
  std::size_t last;
};

struct kernel_table {
  void (*fit_power)(const fit_task&);
  void (*fit_scattered_power)(const fit_task&);  ///< from two starts, for readings that scatter
  void (*fit_robust_power)(const fit_task&);
  void (*search_robust_power)(const fit_task&);  ///< more steps, where readings take long to choose their side
  void (*fit_log_quadratic)(const fit_task&);
  void (*fit_magnetising)(const fit_task&);
  void (*scan_magnetising)(const fit_task&);  ///< closer steps, for readings that scatter
  // Without scatter: see error_answers.
  void (*fit_proportional_with_errors)(const fit_task&);
  void (*fit_power_with_errors)(const fit_task&);
  void (*fit_log_quadratic_with_errors)(const fit_task&);
  void (*fit_magnetising_with_errors)(const fit_task&);
  void (*fit_loaded_with_errors)(const fit_task&);
  void (*fit_proportional_weighted)(const fit_task&);
  void (*fit_loaded_weighted)(const fit_task&);
  void (*bound_loaded_weighted)(const fit_task&);  ///< chi2 alone
  void (*predict_power)(const prediction_task&);
  void (*predict_log_quadratic)(const prediction_task&);
  void (*predict_magnetising)(const prediction_task&);
};

extern const kernel_table plain_kernels;
#ifdef REWOUND_X86
extern const kernel_table avx2_kernels;
extern const kernel_table avx512_kernels;
#endif

}  // namespace rewound::fit
