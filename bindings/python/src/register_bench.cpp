// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <limits>
#include <string>
#include <vector>

#include <rewound/checks/no_load.hpp>
#include <rewound/checks/rolled_leads.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/checks/unbalance.hpp>
#include <rewound/measurement/binomial.hpp>
#include <rewound/verdict/rules/unbalance.hpp>

#include "arguments.hpp"
#include "registers.hpp"

// Starts, losses at no load, unbalance of three phases.
namespace rewound::python {

namespace {

using bench_table = py::array_t<double, py::array::c_style>;
using numbers = std::vector<double>;

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();

int count_of(double value, const std::string& name, double least, double most) {
  base::expect(value >= least && value <= most && std::floor(value) == value, name.c_str(), shown_digits(value),
               ("a whole number from " + shown_digits(least) + " to " + shown_digits(most)).c_str());
  return static_cast<int>(value);
}

constexpr double most_starts = 1e6;

/// Share, one-sided bound, interval's ends, clean starts needed, further starts: stacked, (6, n).
bench_table starts(const bench_table& attempts, const bench_table& successes, double level, double claimed) {
  bench_table out({py::ssize_t{6}, attempts.size()});
  auto cell = out.mutable_unchecked<2>();
  for (py::ssize_t i = 0; i < attempts.size(); ++i) {
    const int n = count_of(attempts.at(i), "attempts[" + std::to_string(i) + "]", 1, most_starts);
    const int k = count_of(successes.at(i), "successes[" + std::to_string(i) + "]", 0, n);
    const auto proved = checks::starting({n, k, level, claimed});
    const numbers column{proved.share,
                         proved.reliability_low,
                         proved.reliability.low,
                         proved.reliability.high,
                         1.0 * proved.clean_starts_needed,
                         proved.further_starts ? 1.0 * *proved.further_starts : no_number};
    for (py::ssize_t row = 0; row < 6; ++row) cell(row, i) = column[static_cast<std::size_t>(row)];
  }
  return out;
}

py::object positions(const numbers& attempts, const numbers& successes, double level) {
  std::vector<checks::counted_starts> counts;
  for (std::size_t i = 0; i < attempts.size(); ++i) {
    const int n = count_of(attempts[i], "attempts[" + std::to_string(i) + "]", 1, most_starts);
    counts.push_back({n, count_of(successes[i], "successes[" + std::to_string(i) + "]", 0, n)});
  }
  const auto found = checks::start_positions(counts);
  if (!found) return py::none();
  const auto& here = counts[found->worst];
  const auto between = measurement::difference_of_proportions(here.successes, here.attempts, found->others.successes,
                                                              found->others.attempts, level_of(level));
  return py::make_tuple(found->worst, found->probability, found->comparisons,
                        static_cast<double>(here.successes) / here.attempts -
                            static_cast<double>(found->others.successes) / found->others.attempts,
                        between.low, between.high);
}

/// Rows of readings: volts, amperes, watts, and the standard uncertainty of each.
py::tuple no_load(const bench_table& rows, double rated_V, double ohm, double ohm_u, double gain_u, double straight_to,
                  double near_rating, double exponent_low, double exponent_high) {
  expect_above_zero(rated_V, "rated_voltage_V");
  for (const double value : {ohm, ohm_u, gain_u}) expect_from_zero(value, "loss_resistance_ohm, loss_u, power_gain_u");
  for (const double value : {straight_to, near_rating}) expect_above_zero(value, "straight_to, near_rating");
  base::expect(exponent_low >= 1.0 && exponent_high >= exponent_low && exponent_high <= 3.0, "core_exponent",
               shown_digits(exponent_low) + " to " + shown_digits(exponent_high),
               "two numbers from 1 to 3 that do not fall");
  checks::no_load_input in{.readings = {},
                           .rated_voltage = units::volts(rated_V),
                           .loss_resistance = units::ohms(ohm),
                           .loss_uncertainty = ohm_u,
                           .power_gain_uncertainty = gain_u,
                           .straight_to = straight_to,
                           .near_rating = near_rating,
                           .exponent_low = exponent_low,
                           .exponent_high = exponent_high};
  for (py::ssize_t i = 0; i < rows.shape(1); ++i) {
    const std::string place = "[" + std::to_string(i) + "]";
    expect_above_zero(rows.at(0, i), "voltage_V" + place);
    expect_above_zero(rows.at(1, i), "current_A" + place);
    expect_above_zero(rows.at(2, i), "power_W" + place);
    expect_from_zero(rows.at(3, i), "voltage_u_V" + place);
    expect_from_zero(rows.at(4, i), "current_u_A" + place);
    expect_above_zero(rows.at(5, i), "power_u_W" + place);
    in.readings.push_back({units::volts(rows.at(0, i)), units::amperes(rows.at(1, i)), units::watts(rows.at(2, i)),
                           units::volts(rows.at(3, i)), units::amperes(rows.at(4, i)), units::watts(rows.at(5, i))});
  }
  const auto out = checks::no_load(in);
  constexpr std::array<const char*, 4> names{"separated", "too_few", "not_told", "below_nothing"};
  const bool told = out.status != checks::no_load_status::too_few;
  return py::make_tuple(names[static_cast<std::size_t>(out.status)], out.used, told ? out.from.value() : no_number,
                        told ? out.to.value() : no_number, told ? out.friction_and_windage.value.value() : no_number,
                        told ? out.friction_and_windage.standard_uncertainty.value() : no_number,
                        out.core ? out.core->value.value() : no_number,
                        out.core ? out.core->standard_uncertainty.value() : no_number,
                        out.core ? out.core_at.value() : no_number);
}

std::array<units::current, 3> three(const numbers& lines, const char* name) {
  for (const double value : lines) expect_from_zero(value, name);
  return {{units::amperes(lines.at(0)), units::amperes(lines.at(1)), units::amperes(lines.at(2))}};
}

bench_table unbalance(const bench_table& lines) {
  bench_table out(lines.shape(0));
  for (py::ssize_t i = 0; i < lines.shape(0); ++i) {
    const numbers row{lines.at(i, 0), lines.at(i, 1), lines.at(i, 2)};
    base::expect(*std::max_element(row.begin(), row.end()) > 0.0, "lines", "three times 0",
                 "three values, not all of them 0");
    out.mutable_at(i) = checks::unbalance_percent(three(row, "lines"));
  }
  return out;
}

py::tuple rolled(const numbers& before, const numbers& after, int shift, double current_u) {
  expect_from_zero(current_u, "current_u_A");
  const auto out =
      checks::rolled_leads({three(before, "before_A"), three(after, "after_A"), shift, units::amperes(current_u)});
  const auto list = [](const std::array<double, 3>& three) { return numbers(three.begin(), three.end()); };
  return py::make_tuple(list(out.winding), list(out.line), out.winding_percent.value, out.line_percent.value,
                        out.winding_percent.standard_uncertainty);
}

double derating(double percent) {
  expect_from_zero(percent, "unbalance_percent");
  return verdict::rules::voltage_unbalance_derating(percent).value_or(no_number);
}

}  // namespace

void register_bench(py::module_& module) {
  module.def("starts", &starts);
  module.def("compare_positions", &positions);
  module.def("no_load", &no_load);
  module.def("unbalance_percent", &unbalance);
  module.def("rolled_leads", &rolled);
  module.def("voltage_unbalance_derating", py::vectorize(derating));
}

}  // namespace rewound::python
