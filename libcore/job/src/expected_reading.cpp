// SPDX-License-Identifier: MIT
#include <rewound/job/expected_reading.hpp>

#include <cmath>

#include <rewound/base/expect.hpp>
#include <rewound/checks/expected_current.hpp>
#include <rewound/measurement/distribution.hpp>

#include "meter_gain.hpp"
#include "reference_comparison.hpp"

namespace rewound::job {

namespace {

/// The relative uncertainty of one ammeter or voltmeter reading beside the machines', what gain they have in common left out.
double reading_uncertainty(const bench_instruments& bench, const reference& good, const char* meter, double digits_relative) {
  const auto meters = meters_of(bench);
  const auto found = meters.find(meter);
  const double gain = found == meters.end() ? 0.0 : remaining_gain(good.machines, meter, found->second);
  return std::hypot(gain, digits_relative);
}

std::optional<expected_reading> at(const pooled_reference& model, const reference& good, const visit_facts& now,
                                   const verdict::policy& policy, const std::string& speed, units::voltage voltage,
                                   verdict::expectation by) {
  for (std::size_t i = 0; i < model.blocks.size(); ++i) {
    if (model.blocks[i].speed != speed || model.blocks[i].what != fit::channel::current) continue;
    checks::expected_current_input input{model.population, model.shapes[i], static_cast<Eigen::Index>(3 * i)};
    input.x = (voltage / units::volts(now.in.machine.rated_voltage_V)).value();
    input.voltmeter_uncertainty =
        reading_uncertainty(now.instruments, good, "voltmeter", (now.instruments.voltmeter.digit_uncertainty() / voltage).value());
    const auto bare = checks::expected_current(input);
    const auto mean = units::amperes(std::exp(bare.log_value));
    input.ammeter_uncertainty =
        reading_uncertainty(now.instruments, good, "ammeter", (now.instruments.ammeter.digit_uncertainty() / mean).value());
    const auto full = checks::expected_current(input);
    const auto factor = [&](double level) {
      return std::exp(measurement::coverage_factor(level, full.degrees_of_freedom) * full.log_uncertainty);
    };
    const double usual = factor(0.95);
    return expected_reading{by, mean, mean / usual, mean * usual, mean * factor(policy.practice("bench_band_percent").value / 100.0)};
  }
  return std::nullopt;
}

}  // namespace

std::optional<expected_reading> expect_reading(const record& now, const sources& compare_with, const verdict::policy& policy,
                                               const std::string& speed, units::voltage voltage) {
  base::expect(voltage.value() > 0.0 && std::isfinite(voltage.value()), "voltage", voltage.value(), "a finite number above 0");
  const visit_facts today{now, instruments_of(now)};
  const auto beside = without_this_visit(compare_with.good, now);
  if (const auto model = usable_reference(now, beside, policy))
    if (auto out = at(*model, *beside, today, policy, speed, voltage, verdict::expectation::reference)) return out;
  const auto& earlier = compare_with.earlier;
  const bool rewound_since = earlier && earlier->machine.wound_year && now.machine.wound_year &&
                             *earlier->machine.wound_year != *now.machine.wound_year;
  if (!earlier || rewound_since || earlier->visit.shaft != now.visit.shaft || earlier->run_up.empty()) return std::nullopt;
  const auto itself = reference_of(*earlier);
  return at(pool_reference(itself, between_visits(policy)), itself, today, policy, speed, voltage, verdict::expectation::earlier);
}

}  // namespace rewound::job
