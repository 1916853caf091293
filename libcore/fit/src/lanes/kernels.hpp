// SPDX-License-Identifier: MIT
#pragma once

// All kernels for one instruction set. Include after REWOUND_LANES is defined.
#include "bent_error_kernel.hpp"
#include "huber_kernel.hpp"
#include "loaded_bound_kernel.hpp"
#include "loaded_kernel.hpp"
#include "log_quadratic_kernel.hpp"
#include "magnetising_kernel.hpp"
#include "power_kernel.hpp"
#include "prediction_kernel.hpp"

namespace rewound::fit {
namespace {

void fit_power(const fit_task& task) {
  for_each_group<2, false>(task, [](const auto& g, auto& out) { fit_power_group(g, out); });
}

void fit_scattered_power(const fit_task& task) {
  for_each_group<2, false>(task, [](const auto& g, auto& out) { fit_power_at_length(g, out); });
}

void fit_robust_power(const fit_task& task) {
  for_each_group<2, false>(task, [](const auto& g, auto& out) { fit_robust_power_group(g, out); });
}

void search_robust_power(const fit_task& task) {
  for_each_group<2, false>(task, [](const auto& g, auto& out) { fit_robust_power_at_length(g, out); });
}

void fit_log_quadratic(const fit_task& task) {
  for_each_group<3, false>(task, [](const auto& g, auto& out) { fit_log_quadratic_group(g, out); });
}

void fit_magnetising(const fit_task& task) {
  for_each_group<3, true>(task, [](const auto& g, auto& out) { fit_magnetising_group(g, out); });
}

void scan_magnetising(const fit_task& task) {
  for_each_group<3, true>(task, [](const auto& g, auto& out) { scan_magnetising_group(g, out); });
}

void fit_proportional_with_errors(const fit_task& task) {
  for_each_error_group<1>(task, [](auto& g, auto& out) { fit_level_in_logs<level_in_logs>(g, out); });
}

void fit_power_with_errors(const fit_task& task) {
  for_each_error_group<2>(task, [](auto& g, auto& out) { fit_level_in_logs<line_in_logs>(g, out); });
}

void fit_log_quadratic_with_errors(const fit_task& task) {
  for_each_error_group<3>(task, [](auto& g, auto& out) { fit_curve_in_logs<parabola_in_logs>(g, out); });
}

void fit_magnetising_with_errors(const fit_task& task) {
  for_each_error_group<3>(task, [](auto& g, auto& out) { fit_magnetising_in_logs(g, out); });
}

void fit_loaded_with_errors(const fit_task& task) {
  for_each_error_group<5>(task, [](auto& g, auto& out) { fit_loaded<errors_in_both<loaded_in_logs>>(g, out); });
}

void fit_proportional_weighted(const fit_task& task) {
  for_each_error_group<1>(task, [](auto& g, auto& out) { fit_weighted_proportional_group(g, out); });
}

void fit_loaded_weighted(const fit_task& task) {
  for_each_error_group<5>(task, [](auto& g, auto& out) { fit_loaded<weighted_loaded>(g, out); });
}

void bound_loaded_weighted(const fit_task& task) {
  for_each_error_group<5>(task, [](auto& g, auto& out) { bound_loaded(g, out); });
}

void predict_power(const prediction_task& task) { predict<power_curve>(task); }
void predict_log_quadratic(const prediction_task& task) { predict<log_quadratic_curve>(task); }
void predict_magnetising(const prediction_task& task) { predict<magnetising_curve>(task); }

}  // namespace
}  // namespace rewound::fit

#define REWOUND_ALL_KERNELS                                                                                    \
  {                                                                                                            \
    fit_power, fit_scattered_power, fit_robust_power, search_robust_power, fit_log_quadratic, fit_magnetising, \
        scan_magnetising, fit_proportional_with_errors, fit_power_with_errors, fit_log_quadratic_with_errors,  \
        fit_magnetising_with_errors, fit_loaded_with_errors, fit_proportional_weighted, fit_loaded_weighted,   \
        bound_loaded_weighted, predict_power, predict_log_quadratic, predict_magnetising                       \
  }
