// SPDX-License-Identifier: MIT
#include <optional>
#include <string>
#include <vector>

#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/cooling.hpp>
#include <rewound/checks/heat_run.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/units/rotation.hpp>

#include "arguments.hpp"
#include "registers.hpp"

// Coast-down and heat run: one curve a call.
namespace rewound::python {

namespace {

using numbers = std::vector<double>;

checks::coast_down_input coast_down_of(const numbers& time, const numbers& rpm, double rpm_u, double time_u,
                                       std::optional<double> compare_at, bool absolute_sigma) {
  expect_rising(time, "time_s");
  expect_finite(rpm, "speed_rpm");
  for (std::size_t i = 0; i < rpm.size(); ++i) expect_from_zero(rpm[i], "speed_rpm[" + std::to_string(i) + "]");
  expect_above_zero(rpm_u, "speed_u_rpm");
  expect_from_zero(time_u, "time_u_s");
  if (compare_at) expect_above_zero(*compare_at, "compare_at_rpm");
  checks::coast_down_input in{{}, units::rpm(rpm_u), units::seconds(time_u), {}, absolute_sigma};
  if (compare_at) in.compare_at = units::rpm(*compare_at);
  for (std::size_t i = 0; i < time.size(); ++i) in.readings.push_back({units::seconds(time[i]), units::rpm(rpm[i])});
  return in;
}

checks::coast_down_result coast_down(const numbers& time, const numbers& rpm, double rpm_u, double time_u,
                                     std::optional<double> compare_at, bool absolute_sigma) {
  return checks::coast_down(coast_down_of(time, rpm, rpm_u, time_u, compare_at, absolute_sigma));
}

/// Low and high ends of the three terms.
std::vector<std::pair<double, double>> coast_down_profile(const checks::coast_down_result& found, const numbers& time,
                                                          const numbers& rpm, double rpm_u, double time_u,
                                                          std::optional<double> compare_at, bool absolute_sigma,
                                                          double level) {
  const auto in = coast_down_of(time, rpm, rpm_u, time_u, compare_at, absolute_sigma);
  std::vector<std::pair<double, double>> out;
  for (const auto& ends : checks::coast_down_profile(in, found, level)) out.emplace_back(ends.low, ends.high);
  return out;
}

double coasting_rpm(const checks::coast_down_result& self, double time_s) {
  if (self.status != checks::coast_down_status::fitted) return std::numeric_limits<double>::quiet_NaN();
  if (time_s >= checks::coasting_time(self.initial, self.terms)) return 0.0;
  return units::in_rpm(units::angular_velocity::from_value(checks::coasting_speed(self.initial, self.terms, time_s)));
}

numbers terms_of(const checks::coast_down_result& self) {
  return {self.terms.constant, self.terms.linear, self.terms.quadratic};
}

py::array_t<double> covariance_of(const checks::coast_down_result& self) {
  py::array_t<double> out({3, 3});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < 3; ++i)
    for (py::ssize_t j = 0; j < 3; ++j) cell(i, j) = self.covariance(i, j);
  return out;
}

template <bool Uncertainty>
numbers parts_of(const checks::coast_down_result& self) {
  numbers out;
  for (const auto& part : self.parts) out.push_back(Uncertainty ? part.standard_uncertainty : part.value);
  return out;
}

checks::heat_run_result heat_run(const numbers& time, const numbers& rise, const numbers& rise_u, double usual_s,
                                 double factor, double certainty, double known_K, double steady_K, double fast_from_s,
                                 double fast_to_s, double fast_share, bool absolute) {
  expect_rising(time, "time_s");
  expect_finite(rise, "rise_K");
  expect_above_zero(usual_s, "time_constant_s");
  expect_above_zero(known_K, "known_within_K");
  expect_above_zero(steady_K, "steady_within_K");
  base::expect(std::isfinite(factor) && factor > 1.0, "time_constant_factor", shown_digits(factor),
               "a finite number above 1");
  checks::heat_run_input in{{},
                            units::seconds(usual_s),
                            factor,
                            certainty,
                            units::kelvins(known_K),
                            units::kelvins(steady_K),
                            {units::seconds(fast_from_s), units::seconds(fast_to_s), fast_share}};
  base::expect(fast_share >= 0.0 && fast_share < 1.0, "fast_share", shown_digits(fast_share),
               "a number from 0, below 1");
  expect_above_zero(fast_from_s, "fast_from_s");
  base::expect(std::isfinite(fast_to_s) && fast_to_s > fast_from_s, "fast_to_s", shown_digits(fast_to_s),
               "a finite number above fast_from_s");
  for (std::size_t i = 0; i < time.size(); ++i) {
    expect_above_zero(rise_u[i], "rise_u_K[" + std::to_string(i) + "]");
    in.readings.push_back({units::seconds(time[i]), units::kelvins(rise[i]), units::kelvins(rise_u[i])});
  }
  in.absolute = absolute;
  return checks::heat_run(in);
}

std::optional<double> seconds_of(const std::optional<units::duration>& more) {
  if (!more) return std::nullopt;
  return units::in_seconds(*more);
}

const checks::heat_mixture& projected(const checks::heat_run_result& self) {
  base::expect(self.status == checks::heat_run_status::projected, "status", std::string(checks::name(self.status)),
               "projected");
  return self.final_rise;
}

/// Median, low and high at some times, stacked: (3, n).
py::array_t<double> rises_at(const checks::heat_run_result& run, const numbers& time, double level) {
  projected(run);
  const double tail = 0.5 - 0.5 * level_of(level);
  const auto count = static_cast<py::ssize_t>(time.size());
  py::array_t<double> out({py::ssize_t{3}, count});
  for (py::ssize_t i = 0; i < count; ++i) {
    const auto rise = checks::rise_at(run, units::seconds(time[static_cast<std::size_t>(i)]));
    out.mutable_at(0, i) = rise.quantile(0.5);
    out.mutable_at(1, i) = rise.quantile(tail);
    out.mutable_at(2, i) = rise.quantile(1.0 - tail);
  }
  return out;
}

checks::cooling_result cooling(const numbers& time, const numbers& ohm, double ambient_ohm, double ohm_u) {
  expect_rising(time, "time_s");
  base::expect(!ohm.empty(), "resistance_ohm", "no reading", "one or more");
  for (std::size_t i = 0; i < ohm.size(); ++i) expect_above_zero(ohm[i], "resistance_ohm[" + std::to_string(i) + "]");
  expect_above_zero(ambient_ohm, "ambient_ohm");
  expect_above_zero(ohm_u, "resistance_u_ohm");
  checks::cooling_input in{{}, units::ohms(ambient_ohm), units::ohms(ohm_u)};
  for (std::size_t i = 0; i < time.size(); ++i) in.readings.push_back({units::seconds(time[i]), units::ohms(ohm[i])});
  return checks::cooling(in);
}

double rise(double cold_ohm, double cold_C, double hot_ohm, double ambient_C, bool aluminium, double copper_K) {
  expect_above_zero(cold_ohm, "cold_ohm");
  expect_above_zero(hot_ohm, "hot_ohm");
  expect_above_zero(copper_K, "copper_constant_K");
  for (const double t : {cold_C, ambient_C})
    base::expect(std::isfinite(t) && t > -200.0 && t < 1000.0, "temperature_C", shown_digits(t),
                 "a temperature from -200 to 1000 degC");
  const auto material = aluminium ? record::conductor_material::aluminium : record::conductor_material::copper;
  return units::in_kelvins(machine::rise_by_resistance(units::ohms(cold_ohm), units::celsius(cold_C),
                                                       units::ohms(hot_ohm), units::celsius(ambient_C), material,
                                                       copper_K));
}

void register_coast_down(py::module_& module) {
  using result = checks::coast_down_result;
  py::class_<result>(module, "CoastDownCurve", "A coast-down as fitted; rewound.CoastDown shows it.")
      .def_property_readonly("status", [](const result& self) { return std::string(checks::name(self.status)); })
      .def_property_readonly("terms", &terms_of)
      .def_property_readonly("covariance", &covariance_of)
      .def_property_readonly(
          "fitted", [](const result& self) { return std::vector<bool>(self.fitted.begin(), self.fitted.end()); })
      .def_property_readonly("compare_at", [](const result& self) { return self.compare_at; })
      .def_property_readonly("initial", [](const result& self) { return self.initial; })
      .def_property_readonly("deceleration", [](const result& self) { return self.deceleration.value; })
      .def_property_readonly("deceleration_u",
                             [](const result& self) { return self.deceleration.standard_uncertainty; })
      .def_property_readonly("parts", &parts_of<false>)
      .def_property_readonly("parts_u", &parts_of<true>)
      .def_property_readonly("stop_s", [](const result& self) { return self.stop_s; })
      .def_property_readonly("chi2", [](const result& self) { return self.chi2; })
      .def_property_readonly("scale", [](const result& self) { return self.scale; })
      .def(
          "speed",
          [](const result& self, const py::array_t<double>& time) {
            return py::vectorize([&self](double t) { return coasting_rpm(self, t); })(time);
          },
          py::arg("time_s"));
  module.def("fit_coast_down", &coast_down, py::arg("time_s"), py::arg("speed_rpm"), py::arg("speed_u_rpm"),
             py::arg("time_u_s"), py::arg("compare_at_rpm").none(true), py::arg("absolute_sigma"));
  module.def("profile_coast_down", &coast_down_profile, py::arg("curve"), py::arg("time_s"), py::arg("speed_rpm"),
             py::arg("speed_u_rpm"), py::arg("time_u_s"), py::arg("compare_at_rpm").none(true),
             py::arg("absolute_sigma"), py::kw_only(), py::arg("level"));
}

void register_heat_run(py::module_& module) {
  using result = checks::heat_run_result;
  py::class_<result>(module, "HeatRun", "A heat run as projected; rewound.HeatProjection shows it.")
      .def_property_readonly("status", [](const result& self) { return std::string(checks::name(self.status)); })
      .def_property_readonly("time_constants",
                             [](const result& self) {
                               numbers out;
                               for (const auto& each : self.time_constants) out.push_back(units::in_seconds(each));
                               return out;
                             })
      .def_property_readonly("slow_time_constant",
                             [](const result& self) { return units::in_seconds(self.slow_time_constant); })
      .def_property_readonly("at_end", [](const result& self) { return units::in_kelvins(self.at_end); })
      .def_property_readonly("change_in_30_min",
                             [](const result& self) { return units::in_kelvins(self.change_in_30_min); })
      .def_property_readonly("steady_after", [](const result& self) { return seconds_of(self.steady_after); })
      .def_property_readonly("known_after", [](const result& self) { return seconds_of(self.known_after); })
      .def_property_readonly("chi2", [](const result& self) { return self.chi2; })
      .def_property_readonly("scale", [](const result& self) { return self.scale; })
      .def(
          "quantile",
          [](const result& self, double probability, double further_u_K) {
            return projected(self).quantile(level_of(probability), further_u_K);
          },
          py::arg("probability"), py::arg("further_u_K"))
      .def(
          "probability_below",
          [](const result& self, double kelvins, double further_u_K) {
            return projected(self).probability_below(kelvins, further_u_K);
          },
          py::arg("rise_K"), py::arg("further_u_K"))
      .def("rises", &rises_at, py::arg("time_s"), py::arg("level"));
  module.def("project_heat_run", &heat_run, py::arg("time_s"), py::arg("rise_K"), py::arg("rise_u_K"), py::kw_only(),
             py::arg("time_constant_s"), py::arg("time_constant_factor"), py::arg("two_parts_certainty"),
             py::arg("known_within_K"), py::arg("steady_within_K"), py::arg("fast_from_s"), py::arg("fast_to_s"),
             py::arg("fast_share"), py::arg("absolute_sigma"));
}

}  // namespace

void register_running(py::module_& module) {
  register_coast_down(module);
  register_heat_run(module);
  module.def(
      "switch_off",
      [](const numbers& time, const numbers& ohm, double ambient_ohm, double ohm_u) {
        const auto out = cooling(time, ohm, ambient_ohm, ohm_u);
        return py::make_tuple(std::string(checks::name(out.status)), units::in_ohms(out.at_switch_off.value),
                              units::in_ohms(out.at_switch_off.standard_uncertainty),
                              units::in_seconds(out.time_constant));
      },
      py::arg("time_s"), py::arg("resistance_ohm"), py::arg("ambient_ohm"), py::arg("resistance_u_ohm"));
  module.def("rise_by_resistance", py::vectorize(rise));
}

}  // namespace rewound::python
