// SPDX-License-Identifier: MIT
#include "analysis/machine_kind_of.hpp"

#include <algorithm>

#include <rewound/machine/tables.hpp>
#include <rewound/machine/wire.hpp>
#include <rewound/record/names.hpp>

namespace rewound::job {

namespace {

std::optional<int> poles_of(const record::visit_record& in) {
  if (in.machine.poles) return in.machine.poles;
  double fastest = 0.0;
  for (const auto& run : in.run_up)
    for (const double rpm : run.column(&record::run_up_row::speed_rpm)) fastest = std::max(fastest, rpm);
  if (fastest <= 0.0) return std::nullopt;
  const double hertz = run_up_frequency_Hz(in);
  // A bare shaft turns at nearly its synchronous speed, and a tachometer may read a little above it.
  constexpr double tachometer = 1.002;
  return 2 * std::clamp(static_cast<int>(60.0 * hertz / fastest * tachometer), 1, 12);
}

}  // namespace

machine::machine_kind machine_kind_of(const record::visit_record& in) {
  const auto& m = in.machine;
  return {m.running_circuit,
          m.speed_control,
          m.phases,
          m.rated_voltage_V,
          m.rated_frequency_Hz,
          poles_of(in),
          in.visit.shaft == record::shaft_condition::loaded,
          m.speeds.size()};
}

double run_up_frequency_Hz(const record::visit_record& in) {
  return in.visit.run_up_frequency_Hz.value_or(in.machine.rated_frequency_Hz);
}

bool has_designs(const record::visit_record& in) {
  return in.machine.speed_control != record::speed_control::pole_change &&
         in.machine.running_circuit != record::running_circuit::commutator;
}

std::optional<winding> winding_of(std::string_view section) {
  const bool auxiliary = record::names_any(section, {"start", "aux"});
  const bool main = record::names_any(section, {"main", "run"});
  if (auxiliary == main) return std::nullopt;
  return main ? winding::main : winding::auxiliary;
}

namespace {

/// Ohms at 20 degC of the wire and turns that the rewind noted.
std::optional<double> wound_ohm(const record::resistance_section& of) {
  if ((!of.wire_diameter_mm && !of.wire_awg) || !of.turns || !of.mean_turn_mm) return std::nullopt;
  const auto diameter = of.wire_awg ? machine::awg_diameter(*of.wire_awg) : units::millimetres(*of.wire_diameter_mm);
  return units::in_ohms(machine::wound_resistance(
      {diameter, static_cast<double>(*of.turns), units::millimetres(*of.mean_turn_mm), of.parallel, of.material,
       of.wire_awg ? machine::wire_standard::awg : machine::wire_standard::metric}));
}

}  // namespace

std::optional<double> main_winding_ohm(const record::visit_record& in) {
  for (const auto& entry : in.resistance) {
    if (winding_of(entry.section) != winding::main) continue;
    if (entry.expected_ohm) return entry.expected_ohm;
    return wound_ohm(entry).value_or(entry.resistance_ohm);
  }
  return std::nullopt;
}

std::optional<double> main_winding_turns(const record::visit_record& in) {
  for (const auto& entry : in.resistance)
    if (winding_of(entry.section) == winding::main && entry.turns) return static_cast<double>(*entry.turns);
  return std::nullopt;
}

double model_misfit(fit::channel what) {
  constexpr auto& rows = machine::tables::model_misfit;
  static_assert(rows[0].channel == "current" && rows[1].channel == "power" && rows[2].channel == "rotation");
  return rows[static_cast<std::size_t>(what)].misfit;
}

}  // namespace rewound::job
