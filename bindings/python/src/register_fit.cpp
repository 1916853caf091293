// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/fit/batch_prediction.hpp>

#include "draw_fit.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

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

std::optional<fit::instruction_set> set_named(const std::optional<std::string>& wanted) {
  if (!wanted) return std::nullopt;
  std::string allowed = "one of";
  for (const auto set : fit::instruction_sets()) {
    if (*wanted == fit::name(set)) return set;
    allowed += " " + std::string(fit::name(set));
  }
  throw base::error(base::error_code::not_a_choice, {"", 0, "instruction_set"}, "\"" + *wanted + "\"", allowed);
}

py::list set_names() {
  py::list out;
  for (const auto set : fit::instruction_sets()) out.append(std::string(fit::name(set)));
  return out;
}

/// Most parameters of any curve: shorter ones are filled up with NaN.
py::ssize_t width_of(const fitted_curves& fitted) {
  Eigen::Index width = 1;
  for (const auto& curve : fitted.each) width = std::max(width, curve.parameters.size());
  return width;
}

/// A table of a batch as an array of its own.
table copied(const std::vector<double>& from, std::vector<py::ssize_t> shape) {
  table out(std::move(shape));
  std::copy(from.begin(), from.end(), out.mutable_data());
  return out;
}

table parameters_of(const fitted_curves& fitted) {
  const auto count = static_cast<py::ssize_t>(fitted.size());
  if (fitted.batch)
    return copied(fitted.batch->parameters, {count, static_cast<py::ssize_t>(fitted.batch->parameters_each())});
  table out({count, width_of(fitted)});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < cell.shape(0); ++i) {
    const auto& from = fitted.each[static_cast<std::size_t>(i)].parameters;
    for (py::ssize_t j = 0; j < cell.shape(1); ++j) cell(i, j) = j < from.size() ? from[j] : std::nan("");
  }
  return out;
}

table covariances_of(const fitted_curves& fitted) {
  const auto count = static_cast<py::ssize_t>(fitted.size());
  if (fitted.batch) {
    const auto p = static_cast<py::ssize_t>(fitted.batch->parameters_each());
    return copied(fitted.batch->covariance, {count, p, p});
  }
  const auto width = width_of(fitted);
  table out({count, width, width});
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < cell.shape(0); ++i) {
    const auto& from = fitted.each[static_cast<std::size_t>(i)].covariance;
    for (py::ssize_t j = 0; j < width; ++j)
      for (py::ssize_t k = 0; k < width; ++k)
        cell(i, j, k) = j < from.rows() && k < from.cols() ? from(j, k) : std::nan("");
  }
  return out;
}

/// The words of all curves, each made once.
template <class Word, class Take>
py::list words_of(const fitted_curves& fitted, const Word& word, const Take& take) {
  using value = decltype(take(std::size_t{}));
  std::map<value, py::str> made;
  py::list out(fitted.size());
  for (std::size_t i = 0; i < fitted.size(); ++i) {
    const value here = take(i);
    auto found = made.find(here);
    if (found == made.end()) found = made.emplace(here, py::str(std::string(word(here)))).first;
    out[i] = found->second;
  }
  return out;
}

py::list status_of(const fitted_curves& fitted) {
  return words_of(
      fitted, [](fit::least_squares_status status) { return fit::name(status); },
      [&](std::size_t i) { return fitted.batch ? fitted.batch->status[i] : fitted.each[i].status; });
}

py::list models_of(const fitted_curves& fitted) {
  return words_of(fitted, &name_of,
                  [&](std::size_t i) { return fitted.batch ? fitted.batch->family : fitted.each[i].family; });
}

/// One number of each curve.
template <class Number, class Take>
py::array_t<Number> numbers_of(const fitted_curves& fitted, const Take& take) {
  py::array_t<Number> out(static_cast<py::ssize_t>(fitted.size()));
  Number* to = out.mutable_data();
  for (std::size_t i = 0; i < fitted.size(); ++i) to[i] = static_cast<Number>(take(i));
  return out;
}

py::array_t<double> chi2_of(const fitted_curves& fitted) {
  return numbers_of<double>(fitted,
                            [&](std::size_t i) { return fitted.batch ? fitted.batch->chi2[i] : fitted.each[i].chi2; });
}

py::array_t<std::int64_t> degrees_of(const fitted_curves& fitted) {
  return numbers_of<std::int64_t>(fitted, [&](std::size_t i) -> std::int64_t {
    return fitted.batch ? fitted.batch->degrees_of_freedom[i] : fitted.each[i].degrees_of_freedom;
  });
}

void predict_each(const fitted_curves& fitted, const table& voltage, double level, bool new_reading, table& out) {
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < cell.shape(1); ++i) {
    const auto& curve = fitted.each[static_cast<std::size_t>(i)];
    const double rated = fitted.rated_voltage_V[static_cast<std::size_t>(i)];
    for (py::ssize_t j = 0; j < cell.shape(2); ++j) {
      const auto here = predict(curve, voltage.at(i, j) / rated, level, new_reading);
      cell(0, i, j) = here.value;
      cell(1, i, j) = here.low;
      cell(2, i, j) = here.high;
    }
  }
}

void predict_in_batch(fitted_curves& fitted, const table& voltage, double level, bool new_reading, table& out) {
  const auto points = static_cast<std::size_t>(voltage.shape(1));
  const std::size_t size = fitted.size() * points;
  const fit::prediction_points at{voltage.data(), points, false, fitted.rated_voltage_V.data()};
  double* to = out.mutable_data();
  fit::predict_batch(fitted.batch->as_table(), fitted.batch->family, at, level, new_reading, 0, fitted.size(),
                     {to, to + size, to + 2 * size});
}

/// Value, low and high, stacked: (3, n_curves, n_voltages).
table predictions_of(fitted_curves& fitted, const table& voltage, double level, bool new_reading) {
  base::expect(level > 0.0 && level < 1.0, "level", shown_digits(level), "a number between 0 and 1");
  const auto count = static_cast<py::ssize_t>(fitted.size());
  const bool fits = voltage.ndim() == 2 && voltage.shape(0) == count;
  base::expect(fits, "voltage", shape_of(voltage), "one number, one dimension, or two with one row per curve");
  for (const double* at = voltage.data(); at != voltage.data() + voltage.size(); ++at)
    if (!(std::isfinite(*at) && *at > 0.0))  // the text takes longer than the prediction
      base::expect(false, "voltage", shown_digits(*at), "finite numbers above 0");
  table out({py::ssize_t{3}, count, voltage.shape(1)});
  if (fitted.batch) predict_in_batch(fitted, voltage, level, new_reading, out);
  else predict_each(fitted, voltage, level, new_reading, out);
  return out;
}

}  // namespace

void register_fit(py::module_& module) {
  py::class_<fitted_curves>(module, "FittedCurves", "Curves as fitted; rewound.DrawFit shows them.")
      .def_property_readonly("params", &parameters_of)
      .def_property_readonly("covariance", &covariances_of)
      .def_property_readonly("chi2", &chi2_of)
      .def_property_readonly("degrees_of_freedom", &degrees_of)
      .def_property_readonly("status", &status_of)
      .def_property_readonly("models", &models_of)
      .def("predict", &predictions_of, py::arg("voltage"), py::arg("level"), py::arg("new_reading"));
  module.def(
      "fit_draw",
      [](table voltage, table current, table rated_voltage, std::optional<table> voltage_u,
         std::optional<table> current_u, std::optional<table> weights, bool batch, const std::string& model,
         bool robust, int threads, const std::optional<std::string>& instruction_set) {
        const draw_arrays in{voltage, current, rated_voltage, voltage_u, current_u, weights, batch};
        return fit_draw(in, family_named(model), robust, threads, set_named(instruction_set));
      },
      py::arg("voltage"), py::arg("current"), py::arg("rated_voltage"), py::kw_only(), py::arg("voltage_u"),
      py::arg("current_u"), py::arg("weights"), py::arg("batch"), py::arg("model"), py::arg("robust"),
      py::arg("threads"), py::arg("instruction_set") = py::none());
  module.def("instruction_sets", &set_names);
}

}  // namespace rewound::python
