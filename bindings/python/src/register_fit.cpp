// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <rewound/base/expect.hpp>
#include <rewound/fit/fit_curves.hpp>

#include "pybind.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

using table = py::array_t<double, py::array::c_style>;

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

/// All arrays of a call: (n_curves, n_readings) each, the rated voltages (n_curves).
struct draw_arrays {
  table voltage;
  table current;
  table rated_voltage;
  std::optional<table> voltage_u;
  std::optional<table> current_u;
  std::optional<table> weights;
};

std::string shape_of(const table& array) {
  std::string out = "shape (";
  for (py::ssize_t i = 0; i < array.ndim(); ++i) out += (i > 0 ? ", " : "") + std::to_string(array.shape(i));
  return out + ")";
}

void expect_same_shape(const std::optional<table>& array, const table& voltage, const char* name) {
  if (!array) return;
  const bool same = array->ndim() == 2 && array->shape(0) == voltage.shape(0) && array->shape(1) == voltage.shape(1);
  base::expect(same, name, shape_of(*array), ("the voltage's " + shape_of(voltage)).c_str());
}

void expect_shapes(const draw_arrays& in) {
  base::expect(in.voltage.ndim() == 2, "voltage", shape_of(in.voltage), "one dimension, or two for a batch");
  expect_same_shape(in.current, in.voltage, "current");
  expect_same_shape(in.voltage_u, in.voltage, "voltage_u");
  expect_same_shape(in.current_u, in.voltage, "current_u");
  expect_same_shape(in.weights, in.voltage, "weights");
  const bool one_each = in.rated_voltage.ndim() == 1 && in.rated_voltage.shape(0) == in.voltage.shape(0);
  base::expect(one_each, "rated_voltage", shape_of(in.rated_voltage), "one number, or one per curve");
}

const double* numbers_in(const std::optional<table>& array) { return array ? array->data() : nullptr; }

/// @param batch  a batch may lack readings, a single curve may not
fit::curve_table table_of(const draw_arrays& in, bool batch) {
  expect_shapes(in);
  return {.curves = static_cast<std::size_t>(in.voltage.shape(0)),
          .readings = static_cast<std::size_t>(in.voltage.shape(1)),
          .voltage_V = in.voltage.data(),
          .current_A = in.current.data(),
          .weight = numbers_in(in.weights),
          .rated_voltage_V = in.rated_voltage.data(),
          .voltage_u_V = numbers_in(in.voltage_u),
          .current_u_A = numbers_in(in.current_u),
          .may_lack = batch};
}

template <class Number>
py::array_t<Number> copied(const std::vector<Number>& from, std::vector<py::ssize_t> shape) {
  py::array_t<Number> out(std::move(shape));
  std::copy(from.begin(), from.end(), out.mutable_data());
  return out;
}

py::ssize_t count_of(const fit::fitted_table& fitted) { return static_cast<py::ssize_t>(fitted.size()); }
py::ssize_t width_of(const fit::fitted_table& fitted) { return static_cast<py::ssize_t>(fitted.width); }

/// The words of all curves, each made once.
template <class Word, class Take>
py::list words_of(const fit::fitted_table& fitted, const Word& word, const Take& take) {
  using value = decltype(take(std::size_t{}));
  std::map<value, py::str> made;
  const py::str* last = nullptr;
  py::list out(fitted.size());
  for (std::size_t i = 0; i < fitted.size(); ++i) {
    const value here = take(i);
    if (!last || here != take(i - 1)) last = &made.try_emplace(here, std::string(word(here))).first->second;
    out[i] = *last;
  }
  return out;
}

py::list status_of(const fit::fitted_table& fitted) {
  return words_of(
      fitted, [](fit::least_squares_status status) { return fit::name(status); },
      [&](std::size_t i) { return fitted.status[i]; });
}

py::list models_of(const fit::fitted_table& fitted) {
  return words_of(fitted, &name_of, [&](std::size_t i) { return fitted.family_of(i); });
}

py::array_t<std::int64_t> degrees_of(const fit::fitted_table& fitted) {
  return copied(std::vector<std::int64_t>(fitted.degrees_of_freedom.begin(), fitted.degrees_of_freedom.end()),
                {count_of(fitted)});
}

/// Value, low and high, stacked: (3, n_curves, n_voltages). One row of voltages is for all curves.
table predictions_of(const fit::fitted_table& fitted, const table& voltage, double level, bool new_reading,
                     const std::optional<table>& weight) {
  const bool shared = voltage.ndim() == 1;
  const bool fits = shared || (voltage.ndim() == 2 && voltage.shape(0) == count_of(fitted));
  base::expect(fits, "voltage", shape_of(voltage), "one number, one dimension, or two with one row per curve");
  expect_same_shape(weight, voltage, "weight");
  const auto points = voltage.shape(shared ? 0 : 1);
  table out({py::ssize_t{3}, count_of(fitted), points});
  double* const to = out.mutable_data();
  const auto size = count_of(fitted) * points;
  fit::predict(fitted, voltage.data(), static_cast<std::size_t>(points), level, new_reading,
               {to, to + size, to + 2 * size}, numbers_in(weight), shared);
  return out;
}

/// Low and high ends, stacked: (2, n_curves, p).
table profiles_of(const fit::fitted_table& fitted, const draw_arrays& in, bool batch, const fit::table_options& options,
                  double level) {
  const auto readings = table_of(in, batch);
  const auto found = [&] {
    const py::gil_scoped_release unlocked;
    return fit::profiles(fitted, readings, options, level);
  }();
  table out({py::ssize_t{2}, count_of(fitted), width_of(fitted)});
  std::copy(found.high.begin(), found.high.end(), std::copy(found.low.begin(), found.low.end(), out.mutable_data()));
  return out;
}

}  // namespace

void register_fit(py::module_& module) {
  using fitted = fit::fitted_table;
  py::class_<fitted>(module, "FittedCurves", "Curves as fitted; rewound.DrawFit shows them.")
      .def_property_readonly("params",
                             [](const fitted& of) {
                               return copied(of.parameters, {count_of(of), width_of(of)});
                             })
      .def_property_readonly("covariance",
                             [](const fitted& of) {
                               return copied(of.covariance, {count_of(of), width_of(of), width_of(of)});
                             })
      .def_property_readonly("chi2", [](const fitted& of) { return copied(of.chi2, {count_of(of)}); })
      .def_property_readonly("degrees_of_freedom", &degrees_of)
      .def_property_readonly("mean_weight",
                             [](const fitted& of) {
                               const std::vector<double> ones(of.size(), 1.0);
                               return copied(of.weighted ? of.mean_weight : ones, {count_of(of)});
                             })
      .def_property_readonly("left_lanes", [](const fitted& of) { return of.left_lanes; })
      .def_property_readonly("status", &status_of)
      .def_property_readonly("models", &models_of)
      .def("predict", &predictions_of, py::arg("voltage"), py::arg("level"), py::arg("new_reading"),
           py::arg("weight") = py::none());
  module.def(
      "fit_draw",
      [](table voltage, table current, table rated_voltage, std::optional<table> voltage_u,
         std::optional<table> current_u, std::optional<table> weights, bool batch, const std::string& model,
         bool robust, bool absolute_sigma, int threads, const std::optional<std::string>& instruction_set) {
        const draw_arrays in{voltage, current, rated_voltage, voltage_u, current_u, weights};
        fit::table_options options{
            .family = family_named(model), .robust = robust, .absolute = absolute_sigma, .threads = threads};
        if (const auto set = set_named(instruction_set)) options.set = *set;
        const auto readings = table_of(in, batch);
        const py::gil_scoped_release unlocked;
        return fit::fit_curves(readings, options);
      },
      py::arg("voltage"), py::arg("current"), py::arg("rated_voltage"), py::kw_only(), py::arg("voltage_u"),
      py::arg("current_u"), py::arg("weights"), py::arg("batch"), py::arg("model"), py::arg("robust"),
      py::arg("absolute_sigma"), py::arg("threads"), py::arg("instruction_set") = py::none());
  module.def(
      "profile_draw",
      [](const fitted& of, table voltage, table current, table rated_voltage, std::optional<table> voltage_u,
         std::optional<table> current_u, std::optional<table> weights, bool batch, bool robust, double level,
         int threads) {
        const draw_arrays in{voltage, current, rated_voltage, voltage_u, current_u, weights};
        return profiles_of(of, in, batch, {.robust = robust, .threads = threads}, level);
      },
      py::arg("fitted"), py::arg("voltage"), py::arg("current"), py::arg("rated_voltage"), py::kw_only(),
      py::arg("voltage_u"), py::arg("current_u"), py::arg("weights"), py::arg("batch"), py::arg("robust"),
      py::arg("level"), py::arg("threads"));
  module.def("instruction_sets", &set_names);
}

}  // namespace rewound::python
