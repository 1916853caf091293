// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string_view>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/rise.hpp>
#include <rewound/machine/curve_shapes.hpp>
#include <rewound/measurement/normal.hpp>

namespace rewound::checks {

namespace detail {

/// Exponents of one kind of curve between the rated voltage and another: normal.
struct usual_exponents {
  double weight, mean, spread;
};

/// A real machine's exponent may lie this far from the simulated kinds' (common practice, no source).
inline constexpr double kinds_miss_by = 0.3;

inline std::vector<usual_exponents> exponents_between(double z, bool bare_shaft) {
  const std::string_view wanted = bare_shaft ? "bare_" : "loaded_";
  const auto functions = machine::shape_functions_at(z);
  std::vector<usual_exponents> out;
  double total = 0.0;
  for (const auto& kind : machine::curve_kinds()) {
    if (!kind.name.starts_with(wanted)) continue;
    double mean = 0.0, square = 0.0;
    for (std::size_t i = 0; i < machine::shape_function_count; ++i) {
      mean += kind.mean[i] * functions.values[i];
      double along = 0.0;
      for (std::size_t j = 0; j < machine::shape_function_count; ++j) along += kind.factor[j][i] * functions.values[j];
      square += along * along;
    }
    out.push_back({kind.weight, mean / z, std::hypot(std::sqrt(square) / z, kinds_miss_by)});
    total += kind.weight;
  }
  for (auto& each : out) each.weight /= total;
  return out;
}

inline double share_above(const std::vector<usual_exponents>& kinds, double exponent, double uncertainty) {
  double out = 0.0;
  for (const auto& kind : kinds)
    out += kind.weight * measurement::normal_probability((kind.mean - exponent) / std::hypot(kind.spread, uncertainty));
  return out;
}

}  // namespace detail

REWOUND_INLINE rise_result rise(const rise_input& in) {
  const double ratio = (in.higher / in.rated_voltage).value();
  base::expect(ratio > 1.0, "higher", in.higher.value(), "a voltage above the rated one");
  const auto kinds = detail::exponents_between(std::log(ratio), in.bare_shaft);
  rise_result out{in.exponent};
  out.probability = detail::share_above(kinds, in.exponent.value, in.exponent.standard_uncertainty);
  for (const auto& kind : kinds) out.usual += kind.weight * kind.mean;
  constexpr double one_of_a_hundred = 0.01;
  double low = -5.0, high = 20.0;
  for (int halving = 0; halving < 50; ++halving) {
    const double middle = 0.5 * (low + high);
    (detail::share_above(kinds, middle, 0.0) > one_of_a_hundred ? low : high) = middle;
  }
  out.most = high;
  return out;
}

}  // namespace rewound::checks
