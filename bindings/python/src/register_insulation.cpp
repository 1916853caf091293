// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/number_text.hpp>
#include <rewound/base/parallel.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/absorption.hpp>
#include <rewound/checks/insulation.hpp>
#include <rewound/job/insulation.hpp>
#include <rewound/job/trend.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/report/trend.hpp>
#include <rewound/report/wording.hpp>
#include <rewound/verdict/rules/tested_circuit.hpp>

#include "judging_from_python.hpp"
#include "registers.hpp"

namespace rewound::python {

namespace {

using table = py::array_t<double, py::array::c_style>;

constexpr double absent = std::numeric_limits<double>::quiet_NaN();

/// The curves of one call, in the order given.
struct absorption_curves {
  std::vector<checks::absorption_result> curves;
};

std::string digits_of(double value) { return base::general_digits(value, 6); }

void expect_positive(double value, const std::string& name) {
  base::expect(std::isfinite(value) && value > 0.0, name.c_str(), digits_of(value), "a finite number above 0");
}

/// One curve's readings; a batch leaves out those whose time or resistance is not a number.
checks::absorption_input readings_of(const table& time, const table& resistance, const table& volts,
                                     const table& uncertainty, bool batch, bool absolute_sigma, py::ssize_t row) {
  const auto at = [&](const char* name, py::ssize_t i) {
    return std::string(name) + "[" + (batch ? std::to_string(row) + ", " : "") + std::to_string(i) + "]";
  };
  expect_positive(volts.at(row), batch ? "test_voltage_V[" + std::to_string(row) + "]" : "test_voltage_V");
  checks::absorption_input out{{}, units::volts(volts.at(row)), absolute_sigma};
  for (py::ssize_t i = 0; i < time.shape(1); ++i) {
    if (batch && (std::isnan(time.at(row, i)) || std::isnan(resistance.at(row, i)))) continue;
    expect_positive(time.at(row, i), at("time_s", i));
    expect_positive(resistance.at(row, i), at("resistance_Mohm", i));
    expect_positive(uncertainty.at(row, i), at("resistance_u", i));
    out.readings.push_back({units::seconds(time.at(row, i)), units::megohms(resistance.at(row, i)),
                            uncertainty.at(row, i) / resistance.at(row, i)});
  }
  return out;
}

absorption_curves fit_all(const table& time, const table& resistance, const table& volts, const table& uncertainty,
                          bool batch, bool absolute_sigma, int threads) {
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  std::vector<checks::absorption_input> inputs;
  for (py::ssize_t row = 0; row < time.shape(0); ++row)
    inputs.push_back(readings_of(time, resistance, volts, uncertainty, batch, absolute_sigma, row));
  absorption_curves out;
  out.curves.resize(inputs.size());
  const py::gil_scoped_release unlocked;
  base::for_each_index(inputs.size(), threads, [&](std::size_t i) { out.curves[i] = checks::absorption(inputs[i]); });
  return out;
}

table absorption_parameters(const absorption_curves& self) {
  table out({static_cast<py::ssize_t>(self.curves.size()), py::ssize_t{3}});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < cell.shape(0); ++i) {
    const auto& curve = self.curves[static_cast<std::size_t>(i)];
    cell(i, 0) = 1e6 * units::in_amperes(curve.leakage);
    cell(i, 1) = 1e6 * units::in_amperes(curve.absorption);
    cell(i, 2) = curve.exponent;
  }
  return out;
}

table absorption_covariances(const absorption_curves& self) {
  table out({static_cast<py::ssize_t>(self.curves.size()), py::ssize_t{3}, py::ssize_t{3}});
  auto cell = out.mutable_unchecked<3>();
  const auto unit = [](py::ssize_t i) { return i < 2 ? 1e6 : 1.0; };
  for (py::ssize_t i = 0; i < cell.shape(0); ++i)
    for (py::ssize_t j = 0; j < 3; ++j)
      for (py::ssize_t k = 0; k < 3; ++k)
        cell(i, j, k) = self.curves[static_cast<std::size_t>(i)].covariance(j, k) * unit(j) * unit(k);
  return out;
}

double coverage_of(double level) {
  base::expect(level > 0.0 && level < 1.0, "level", digits_of(level), "a number between 0 and 1");
  return measurement::coverage_factor(level);
}

/// Value, low and high of each curve at each time, stacked: (3, n_curves, n_times).
table absorption_predictions(const absorption_curves& self, const table& time, double level) {
  const double coverage = coverage_of(level);
  const auto count = static_cast<py::ssize_t>(self.curves.size());
  table out({py::ssize_t{3}, count, time.shape(1)});
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < count; ++i)
    for (py::ssize_t j = 0; j < time.shape(1); ++j) {
      const auto& curve = self.curves[static_cast<std::size_t>(i)];
      expect_positive(time.at(i, j), "time_s");
      cell(0, i, j) = cell(1, i, j) = cell(2, i, j) = absent;
      if (!curve.usable()) continue;
      const auto there = checks::predicted_resistance(curve, units::seconds(time.at(i, j)), coverage);
      cell(0, i, j) = units::in_megohms(there.value);
      cell(1, i, j) = units::in_megohms(there.range.low);
      cell(2, i, j) = units::in_megohms(there.range.high);
    }
  return out;
}

/// Value, low and high of each curve's ratio, stacked: (3, n_curves).
table absorption_ratios(const absorption_curves& self, double later, double earlier, double level) {
  const double coverage = coverage_of(level);
  expect_positive(earlier, "earlier_s");
  base::expect(std::isfinite(later) && later > earlier, "later_s", digits_of(later), "a time after earlier_s");
  table out({py::ssize_t{3}, static_cast<py::ssize_t>(self.curves.size())});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < cell.shape(1); ++i) {
    const auto& curve = self.curves[static_cast<std::size_t>(i)];
    cell(0, i) = cell(1, i) = cell(2, i) = absent;
    if (!curve.usable()) continue;
    const auto ratio = checks::predicted_ratio(curve, units::seconds(later), units::seconds(earlier), coverage);
    cell(0, i) = ratio.value;
    cell(1, i) = ratio.range.low;
    cell(2, i) = ratio.range.high;
  }
  return out;
}

/// Low and high of each curve's leakage [uA], absorption [uA] and exponent, stacked: (2, n_curves, 3).
table absorption_profiles(const absorption_curves& self, double level) {
  const double coverage = coverage_of(level);
  table out({py::ssize_t{2}, static_cast<py::ssize_t>(self.curves.size()), py::ssize_t{3}});
  auto cell = out.mutable_unchecked<3>();
  for (py::ssize_t i = 0; i < cell.shape(1); ++i) {
    const auto& curve = self.curves[static_cast<std::size_t>(i)];
    for (py::ssize_t j = 0; j < 3; ++j) cell(0, i, j) = cell(1, i, j) = absent;
    if (!curve.usable()) continue;
    const auto found = checks::parameter_ranges(curve, coverage);
    cell(0, i, 0) = 1e6 * units::in_amperes(found.leakage.low);
    cell(1, i, 0) = 1e6 * units::in_amperes(found.leakage.high);
    cell(0, i, 1) = 1e6 * units::in_amperes(found.absorption.low);
    cell(1, i, 1) = 1e6 * units::in_amperes(found.absorption.high);
    cell(0, i, 2) = found.exponent.low;
    cell(1, i, 2) = found.exponent.high;
  }
  return out;
}

/// Findings of one record as dicts with the keys of the result's JSON.
py::list rows_of(const std::vector<verdict::finding>& findings) {
  py::list out;
  for (const auto& f : findings) {
    py::dict row;
    row["check"] = std::string(verdict::name(f.check));
    row["outcome"] = std::string(verdict::name(f.outcome));
    row["quantity"] = f.quantity;
    row["value"] = f.value;
    row["low"] = f.low;
    row["high"] = f.high;
    row["limit_low"] = f.limit_low;
    row["source"] = f.source;
    row["message"] = report::sentence(f);
    row["decides"] = f.bearing == verdict::bearing::decides;
    out.append(row);
  }
  return out;
}

py::list judge_insulation(const std::vector<record::visit_record>& records, const py::object& policy, int threads) {
  base::expect(threads >= 1 && threads <= 1024, "threads", std::to_string(threads), "a whole number from 1 to 1024");
  const auto rules = policy_from_python(policy);
  std::vector<std::vector<verdict::finding>> found(records.size());
  {
    const py::gil_scoped_release unlocked;
    base::for_each_index(records.size(), threads,
                         [&](std::size_t i) { found[i] = job::insulation_findings(records[i], rules); });
  }
  py::list out;
  for (const auto& findings : found) out.append(rows_of(findings));
  return out;
}

double corrected_to_40_C(double megohm, double winding_C, bool thermoplastic) {
  base::expect(std::isnan(megohm) || megohm > 0.0, "resistance_Mohm", digits_of(megohm), "a number above 0");
  if (std::isnan(winding_C)) return absent;
  base::expect(winding_C >= -60.0 && winding_C <= 400.0, "winding_C", digits_of(winding_C),
               "a temperature from -60 to 400 degC");
  return megohm * checks::factor_to_40_C(units::celsius(winding_C), thermoplastic
                                                                        ? record::insulation_system::thermoplastic
                                                                        : record::insulation_system::thermosetting);
}

constexpr std::array winding_kinds{std::pair{"random_wound", record::winding_kind::random_wound},
                                   std::pair{"form_wound", record::winding_kind::form_wound},
                                   std::pair{"field", record::winding_kind::field},
                                   std::pair{"armature", record::winding_kind::armature}};

/// @param year  not a number where it is not known
/// @param kind  place among the words of winding_kind; -1 where it is not known
double insulation_minimum(double rated_V, double year, int kind, const verdict::policy& rules) {
  expect_positive(rated_V, "rated_voltage_V");
  record::machine_section of;
  of.rated_voltage_V = rated_V;
  if (kind >= 0) of.winding_kind = winding_kinds.at(static_cast<std::size_t>(kind)).second;
  const auto wound_year = std::isnan(year) ? std::nullopt : std::optional{static_cast<int>(year)};
  return verdict::rules::insulation_minimum(of, wound_year, rules).value;
}

/// One number or word of each curve.
template <class Value, class Take>
std::vector<Value> of_each_curve(const absorption_curves& self, const Take& take) {
  std::vector<Value> out;
  for (const auto& curve : self.curves) out.emplace_back(take(curve));
  return out;
}

}  // namespace

void register_insulation(py::module_& module) {
  py::class_<absorption_curves>(module, "AbsorptionCurves", "Curves as fitted; rewound.AbsorptionFit shows them.")
      .def_property_readonly("params", &absorption_parameters)
      .def_property_readonly("covariance", &absorption_covariances)
      .def_property_readonly("chi2",
                             [](const absorption_curves& self) {
                               return of_each_curve<double>(self, [](const auto& curve) { return curve.chi2; });
                             })
      .def_property_readonly("degrees_of_freedom",
                             [](const absorption_curves& self) {
                               return of_each_curve<int>(self,
                                                         [](const auto& curve) { return curve.degrees_of_freedom; });
                             })
      .def_property_readonly("scale",
                             [](const absorption_curves& self) {
                               return of_each_curve<double>(self, [](const auto& curve) { return curve.scale; });
                             })
      .def_property_readonly("status",
                             [](const absorption_curves& self) {
                               return of_each_curve<std::string>(
                                   self, [](const auto& curve) { return checks::name(curve.status); });
                             })
      .def("predict", &absorption_predictions, py::arg("time_s"), py::arg("level"))
      .def("ratio", &absorption_ratios, py::arg("later_s"), py::arg("earlier_s"), py::arg("level"))
      .def("profile", &absorption_profiles, py::arg("level"));
  module.def("fit_absorption", &fit_all, py::arg("time_s"), py::arg("resistance_Mohm"), py::arg("test_voltage_V"),
             py::arg("resistance_u"), py::kw_only(), py::arg("batch"), py::arg("absolute_sigma"), py::arg("threads"));
  module.def("judge_insulation", &judge_insulation, py::arg("records"), py::arg("policy").none(true),
             py::arg("threads"));
  module.def("correct_insulation", py::vectorize(corrected_to_40_C));
  module.def(
      "insulation_minimum",
      [](const py::array_t<double>& rated, const py::array_t<double>& year, const py::array_t<int>& kind,
         const py::object& policy) {
        const auto rules = policy_from_python(policy);
        return py::vectorize([&rules](double V, double y, int k) { return insulation_minimum(V, y, k, rules); })(
            rated, year, kind);
      },
      py::arg("rated_voltage_V"), py::arg("wound_year"), py::arg("winding_kind"), py::arg("policy").none(true));
  module.def("winding_kinds", [] {
    std::vector<std::string> out;
    for (const auto& each : winding_kinds) out.emplace_back(each.first);
    return out;
  });
  py::class_<job::trend_result>(module, "InsulationTrend", "A trend as computed; rewound.Trend shows it.")
      .def("to_json", &report::trend_json, py::call_guard<py::gil_scoped_release>())
      .def("to_text", &report::trend_text, py::call_guard<py::gil_scoped_release>());
  module.def(
      "trend",
      [](const std::vector<record::visit_record>& records, const py::object& policy) {
        const auto rules = policy_from_python(policy);
        const py::gil_scoped_release unlocked;
        return job::trend(records, rules);
      },
      py::arg("records"), py::arg("policy").none(true));
}

}  // namespace rewound::python
