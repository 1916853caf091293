// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include <rewound/fit/curve_table.hpp>

namespace rewound::fit {

/// Some rows of a table as a table of their own.
class part_of_table {
 public:
  part_of_table(const curve_table& whole, const std::vector<std::size_t>& rows) : view_(whole) {
    view_.curves = rows.size();
    view_.voltage_V = taken(whole.voltage_V, rows, whole.readings);
    view_.current_A = taken(whole.current_A, rows, whole.readings);
    view_.weight = taken(whole.weight, rows, whole.readings);
    view_.rated_voltage_V = taken(whole.rated_voltage_V, rows, 1);
    view_.voltage_u_V = taken(whole.voltage_u_V, rows, whole.readings);
    view_.current_u_A = taken(whole.current_u_A, rows, whole.readings);
  }
  ~part_of_table() = default;
  part_of_table(const part_of_table&) = delete;
  part_of_table& operator=(const part_of_table&) = delete;

  const curve_table& view() const { return view_; }

 private:
  const double* taken(const double* from, const std::vector<std::size_t>& rows, std::size_t width) {
    if (!from) return nullptr;
    auto& to = kept_.emplace_back();
    to.reserve(rows.size() * width);
    for (const std::size_t row : rows) to.insert(to.end(), from + row * width, from + (row + 1) * width);
    return to.data();
  }

  curve_table view_;
  std::vector<std::vector<double>> kept_;
};

}  // namespace rewound::fit
