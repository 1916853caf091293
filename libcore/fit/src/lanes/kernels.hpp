// SPDX-License-Identifier: MIT
#pragma once

// All kernels for one instruction set. Include after REWOUND_LANES is defined.
#include "huber_kernel.hpp"
#include "log_quadratic_kernel.hpp"
#include "magnetising_kernel.hpp"
#include "power_kernel.hpp"
#include "prediction_kernel.hpp"

namespace rewound::fit {
namespace {

void fit_power(const fit_task& task) {
  for_each_group<2, false>(task, [](const auto& g, auto& out) { fit_power_group(g, out); });
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

void predict_power(const prediction_task& task) { predict<power_curve>(task); }
void predict_log_quadratic(const prediction_task& task) { predict<log_quadratic_curve>(task); }
void predict_magnetising(const prediction_task& task) { predict<magnetising_curve>(task); }

}  // namespace
}  // namespace rewound::fit

#define REWOUND_ALL_KERNELS                                                                                 \
  {                                                                                                         \
    fit_power, fit_robust_power, search_robust_power, fit_log_quadratic, fit_magnetising, scan_magnetising, \
        predict_power, predict_log_quadratic, predict_magnetising                                           \
  }
