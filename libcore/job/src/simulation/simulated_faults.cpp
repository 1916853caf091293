// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>

#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include <rewound/base/error.hpp>
#include <rewound/base/number_text.hpp>
#include <rewound/machine/conductor.hpp>
#include <rewound/machine/fault.hpp>
#include <rewound/machine/named_parameter.hpp>
#include <rewound/machine/tables.hpp>
#include <rewound/record/fields.hpp>
#include <rewound/verdict/cause_tables.hpp>
#include "simulation/simulated_parts.hpp"

namespace rewound::job {

using base::error;
using base::error_code;

namespace {

/// A fault that the model of the machine does not know.
struct other_fault {
  std::string_view name;
  double lowest;
  double highest;
  double middling;
  void (*apply)(simulated_unit& unit, double severity);
};

constexpr std::array other_faults{
    other_fault{"damp_insulation", 0.0, 6.0, 2.0,
                [](simulated_unit& unit, double s) {
                  unit.leakage_factor *= std::pow(10.0, s);
                  unit.absorption_factor *= std::pow(10.0, s / 3.0);
                  unit.damp = s > 0.0;
                }},
    other_fault{"contaminated_insulation", 0.0, 6.0, 2.0,
                [](simulated_unit& unit, double s) { unit.leakage_factor *= std::pow(10.0, s); }},
    other_fault{"aged_insulation", 0.0, 6.0, 1.0,
                [](simulated_unit& unit, double s) {
                  unit.absorption_factor *= std::pow(10.0, s);
                  unit.leakage_factor *= std::pow(10.0, s / 2.0);
                }},
    other_fault{"misread_reading", -0.99, 100.0, 0.1, [](simulated_unit& unit, double s) { unit.misread = s; }},
    other_fault{"meter_range", -3.0, 3.0, 1.0,
                [](simulated_unit& unit, double s) { unit.range_factor *= std::pow(10.0, s); }}};

const other_fault* other_fault_named(std::string_view name) {
  const auto found =
      std::find_if(other_faults.begin(), other_faults.end(), [&](const auto& one) { return one.name == name; });
  return found == other_faults.end() ? nullptr : &*found;
}

const machine::fault* model_fault_named(std::string_view name) {
  const auto found = std::find_if(machine::all_faults.begin(), machine::all_faults.end(),
                                  [&](machine::fault one) { return machine::name(one) == name; });
  return found == machine::all_faults.end() ? nullptr : &*found;
}

[[noreturn]] void refuse_fault(const std::string& read, const std::string& allowed) {
  throw error(error_code::usage, {"", 0, "fault"}, read, allowed);
}

[[noreturn]] void refuse_name(std::string_view name) {
  std::string known;
  for (const auto& one : simulated_fault_names()) known += (known.empty() ? "" : ", ") + one;
  refuse_fault("\"" + std::string(name) + "\"", "one of " + known);
}

/// Beyond this a machine of the model is no machine any more, and its equations have no digits left.
constexpr double furthest_severity = 10.0;

/// What a severity may be; `open_end`: below the highest, not up to it.
void expect_severity(const std::string& name, double severity, double lowest, double highest, bool open_end) {
  if (severity >= lowest && (open_end ? severity < highest : severity <= highest)) return;
  refuse_fault(name + "=" + record::shown_number(severity), "a severity from " + record::shown_number(lowest) +
                                                                (open_end ? " to below " : " to ") +
                                                                record::shown_number(highest));
}

void apply_model_fault(const simulated_machine& machine, const simulated_fault& fault, simulated_unit& unit) {
  const auto which = *model_fault_named(fault.name);
  if (!machine::can_have(unit.design, which))
    refuse_fault("\"" + fault.name + "\"", "a fault that " + *machine.nameplate.model + " can have");
  const double severity = severity_of(machine, fault);
  const auto range = machine::severities(unit.design, which);
  const bool graded = range.lowest > -furthest_severity;
  if (graded) expect_severity(fault.name, severity, range.lowest, std::min(range.below, furthest_severity), true);
  if (which == machine::fault::speed_leads_exchanged && std::floor(severity) != severity)
    refuse_fault(fault.name + "=" + record::shown_number(severity), "a whole number, 1 for the two fastest speeds");
  unit.design = machine::apply_fault(unit.design, which, severity);
}

void apply_any(const simulated_machine& machine, const simulated_fault& fault, simulated_unit& unit) {
  if (model_fault_named(fault.name) != nullptr) {
    apply_model_fault(machine, fault, unit);
    return;
  }
  const auto* other = other_fault_named(fault.name);
  if (other == nullptr) refuse_name(fault.name);
  const double severity = severity_of(machine, fault);
  expect_severity(fault.name, severity, other->lowest, other->highest, false);
  other->apply(unit, severity);
}

/// A unit's own deviation from its model, one parameter after another.
machine::fan_design with_own_spread(machine::fan_design design, random_numbers& random) {
  for (const auto& row : machine::tables::healthy_spread)
    design = machine::moved_by_name(design, row.parameter, normal_number(random, row.spread));
  return design;
}

/// Units of two models that have one seed are no twins: the model's name goes into it (FNV-1a, 64 bits; public domain,
/// from memory).
std::uint64_t unit_seed(const simulated_machine& machine, const simulate_options& options) {
  std::uint64_t hash = 0xcbf29ce484222325ULL;
  for (const char c : *machine.nameplate.model) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3ULL;
  return hash ^ options.unit.value_or(options.seed);
}

}  // namespace

random_numbers numbers_for(std::uint64_t seed, drawn purpose) {
  // Neighbouring seeds and purposes are mixed apart (the finaliser of SplitMix64; public domain, from memory).
  std::uint64_t mixed = seed + 0x9e3779b97f4a7c15ULL * (static_cast<std::uint64_t>(purpose) + 1);
  mixed = (mixed ^ (mixed >> 30)) * 0xbf58476d1ce4e5b9ULL;
  mixed = (mixed ^ (mixed >> 27)) * 0x94d049bb133111ebULL;
  return random_numbers(mixed ^ (mixed >> 31));
}

double normal_number(random_numbers& random, double standard_deviation) {
  return standard_deviation * boost::random::normal_distribution<double>()(random);
}

double number_between(random_numbers& random, double low, double high) {
  return low + (high - low) * boost::random::uniform_01<double>()(random);
}

std::vector<std::string> simulated_fault_names() {
  std::vector<std::string> out;
  for (const auto one : machine::all_faults) out.emplace_back(machine::name(one));
  for (const auto& one : other_faults) out.emplace_back(one.name);
  return out;
}

simulated_fault simulated_fault_from(std::string_view text) {
  const auto equals = text.find('=');
  simulated_fault out{std::string(text.substr(0, equals)), std::nullopt};
  if (model_fault_named(out.name) == nullptr && other_fault_named(out.name) == nullptr) refuse_name(out.name);
  if (equals == std::string_view::npos) return out;
  const auto digits = text.substr(equals + 1);
  const auto severity = base::whole_number_text(digits);
  if (!severity || !std::isfinite(*severity))
    refuse_fault("\"" + std::string(text) + "\"", "NAME=SEVERITY, the severity a number");
  out.severity = severity;
  return out;
}

double severity_of(const simulated_machine& machine, const simulated_fault& fault) {
  if (fault.severity) return *fault.severity;
  if (const auto* other = other_fault_named(fault.name)) return other->middling;
  for (const auto& row : verdict::cause_tables::fault_severity)
    if (row.fault == fault.name) return std::sqrt(row.least * row.most);
  // Of a wrong frequency, what is left: the other of the two mains frequencies there are.
  return machine.nameplate.rated_frequency_Hz < 55.0 ? 60.0 / 50.0 - 1.0 : 50.0 / 60.0 - 1.0;
}

simulated_unit unit_of(const simulated_machine& machine, const simulate_options& options) {
  constexpr double bare_air = 0.02;      // with its fan off a shaft turns the air a little (common practice, no source)
  constexpr double bare_inertia = 0.15;  // of the rotor alone (common practice, no source)
  auto random = numbers_for(unit_seed(machine, options), drawn::unit);
  simulated_unit out;
  out.design = with_own_spread(machine.design, random);
  out.inertia_kgm2 = machine.inertia_kgm2;
  // A bearing's severity is counted in the running torque of the machine as it was, so it comes first.
  for (const bool bearings : {true, false})
    for (const auto& fault : options.faults)
      if ((fault.name == machine::name(machine::fault::tight_bearing)) == bearings) apply_any(machine, fault, out);
  if (options.shaft == record::shaft_condition::bare) {
    out.design.load.square_Nm_s2 *= bare_air;
    out.inertia_kgm2 *= bare_inertia;
  }
  return out;
}

machine::fan_design simulated_design(const simulated_machine& machine, const simulate_options& options) {
  return unit_of(machine, options).design;
}

machine::fan_design at_winding_temperature(machine::fan_design design, double winding_C) {
  constexpr double cold_C = 20.0;
  const auto factor = [&](record::conductor_material material) {
    const double k = machine::inferred_zero_offset_K(material);
    return (k + winding_C) / (k + cold_C);
  };
  const double copper = factor(record::conductor_material::copper);
  auto& m = design.machine;
  m.main_resistance_ohm *= copper;
  m.rotor_resistance_ohm *= factor(record::conductor_material::aluminium);  // a cast cage
  if (m.auxiliary) m.auxiliary->resistance_ohm *= copper;
  return design;
}

}  // namespace rewound::job
