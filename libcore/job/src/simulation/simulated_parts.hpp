// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>

#include <boost/random/mersenne_twister.hpp>

#include <rewound/job/simulate.hpp>

// What a simulation is put together from. Random numbers come in streams of their own for each purpose, so that a
// fault, which may change what is read, does not move what is drawn for anything else.
namespace rewound::job {

using random_numbers = boost::random::mt19937_64;

enum class drawn { unit, insulation, gains, settings, readings, temperatures, cold, starts, running_down, slip_of_pen };

/// The same numbers on every platform for one seed and purpose.
random_numbers numbers_for(std::uint64_t seed, drawn purpose);

double normal_number(random_numbers& random, double standard_deviation);
double number_between(random_numbers& random, double low, double high);

/// One unit of a model with its faults, and what goes wrong in reading it.
struct simulated_unit {
  machine::fan_design design;  ///< cold, its fan on or off
  double inertia_kgm2 = 0.0;
  double leakage_factor = 1.0;  ///< of the insulation's leakage current
  double absorption_factor = 1.0;
  bool damp = false;
  std::optional<double> misread;  ///< relative error of one reading
  double range_factor = 1.0;      ///< by which all currents are read wrong
};

/// @throws base::error usage
simulated_unit unit_of(const simulated_machine& machine, const simulate_options& options);

/// The fault's severity, a middling one where none was given.
double severity_of(const simulated_machine& machine, const simulated_fault& fault);

/// A design whose windings and rotor have been brought from 20 degC to another temperature.
machine::fan_design at_winding_temperature(machine::fan_design design, double winding_C);

/// A meter that reads within its statement of accuracy: its gain is one for all readings, digits scatter.
struct simulated_meter {
  record::instrument_section statement;
  double gain = 1.0;

  double read(double value, random_numbers& random) const;
};

/// The meters of a bench by kind; their gains are the bench's own.
std::map<std::string, simulated_meter> meters_of_bench(std::uint64_t bench);

/// A number shown in steps of `resolution`.
double shown_in_steps(double value, double resolution);

/// What the bench reads of a unit.
struct simulated_visit {
  const simulated_machine& machine;
  const simulate_options& options;
  simulated_unit unit;
  std::map<std::string, simulated_meter> meters;
  double ambient_C = 20.0;
};

void read_run_ups(const simulated_visit& visit, record::visit_record& out);
void read_insulation_test(const simulated_visit& visit, record::visit_record& out);
void read_resistances(const simulated_visit& visit, record::visit_record& out);
void read_touch_tests(const simulated_visit& visit, record::visit_record& out);
void read_starting(const simulated_visit& visit, record::visit_record& out);
void read_coasting(const simulated_visit& visit, record::visit_record& out);
void read_heating(const simulated_visit& visit, record::visit_record& out);

}  // namespace rewound::job
