// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <cmath>

#include <oracle_table.hpp>
#include <rewound/measurement/binomial.hpp>
#include <rewound/measurement/conformity.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/measurement/instrument.hpp>
#include <rewound/units/quantity.hpp>

namespace measurement = rewound::measurement;
namespace units = rewound::units;
using inputs = rewound::testing::row_inputs;

namespace {

double limit(const inputs& in) {
  const measurement::instrument<units::voltage> meter{"", in("percent") / 100.0, units::volts(in("digit")),
                                                      in("digits")};
  return units::in_volts(meter.limit(units::volts(in("reading"))));
}

double bonferroni_limit(const inputs& in) {
  return measurement::student_quantile(1.0 - in("alpha") / (2.0 * in("n")), in("n") - in("p") - 1.0);
}

double prediction_factor(const inputs& in) {
  return measurement::coverage_factor(0.95, in("n") - 1.0) * std::sqrt(1.0 + 1.0 / in("n"));
}

measurement::interval<double> proportion(const inputs& in) {
  return measurement::clopper_pearson(static_cast<int>(in("k")), static_cast<int>(in("n")), in("level"));
}

double conformity(const inputs& in) {
  measurement::tolerance limits;
  if (in.has("low")) limits.low = in("low");
  if (in.has("high")) limits.high = in("high");
  return measurement::conformity_probability(in("value"), in("u"), limits);
}

/// A true value on its limit, accepted when the reading lies a guard band r U = 2 r u inside.
double worst_false_accept(const inputs& in) {
  return measurement::conformity_probability(0.0, 1.0, {{}, -2.0 * in("r")});
}

}  // namespace

TEST_CASE("meters: every row of the oracle table is met") {
  rewound::testing::check_table(
      "physics/meter.csv",
      {{"limit", limit}, {"limit_over_root_three", [](const inputs& in) { return limit(in) / std::sqrt(3.0); }}});
}

TEST_CASE("statistics: every row of the oracle table is met") {
  rewound::testing::check_table("physics/statistics.csv",
                                {{"bonferroni_limit", bonferroni_limit},
                                 {"prediction_factor", prediction_factor},
                                 {"proportion_low", [](const inputs& in) { return proportion(in).low; }},
                                 {"proportion_high", [](const inputs& in) { return proportion(in).high; }},
                                 {"conformity", conformity},
                                 {"worst_false_accept", worst_false_accept}});
}
