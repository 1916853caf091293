// SPDX-License-Identifier: MIT
#include <rewound/fit/batch_fit.hpp>

#include <algorithm>
#include <array>
#include <numeric>
#include <string>

#include "kernel_choice.hpp"

namespace rewound::fit {

namespace {

using kernel = void (*)(const fit_task&);

/// First all curves the quick way, then those that it left the long way, gathered so that they lie side by side again.
void fit_twice(kernel quick, kernel thorough, const fit_task& task) {
  constexpr std::size_t chunk = 512;
  std::array<std::size_t, chunk> left;
  for (std::size_t start = task.first; start < task.last; start += chunk) {
    fit_task part = task;
    part.first = start;
    part.last = std::min(task.last, start + chunk);
    quick(part);
    std::size_t count = 0;
    for (std::size_t row = part.first; row < part.last; ++row)
      if (!task.answers->certified[row]) left[count++] = row;
    if (count == 0) continue;
    part.first = 0;
    part.last = count;
    part.rows = left.data();
    thorough(part);
  }
}

std::size_t readings_in(const curve_table& table, std::size_t row) {
  std::size_t out = 0;
  for (std::size_t i = row * table.readings; i < (row + 1) * table.readings; ++i) {
    const bool present = table.voltage_V[i] == table.voltage_V[i] && table.current_A[i] == table.current_A[i];
    out += present && !(table.weight && table.weight[i] == 0.0);
  }
  return out;
}

/// Curves of as many readings side by side: none waits then for readings that it does not have.
void fit_by_count(kernel fit, const fit_task& task) {
  constexpr std::size_t chunk = 512;
  std::array<std::size_t, chunk> rows, count;
  for (std::size_t start = task.first; start < task.last; start += chunk) {
    const std::size_t size = std::min(task.last - start, chunk);
    std::array<std::size_t, most_readings + 2> place{};
    for (std::size_t i = 0; i < size; ++i) ++place[(count[i] = readings_in(*task.table, start + i)) + 1];
    std::partial_sum(place.begin(), place.end(), place.begin());
    for (std::size_t i = 0; i < size; ++i) rows[place[count[i]]++] = start + i;
    fit({task.table, task.answers, 0, size, rows.data(), task.robust});
  }
}

void expect_rows(const curve_table& table, std::size_t first, std::size_t last) {
  base::expect(table.readings <= most_readings, "readings", std::to_string(table.readings),
               ("at most " + std::to_string(most_readings)).c_str());
  base::expect(first <= last && last <= table.curves, "last", std::to_string(last), "a curve of the table");
}

kernel with_errors(const kernel_table& kernels, curve_family family, bool weighted) {
  switch (family) {
    case curve_family::proportional:
      return weighted ? kernels.fit_proportional_weighted : kernels.fit_proportional_with_errors;
    case curve_family::power: return kernels.fit_power_with_errors;
    case curve_family::log_quadratic: return kernels.fit_log_quadratic_with_errors;
    case curve_family::magnetising: return kernels.fit_magnetising_with_errors;
    case curve_family::magnetising_load: break;
  }
  return weighted ? kernels.fit_loaded_weighted : kernels.fit_loaded_with_errors;
}

}  // namespace

void fit_batch(const curve_table& table, curve_family family, bool robust, std::size_t first, std::size_t last,
               const fit_table& answers, instruction_set set) {
  base::expect(in_batches(family, robust), "family", "one that is not fitted in batches",
               "power, log_quadratic or magnetising; robust only power");
  expect_rows(table, first, last);
  const kernel_table& kernels = kernels_of(set);
  const fit_task task{&table, &answers, first, last, nullptr};
  if (family == curve_family::magnetising) fit_twice(kernels.fit_magnetising, kernels.scan_magnetising, task);
  else if (family == curve_family::log_quadratic) kernels.fit_log_quadratic(task);
  else if (robust) fit_twice(kernels.fit_robust_power, kernels.search_robust_power, task);
  else fit_twice(kernels.fit_power, kernels.fit_scattered_power, task);
}

void fit_batch_with_errors(const curve_table& table, curve_family family, bool robust, std::size_t first,
                           std::size_t last, const fit_table& answers, instruction_set set) {
  const bool weighted = table.weight != nullptr;
  base::expect(in_batches_with_errors(family, weighted, robust), "family", "one that is not fitted in batches",
               "proportional or magnetising_load and not robust, or any without weights");
  expect_rows(table, first, last);
  const kernel fit = with_errors(kernels_of(set), family, weighted);
  const fit_task task{&table, &answers, first, last, nullptr, robust};
  if (magnetising_kind(family)) fit_by_count(fit, task);
  else fit(task);  // cheaper than the order
}

void bound_loaded_batch(const curve_table& table, std::size_t first, std::size_t last, const fit_table& answers,
                        instruction_set set) {
  base::expect(table.weight != nullptr, "weights", "none", "weights");
  expect_rows(table, first, last);
  fit_by_count(kernels_of(set).bound_loaded_weighted, {&table, &answers, first, last, nullptr});
}

}  // namespace rewound::fit
