// SPDX-License-Identifier: MIT
#include <rewound/job/expected_band.hpp>

#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/job/learn.hpp>
#include <rewound/measurement/distribution.hpp>

namespace rewound::job {

namespace {

/// P(|T| > t) of Student's t.
double beyond(double t, double dof) { return measurement::fisher_tail(t * t, 1.0, dof); }

}  // namespace

double one_more_machine_factor(double level, std::size_t machines, const verdict::policy& policy) {
  const double dof = between_machines(policy).weight + static_cast<double>(machines) - 1.0;
  const double wider = doubt_of_spread(machines, policy);
  double low = measurement::coverage_factor(level, dof);
  double high = low * checks::wider_spread;
  constexpr int halvings = 50;
  for (int i = 0; i < halvings; ++i) {
    const double middle = 0.5 * (low + high);
    const double outside = (1.0 - wider) * beyond(middle, dof) + wider * beyond(middle / checks::wider_spread, dof);
    (outside > 1.0 - level ? low : high) = middle;
  }
  return high;
}

std::vector<current_band> expect_band(const reference& good, const std::string& speed,
                                      const std::vector<units::voltage>& voltages, double level,
                                      const reading_meters& meters, const verdict::policy& policy) {
  base::expect(level > 0.0 && level < 1.0, "level", level, "a number between 0 and 1");
  const auto pooled = pool_reference(good, between_machines(policy));
  const auto place = pooled.place_of(speed, fit::channel::current);
  if (!place)
    throw base::error(base::error_code::not_a_choice, {"", 0, "speed"}, "\"" + speed + "\"",
                      "a speed of the reference");
  checks::expected_current_input input{pooled.population, pooled.shapes[*place], static_cast<Eigen::Index>(3 * *place)};
  input.ammeter_uncertainty = meters.ammeter;
  input.voltmeter_uncertainty = meters.voltmeter;
  const double factor = one_more_machine_factor(level, pooled.population.units, policy);
  std::vector<current_band> out;
  for (const auto& voltage : voltages) {
    input.x = voltage.value() / good.rated_voltage_V;
    const auto expected = checks::expected_current(input);
    const auto value = units::amperes(std::exp(expected.log_value));
    const double wide = std::exp(factor * expected.log_uncertainty);
    out.push_back({value, value / wide, value * wide});
  }
  return out;
}

}  // namespace rewound::job
