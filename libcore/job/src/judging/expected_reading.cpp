// SPDX-License-Identifier: MIT
#include <rewound/job/expected_reading.hpp>

#include <cmath>
#include <utility>

#include <rewound/base/expect.hpp>
#include <rewound/checks/expected_current.hpp>

#include "analysis/analysis.hpp"
#include "analysis/meter_gain.hpp"

namespace rewound::job {

namespace {

/// The relative uncertainty of one ammeter or voltmeter reading beside the machines', what gain they have in common
/// left out.
double reading_uncertainty(const bench_instruments& bench, const reference& good, const char* meter,
                           double digits_relative) {
  const auto meters = meters_of(bench);
  const auto found = meters.find(meter);
  const double gain = found == meters.end() ? 0.0 : remaining_gain(good.machines, meter, found->second);
  return std::hypot(gain, digits_relative);
}

/// @param input  of the speed's currents, voltage and meters not filled in
expected_reading at(checks::expected_current_input input, const running_population& beside, const visit_facts& now,
                    const verdict::policy& policy, units::voltage voltage) {
  input.x = (voltage / units::volts(now.in.machine.rated_voltage_V)).value();
  input.voltmeter_uncertainty = reading_uncertainty(now.instruments, *beside.machines, "voltmeter",
                                                    (now.instruments.voltmeter.digit_uncertainty() / voltage).value());
  const auto bare = checks::expected_current(input);
  const auto mean = units::amperes(std::exp(bare.log_value));
  input.ammeter_uncertainty = reading_uncertainty(now.instruments, *beside.machines, "ammeter",
                                                  (now.instruments.ammeter.digit_uncertainty() / mean).value());
  const auto full = checks::expected_current(input);
  const auto factor = [&](double level) { return std::exp(band_factor(level, beside, policy) * full.log_uncertainty); };
  const double usual = factor(0.95);
  return {beside.by, mean, mean / usual, mean * usual, mean * factor(policy.practice.bench_band_percent.value / 100.0)};
}

}  // namespace

std::vector<expected_reading> expect_readings(const record::visit_record& now, const sources& compare_with,
                                              const verdict::policy& policy, const std::string& speed,
                                              const std::vector<units::voltage>& voltages) {
  for (const auto& voltage : voltages)
    base::expect(voltage.value() > 0.0 && std::isfinite(voltage.value()), "voltage", voltage.value(),
                 "a finite number above 0");
  std::vector<expected_reading> out;
  const auto visits = visits_of(now, compare_with.earlier);
  const auto good = without_this_visit(compare_with.good, now);
  const auto beside = population_beside(visits, good, policy);
  const auto input = beside ? currents_of(beside->pooled, speed) : std::nullopt;
  if (!input) return out;
  for (const auto& voltage : voltages) out.push_back(at(*input, *beside, visits.today, policy, voltage));
  return out;
}

std::optional<expected_reading> expect_reading(const record::visit_record& now, const sources& compare_with,
                                               const verdict::policy& policy, const std::string& speed,
                                               units::voltage voltage) {
  const auto found = expect_readings(now, compare_with, policy, speed, {voltage});
  return found.empty() ? std::nullopt : std::optional(found.front());
}

}  // namespace rewound::job
