// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/machine/induction_machine.hpp>
#include <rewound/record/record.hpp>

// Records of machines that there never were, as a bench would have written them: for teaching, demonstrations, tests.
namespace rewound::job {

/// A machine to simulate: its nameplate and speeds, its design, and what the model of the machine does not say.
struct simulated_machine {
  record::machine_section nameplate;  ///< marked current and power are worked out of the design
  machine::fan_design design;         ///< cold (20 degC), its fan on
  double inertia_kgm2 = 0.0;          ///< of all that turns
  double one_minute_Mohm = 0.0;       ///< insulation resistance at 40 degC
  double leakage_share = 0.0;         ///< of the insulation's current at one minute; the rest is absorption
  double absorption_exponent = 0.0;   ///< absorption goes with time^-exponent
  double final_rise_K = 0.0;          ///< of the winding, rated voltage, fastest speed, healthy
  double time_constant_min = 0.0;     ///< of that rise, as the frame warms
  double winding_share = 0.0;         ///< of that rise, in the winding alone, which warms on the frame
  double winding_time_constant_min = 0.0;
};

/// A machine's description from a document of format "rewound-simulated/1" (reference/machines/simulated/).
///
/// @throws base::error with the place, what was read and what is allowed
simulated_machine simulated_machine_from(const record::node& document);

/// The machines that come with the library, by model.
///
/// @throws base::error usage, naming those that there are, for another
simulated_machine simulated_machine_named(std::string_view model);
std::vector<std::string> simulated_models();

/// A fault by name, and how far it goes; without severity a middling one is taken.
///
/// Names are those of machine::fault, with its severities, and of faults outside that model, by simple means (common
/// practice, no source):
/// damp_insulation s: leakage current 10^s times the usual, absorption 10^(s/3) times, damp air;
/// contaminated_insulation s: leakage current 10^s times; aged_insulation s: absorption 10^s, leakage 10^(s/2) times;
/// misread_reading s: one current is read 1 + s times; meter_range s: all currents are read 10^s times.
struct simulated_fault {
  std::string name;
  std::optional<double> severity;
};

/// "shorted_turns=0.05" or "speed_section_open". @throws base::error usage
simulated_fault simulated_fault_from(std::string_view text);

/// Names of all faults that can be asked for.
std::vector<std::string> simulated_fault_names();

struct simulate_options {
  std::uint64_t seed = 1;             ///< of the visit: settings, digits, starts, temperatures
  std::optional<std::uint64_t> unit;  ///< of the machine's own spread; the seed where not given. Two visits of one unit
                                      ///< differ by their seeds
  std::optional<std::uint64_t> bench;  ///< of the meters' gains, and in their names; the seed where not given
  std::vector<simulated_fault> faults;
  std::optional<std::string> id;  ///< model and unit where not given
  record::date day{2026, 5, 14};
  record::visit_state state = record::visit_state::after_repair;
  record::shaft_condition shaft = record::shaft_condition::loaded;
  bool watts = false;  ///< read in the run-up
  bool rpm = false;
  bool coast_down = false;
  bool heat_run = false;
  bool polarization = false;  ///< insulation read for ten minutes instead of one
};

/// Options by the words that users write them with. @throws base::error usage, naming the words that there are
record::visit_state visit_state_named(std::string_view word);
record::shaft_condition shaft_condition_named(std::string_view word);
void read_too(simulate_options& options, std::string_view what);  ///< watts, rpm, coast_down, heat_run, polarization

/// One visit of one unit of a model: the unit's own spread (reference/machines/healthy_spread.table), faults, meters
/// with their gains and digits, 6 to 8 settings a speed between 45 and 105 % of the rated voltage.
///
/// The same arguments give the same record. A fault changes nothing that is drawn, so that a seed's faulty machine and
/// its healthy one differ by the fault alone.
///
/// @throws base::error usage for a fault that is unknown, that the machine cannot have, or of impossible severity
record::visit_record simulate(const simulated_machine& machine, const simulate_options& options);

/// The design behind simulate()'s readings: the unit's own, with its faults, cold (20 degC). @throws base::error as
/// simulate()
machine::fan_design simulated_design(const simulated_machine& machine, const simulate_options& options);

/// The record's text below a remark that says it is invented, of what machine, with which faults and seeds.
std::string simulated_record_text(const simulated_machine& machine, const simulate_options& options);

}  // namespace rewound::job
