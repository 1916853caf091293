// SPDX-License-Identifier: MIT
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>

#include "curve_fit.hpp"
#include "parallel.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

using table = py::array_t<double, py::array::c_style>;

/// The curves of one call, in the order given.
struct fitted_curves {
  std::vector<fitted_curve> curves;
  std::vector<double> rated_voltage_V;
};

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

std::string shown(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.6g", value);
  return text;
}

std::string shape_of(const table& array) {
  std::string out = "shape (";
  for (py::ssize_t i = 0; i < array.ndim(); ++i) out += (i > 0 ? ", " : "") + std::to_string(array.shape(i));
  return out + ")";
}

void expect_same_shape(const table& array, const table& voltage, const char* name) {
  const bool same = array.ndim() == 2 && array.shape(0) == voltage.shape(0) && array.shape(1) == voltage.shape(1);
  base::expect(same, name, shape_of(array), ("the voltage's " + shape_of(voltage)).c_str());
}

void expect_shapes(const draw_arrays& in) {
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
    base::expect(std::isfinite(value) && value > 0.0, name.c_str(), shown(value), "a finite number above 0");
  }

  static void expect_not_negative(double value, const std::string& name) {
    base::expect(std::isfinite(value) && value >= 0.0, name.c_str(), shown(value), "a finite number not below 0");
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

struct named_family {
  const char* name;
  fit::curve_family family;
};

constexpr named_family models[] = {{"proportional", fit::curve_family::proportional},
                                   {"power", fit::curve_family::power},
                                   {"log_quadratic", fit::curve_family::log_quadratic},
                                   {"magnetising", fit::curve_family::magnetising},
                                   {"magnetising_load", fit::curve_family::magnetising_load}};

std::optional<fit::curve_family> family_named(const std::string& model) {
  if (model == "auto") return std::nullopt;
  for (const auto& known : models)
    if (model == known.name) return known.family;
  throw base::error(base::error_code::not_a_choice, {"", 0, "model"}, "\"" + model + "\"",
                    "one of auto, proportional, power, log_quadratic, magnetising, magnetising_load");
}

const char* name_of(fit::curve_family family) {
  for (const auto& known : models)
    if (family == known.family) return known.name;
  return "unknown";
}

fitted_curves fit_draw(const draw_arrays& in, const std::string& model, bool robust, int threads) {
  const auto family = family_named(model);
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  base::expect(!(in.weights && (in.voltage_u || in.current_u)), "weights", "weights and uncertainties",
               "either weights or uncertainties");
  expect_shapes(in);
  std::vector<curve_readings> readings;
  fitted_curves out;
  for (py::ssize_t row = 0; row < in.voltage.shape(0); ++row) {
    row_reader reader(in, row);
    readings.push_back(reader.read());
    out.rated_voltage_V.push_back(reader.rated_voltage());
  }
  out.curves.resize(readings.size());
  const py::gil_scoped_release unlocked;
  for_each_index(readings.size(), threads,
                 [&](std::size_t i) { out.curves[i] = fit_curve(readings[i], family, robust); });
  return out;
}

/// Most parameters of any curve: shorter ones are filled up with NaN.
py::ssize_t width_of(const fitted_curves& fitted) {
  Eigen::Index width = 1;
  for (const auto& curve : fitted.curves) width = std::max(width, curve.parameters.size());
  return width;
}

table parameters_of(const fitted_curves& fitted) {
  table out({static_cast<py::ssize_t>(fitted.curves.size()), width_of(fitted)});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < cell.shape(0); ++i) {
    const auto& from = fitted.curves[static_cast<std::size_t>(i)].parameters;
    for (py::ssize_t j = 0; j < cell.shape(1); ++j) cell(i, j) = j < from.size() ? from[j] : std::nan("");
  }
  return out;
}

table covariances_of(const fitted_curves& fitted) {
  const auto width = width_of(fitted);
  table out({static_cast<py::ssize_t>(fitted.curves.size()), width, width});
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < cell.shape(0); ++i) {
    const auto& from = fitted.curves[static_cast<std::size_t>(i)].covariance;
    for (py::ssize_t j = 0; j < width; ++j)
      for (py::ssize_t k = 0; k < width; ++k)
        cell(i, j, k) = j < from.rows() && k < from.cols() ? from(j, k) : std::nan("");
  }
  return out;
}

/// One number or word of each curve.
template <class Value, class Take>
std::vector<Value> of_each(const fitted_curves& fitted, const Take& take) {
  std::vector<Value> out;
  for (const auto& curve : fitted.curves) out.emplace_back(take(curve));
  return out;
}

/// Value, low and high, stacked: (3, n_curves, n_voltages).
table predictions_of(const fitted_curves& fitted, const table& voltage, double level, bool new_reading) {
  base::expect(level > 0.0 && level < 1.0, "level", shown(level), "a number between 0 and 1");
  const auto count = static_cast<py::ssize_t>(fitted.curves.size());
  const bool fits = voltage.ndim() == 2 && voltage.shape(0) == count;
  base::expect(fits, "voltage", shape_of(voltage), "one number, one dimension, or two with one row per curve");
  table out({py::ssize_t{3}, count, voltage.shape(1)});
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < count; ++i) {
    const auto& curve = fitted.curves[static_cast<std::size_t>(i)];
    for (py::ssize_t j = 0; j < voltage.shape(1); ++j) {
      const double at = voltage.at(i, j);
      base::expect(std::isfinite(at) && at > 0.0, "voltage", shown(at), "finite numbers above 0");
      const auto here = predict(curve, at / fitted.rated_voltage_V[static_cast<std::size_t>(i)], level, new_reading);
      cell(0, i, j) = here.value;
      cell(1, i, j) = here.low;
      cell(2, i, j) = here.high;
    }
  }
  return out;
}

}  // namespace

void register_fit(py::module_& module) {
  py::class_<fitted_curves>(module, "FittedCurves", "Curves as fitted; rewound.DrawFit shows them.")
      .def_property_readonly("params", &parameters_of)
      .def_property_readonly("covariance", &covariances_of)
      .def_property_readonly("chi2", [](const fitted_curves& self) {
        return of_each<double>(self, [](const fitted_curve& curve) { return curve.chi2; });
      })
      .def_property_readonly("degrees_of_freedom", [](const fitted_curves& self) {
        return of_each<Eigen::Index>(self, [](const fitted_curve& curve) { return curve.degrees_of_freedom; });
      })
      .def_property_readonly("status", [](const fitted_curves& self) {
        return of_each<std::string>(self, [](const fitted_curve& curve) { return fit::name(curve.status); });
      })
      .def_property_readonly("models", [](const fitted_curves& self) {
        return of_each<std::string>(self, [](const fitted_curve& curve) { return name_of(curve.family); });
      })
      .def("predict", &predictions_of, py::arg("voltage"), py::arg("level"), py::arg("new_reading"));
  module.def(
      "fit_draw",
      [](table voltage, table current, table rated_voltage, std::optional<table> voltage_u,
         std::optional<table> current_u, std::optional<table> weights, bool batch, const std::string& model,
         bool robust, int threads) {
        const draw_arrays in{voltage, current, rated_voltage, voltage_u, current_u, weights, batch};
        return fit_draw(in, model, robust, threads);
      },
      py::arg("voltage"), py::arg("current"), py::arg("rated_voltage"), py::kw_only(), py::arg("voltage_u"),
      py::arg("current_u"), py::arg("weights"), py::arg("batch"), py::arg("model"), py::arg("robust"),
      py::arg("threads"));
}

}  // namespace rewound::python
