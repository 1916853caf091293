// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include <Eigen/Core>

#include <rewound/base/number_text.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/fit/curve_readings.hpp>
#include <rewound/fit/curve_table.hpp>

// Rows of a table of curves as readings of one curve, and the checks of what stands in them.
namespace rewound::fit {

inline std::string shown_digits(double value) { return base::general_digits(value, 6); }

/// One row of a table, checked reading by reading.
class row_reader {
 public:
  row_reader(const curve_table& in, std::size_t row) : in_(in), row_(row), start_(row * in.readings) {}

  curve_readings read() {
    rated_ = in_.rated_voltage_V[row_];
    expect_above_zero(rated_, [this] {
      return in_.may_lack ? "rated_voltage[" + std::to_string(row_) + "]" : std::string("rated_voltage");
    });
    for (std::size_t i = 0; i < in_.readings; ++i)
      if (present(i)) take(i);
    return {column(x_), column(current_), column(weight_), column(u_x_), column(u_current_)};
  }

 private:
  static Eigen::VectorXd column(const std::vector<double>& values) {
    return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
  }

  /// The text takes longer than the fit: it is made where it is needed.
  template <class Name>
  static void expect_above_zero(double value, const Name& name) {
    if (!(std::isfinite(value) && value > 0.0))
      base::expect(false, name().c_str(), shown_digits(value), "a finite number above 0");
  }

  template <class Name>
  static void expect_not_negative(double value, const Name& name) {
    if (!(std::isfinite(value) && value >= 0.0))
      base::expect(false, name().c_str(), shown_digits(value), "a finite number not below 0");
  }

  auto at(const char* name, std::size_t i) const {
    return [this, name, i] {
      const std::string row = in_.may_lack ? std::to_string(row_) + ", " : "";
      return std::string(name) + "[" + row + std::to_string(i) + "]";
    };
  }

  bool present(std::size_t i) const {
    return !in_.may_lack || !(std::isnan(in_.voltage_V[start_ + i]) || std::isnan(in_.current_A[start_ + i]));
  }

  void take(std::size_t i) {
    const double voltage = in_.voltage_V[start_ + i];
    const double current = in_.current_A[start_ + i];
    expect_above_zero(voltage, at("voltage", i));
    expect_above_zero(current, at("current", i));
    if (in_.weight) {
      const double weight = in_.weight[start_ + i];
      expect_not_negative(weight, at("weights", i));
      if (weight == 0.0) return;
      weight_.push_back(weight);
    } else {
      take_uncertainties(i, voltage, current);
    }
    x_.push_back(voltage / rated_);
    current_.push_back(current);
  }

  void take_uncertainties(std::size_t i, double voltage, double current) {
    constexpr double assumed_voltage = 0.005;
    constexpr double assumed_current = 0.01;
    const double u_voltage = in_.voltage_u_V ? in_.voltage_u_V[start_ + i] : assumed_voltage * voltage;
    const double u_current = in_.current_u_A ? in_.current_u_A[start_ + i] : assumed_current * current;
    expect_not_negative(u_voltage, at("voltage_u", i));
    expect_above_zero(u_current, at("current_u", i));
    u_x_.push_back(u_voltage / voltage);
    u_current_.push_back(u_current / current);
  }

  const curve_table& in_;
  std::size_t row_;
  std::size_t start_;
  double rated_ = 0.0;
  std::vector<double> x_, current_, weight_, u_x_, u_current_;
};

}  // namespace rewound::fit
