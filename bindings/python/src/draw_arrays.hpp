// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>

#include "arguments.hpp"
#include "curve_fit.hpp"
#include "pybind.hpp"

// The arrays that rewound.fit_draw is called with, and the checks of what stands in them.
namespace rewound::python {

using table = py::array_t<double, py::array::c_style>;

/// All arrays of a call: (n_curves, n_readings) each, the rated voltages (n_curves).
struct draw_arrays {
  table voltage;
  table current;
  table rated_voltage;
  std::optional<table> voltage_u;
  std::optional<table> current_u;
  std::optional<table> weights;
  bool batch;  ///< a batch may lack readings, a single curve may not
};

inline std::string shape_of(const table& array) {
  std::string out = "shape (";
  for (py::ssize_t i = 0; i < array.ndim(); ++i) out += (i > 0 ? ", " : "") + std::to_string(array.shape(i));
  return out + ")";
}

inline void expect_same_shape(const table& array, const table& voltage, const char* name) {
  const bool same = array.ndim() == 2 && array.shape(0) == voltage.shape(0) && array.shape(1) == voltage.shape(1);
  base::expect(same, name, shape_of(array), ("the voltage's " + shape_of(voltage)).c_str());
}

inline void expect_shapes(const draw_arrays& in) {
  base::expect(in.voltage.ndim() == 2, "voltage", shape_of(in.voltage), "one dimension, or two for a batch");
  expect_same_shape(in.current, in.voltage, "current");
  if (in.voltage_u) expect_same_shape(*in.voltage_u, in.voltage, "voltage_u");
  if (in.current_u) expect_same_shape(*in.current_u, in.voltage, "current_u");
  if (in.weights) expect_same_shape(*in.weights, in.voltage, "weights");
  const bool one_each = in.rated_voltage.ndim() == 1 && in.rated_voltage.shape(0) == in.voltage.shape(0);
  base::expect(one_each, "rated_voltage", shape_of(in.rated_voltage), "one number, or one per curve");
}

/// One row of the arrays, checked reading by reading.
class row_reader {
 public:
  row_reader(const draw_arrays& in, py::ssize_t row) : in_(in), row_(row) {}

  curve_readings read() {
    rated_ = in_.rated_voltage.at(row_);
    expect_above_zero(rated_, in_.batch ? "rated_voltage[" + std::to_string(row_) + "]" : "rated_voltage");
    for (py::ssize_t i = 0; i < in_.voltage.shape(1); ++i)
      if (present(i)) take(i);
    return {column(x_), column(current_), column(weight_), column(u_x_), column(u_current_)};
  }

  double rated_voltage() const { return rated_; }

 private:
  static Eigen::VectorXd column(const std::vector<double>& values) {
    return Eigen::Map<const Eigen::VectorXd>(values.data(), static_cast<Eigen::Index>(values.size()));
  }

  static void expect_above_zero(double value, const std::string& name) {
    base::expect(std::isfinite(value) && value > 0.0, name.c_str(), shown_digits(value), "a finite number above 0");
  }

  static void expect_not_negative(double value, const std::string& name) {
    base::expect(std::isfinite(value) && value >= 0.0, name.c_str(), shown_digits(value),
                 "a finite number not below 0");
  }

  std::string at(const char* name, py::ssize_t i) const {
    const std::string row = in_.batch ? std::to_string(row_) + ", " : "";
    return std::string(name) + "[" + row + std::to_string(i) + "]";
  }

  bool present(py::ssize_t i) const {
    return !in_.batch || !(std::isnan(in_.voltage.at(row_, i)) || std::isnan(in_.current.at(row_, i)));
  }

  void take(py::ssize_t i) {
    const double voltage = in_.voltage.at(row_, i);
    const double current = in_.current.at(row_, i);
    expect_above_zero(voltage, at("voltage", i));
    expect_above_zero(current, at("current", i));
    if (in_.weights) {
      const double weight = in_.weights->at(row_, i);
      expect_not_negative(weight, at("weights", i));
      if (weight == 0.0) return;
      weight_.push_back(weight);
    } else {
      take_uncertainties(i, voltage, current);
    }
    x_.push_back(voltage / rated_);
    current_.push_back(current);
  }

  void take_uncertainties(py::ssize_t i, double voltage, double current) {
    constexpr double assumed_voltage = 0.005;
    constexpr double assumed_current = 0.01;
    const double u_voltage = in_.voltage_u ? in_.voltage_u->at(row_, i) : assumed_voltage * voltage;
    const double u_current = in_.current_u ? in_.current_u->at(row_, i) : assumed_current * current;
    expect_not_negative(u_voltage, at("voltage_u", i));
    expect_above_zero(u_current, at("current_u", i));
    u_x_.push_back(u_voltage / voltage);
    u_current_.push_back(u_current / current);
  }

  const draw_arrays& in_;
  py::ssize_t row_;
  double rated_ = 0.0;
  std::vector<double> x_, current_, weight_, u_x_, u_current_;
};

}  // namespace rewound::python
