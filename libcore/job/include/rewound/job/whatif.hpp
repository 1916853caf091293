// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/machine/induction_machine.hpp>
#include <rewound/measurement/uncertain.hpp>
#include <rewound/record/record.hpp>

// What a machine would take with other turns, another wire or on other mains: asked before winding as well as after.
namespace rewound::job {

/// What is to change.
struct whatif_change {
  double turns_factor = 1.0;                  ///< turns of every coil, new over present; 0.5 to 2
  double wire_area_factor = 1.0;              ///< cross-section of every coil's wire, new over present; 0.25 to 4
  std::optional<double> supply_voltage_V;     ///< the mains'; the record's, else the rated one where not given
  std::optional<double> supply_frequency_Hz;  ///< likewise
};

/// copper_heat: of the stator's windings; rise: of the windings over the air, as the losses in copper, core and rotor
/// (common practice, no source: the air that cools them is taken to stay)
enum class whatif_quantity { current, power, copper_heat, flux, rise };
inline constexpr std::size_t whatif_quantity_count = 5;

/// Of what a change is told, always against the present winding at the rated voltage and frequency.
enum class whatif_case {
  new_winding,  ///< at the rated voltage and frequency
  mains,        ///< the present winding on the mains
  new_winding_on_mains
};

/// Relative change of one quantity, and its 95 % interval; all 0 where nothing changes.
struct whatif_value {
  double ratio = 1.0;  ///< new over present
  measurement::interval<double> range{1.0, 1.0};
};

struct whatif_row {
  whatif_case what;
  std::string speed;
  bool read;       ///< false: nothing is known of this speed but that it is there
  double running;  ///< probability that the machine still turns
  std::array<whatif_value, whatif_quantity_count> values;  ///< in the order of whatif_quantity, given that it turns
};

/// What the answer rests on.
struct whatif_basis {
  std::vector<std::string> read;   ///< "current", "power", "rotation": what was read in the run-up
  bool nameplate_current = false;  ///< used, since the fastest speed's current was not read
  bool nameplate_power = false;    ///< used, since its watts were not read
  bool resistance = false;         ///< of the main winding
  std::size_t designs = 0;         ///< that agree best with all of this
  double misfit = 0.0;  ///< squared misfit of the best in standard uncertainties, over the number of values known, at
                        ///< least 1: above intervals are widened by it, well above it no design is like this machine
};

/// Which turns a wanted current takes, on the fastest speed and the mains; the wire fills the same room in the slots.
struct wanted_current {
  double current_A = 0.0;
  whatif_value turns;  ///< new over present
};

struct whatif_result {
  std::string machine;
  double rated_voltage_V = 0.0;
  double rated_frequency_Hz = 0.0;
  double mains_voltage_V = 0.0;
  double mains_frequency_Hz = 0.0;
  whatif_change change;
  std::optional<wanted_current> wanted;  ///< where the change was sought and not given
  whatif_basis basis;
  std::vector<whatif_row> rows;  ///< case by case, speeds fastest first
};

/// A design with the change made: ohms with turns over area, what is seen through the turns with their square
/// (machine/fault.hpp, circuit theory); choke, capacitor and fan stay. The supply is the caller's.
machine::fan_design rewound_design(const machine::fan_design& design, const whatif_change& change);

/// The change of current, watts, copper heat, flux and rise, by designs of machine::fan_population that are matched to
/// what is known of the machine (checks/design_match.hpp): run-up, resistance of the main winding, marked current and
/// watts.
///
/// Intervals hold what the designs leave open, each design's own uncertainty, and a share of each change itself, a
/// tenth (of copper heat and rise a fifth), by which a model machine may miss a real one (common practice, no source).
///
/// @throws base::error usage for a change outside its limits; out_of_range for a machine that the model does not know
///         (pole_change), or when no design agrees; missing_key without any current of the fastest speed
whatif_result whatif(const record::visit_record& in, const whatif_change& change);

/// The turns with which the fastest speed takes a current on the mains, and what they change. The wire's cross-section
/// goes against the turns, so that it fills the same room.
///
/// @throws base::error as whatif(), and usage for a current that half to twice the turns do not give
whatif_result whatif_for_current(const record::visit_record& in, double current_A,
                                 const std::optional<double>& supply_voltage_V,
                                 const std::optional<double>& supply_frequency_Hz);

}  // namespace rewound::job
