// SPDX-License-Identifier: MIT
#include "analysis/instruments.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/base/expect.hpp>
#include <rewound/verdict/limit_tables.hpp>

namespace rewound::job {

namespace {

/// One digit of the last decimal place that any of the readings shows, in the unit they are written in.
double shown_digit(const std::vector<double>& readings) {
  int most = 0;
  for (const double reading : readings) {
    int decimals = 0;
    double scaled = reading;
    while (decimals < 6 && std::abs(scaled - std::round(scaled)) > 1e-6 * std::max(1.0, std::abs(scaled)))
      scaled = reading * std::pow(10.0, ++decimals);
    most = std::max(most, decimals);
  }
  return std::pow(10.0, -most);
}

const verdict::tables::assumed_accuracy_row& assumption(std::string_view name) {
  for (const auto& row : verdict::tables::assumed_accuracy)
    if (row.instrument == name) return row;
  base::expect(false, "instrument", std::string(name), "a row of reference/limits/assumed_accuracy.table");
  return verdict::tables::assumed_accuracy.front();
}

/// @param to_si  factor from the unit of the readings to SI
template <class Quantity>
measurement::instrument<Quantity> instrument_for(const record::visit_record& in, const char* name,
                                                 const std::vector<double>& readings, double to_si,
                                                 std::vector<std::string>& assumed) {
  const auto found = in.instruments.find(name);
  const auto stated = found == in.instruments.end() ? record::instrument_section{} : found->second;
  const auto& row = assumption(name);
  // Of a current that is no sine a meter that averages is off by more than it states of itself.
  const bool averages = std::string_view(name) == "ammeter" && stated.true_rms == false;
  const double more = averages ? assumption("averaging").reading_percent : 0.0;
  const double digit =
      readings.empty() ? row.coarsest_digit : std::min(row.coarsest_digit, shown_digit(readings) * to_si);
  const bool by_default = !stated.reading_percent;
  if (by_default && !readings.empty()) assumed.emplace_back(name);
  return {stated.name.value_or(""), std::hypot(stated.reading_percent.value_or(row.reading_percent), more) / 100.0,
          Quantity::from_value(stated.resolution.value_or(digit)), stated.digits.value_or(row.digits), by_default};
}

/// A column of all run-ups.
template <class Value>
std::vector<double> collect(const std::vector<record::run_up_section>& runs, Value record::run_up_row::*member) {
  std::vector<double> out;
  for (const auto& run : runs) {
    const auto column = run.column(member);
    out.insert(out.end(), column.begin(), column.end());
  }
  return out;
}

std::vector<double> currents(const record::visit_record& in) {
  if (in.machine.phases == 1) return collect(in.run_up, &record::run_up_row::current_A);
  std::vector<double> out;
  for (const auto& run : in.run_up)
    for (const auto& lines : run.column(&record::run_up_row::line_current_A))
      out.insert(out.end(), lines.begin(), lines.end());
  return out;
}

}  // namespace

measurement::instrument<units::resistance> ohmmeter_on_bars(const record::visit_record& in) {
  std::vector<std::string> assumed;
  return instrument_for<units::resistance>(in, "ohmmeter", in.commutator->bar_ohm, 1.0, assumed);
}

bench_instruments instruments_of(const record::visit_record& in) {
  std::vector<double> ohms;
  std::vector<double> temperatures;
  std::vector<double> megohms;
  std::vector<double> leakages;
  std::vector<double> microfarads;
  for (const auto& entry : in.resistance) {
    ohms.push_back(entry.resistance_ohm);
    temperatures.push_back(entry.winding_C);
  }
  if (in.earth) ohms.push_back(in.earth->continuity_ohm);
  for (const auto& entry : in.insulation) {
    for (const auto& row : entry.rows) megohms.push_back(row.resistance_Mohm);
    temperatures.push_back(entry.winding_C.value_or(in.visit.ambient_C.value_or(0.0)));
  }
  auto rotations = collect(in.run_up, &record::run_up_row::speed_rpm);
  if (in.coast_down)
    rotations.insert(rotations.end(), in.coast_down->speed_rpm.begin(), in.coast_down->speed_rpm.end());
  if (in.heat_run) {
    if (in.heat_run->cold_ohm) ohms.push_back(*in.heat_run->cold_ohm);
    for (const auto* list : {&in.heat_run->resistance_ohm, &in.heat_run->cooling_ohm})
      ohms.insert(ohms.end(), list->begin(), list->end());
    temperatures.push_back(in.heat_run->ambient_C);
  }
  for (const auto& entry : in.leakage) leakages.push_back(entry.current_mA);
  for (const auto& entry : in.capacitor)
    if (entry.measured_uF) microfarads.push_back(*entry.measured_uF);
  bench_instruments out;
  auto& assumed = out.assumed;
  out.voltmeter =
      instrument_for<units::voltage>(in, "voltmeter", collect(in.run_up, &record::run_up_row::voltage_V), 1.0, assumed);
  out.ammeter = instrument_for<units::current>(in, "ammeter", currents(in), 1.0, assumed);
  out.wattmeter =
      instrument_for<units::power>(in, "wattmeter", collect(in.run_up, &record::run_up_row::power_W), 1.0, assumed);
  out.tachometer = instrument_for<units::angular_velocity>(in, "tachometer", rotations, 1.0, assumed);
  out.ohmmeter = instrument_for<units::resistance>(in, "ohmmeter", ohms, 1.0, assumed);
  out.insulation_tester = instrument_for<units::resistance>(in, "insulation_tester", megohms, 1e6, assumed);
  out.leakage_meter = instrument_for<units::current>(in, "leakage_meter", leakages, 1e-3, assumed);
  out.capacitance_meter = instrument_for<units::capacitance>(in, "capacitance_meter", microfarads, 1e-6, assumed);
  // A thermometer that shows whole degrees says nothing of how well the winding's temperature is known.
  out.thermometer = instrument_for<units::temperature_difference>(in, "thermometer", {}, 1.0, assumed);
  if (!temperatures.empty() && out.thermometer.assumed) assumed.emplace_back("thermometer");
  return out;
}

}  // namespace rewound::job
