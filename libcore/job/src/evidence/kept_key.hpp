// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

namespace rewound::job {

/// Everything that a kept value depends on, as numbers; every list with its length before it, so that no two inputs
/// share a key.
class kept_key {
 public:
  void add(double value) { numbers_.push_back(value); }
  void add(const std::optional<double>& value) { add(value.value_or(-1.0)); }
  void add(const std::vector<double>& values) { add_list(values.data(), values.size()); }
  void add(const Eigen::VectorXd& values) { add_list(values.data(), static_cast<std::size_t>(values.size())); }
  void add(const Eigen::MatrixXd& values) {
    add(static_cast<double>(values.rows()));
    add_list(values.data(), static_cast<std::size_t>(values.size()));
  }
  void add(const std::string& text) {
    add(static_cast<double>(text.size()));
    for (const char letter : text) add(static_cast<double>(static_cast<unsigned char>(letter)));
  }

  const std::vector<double>& numbers() const { return numbers_; }

 private:
  void add_list(const double* values, std::size_t count) {
    add(static_cast<double>(count));
    numbers_.insert(numbers_.end(), values, values + count);
  }

  std::vector<double> numbers_;
};

}  // namespace rewound::job
