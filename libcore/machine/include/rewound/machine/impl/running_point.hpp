// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/base/expect.hpp>
#include <rewound/machine/detail/operating_point.hpp>
#include <rewound/machine/detail/valid.hpp>
#include <rewound/machine/induction_machine.hpp>
#include <rewound/machine/operating_point.hpp>
#include <rewound/machine/running_point.hpp>
#include <rewound/units/quantity.hpp>

namespace rewound::machine {

REWOUND_INLINE operating_point point_at_slip(const induction_machine& machine, const speed_step& step,
                                             const shaft_load& load, units::voltage supply, units::frequency frequency,
                                             double slip, bool with_start_winding) {
  base::expect(slip >= 0.0 && slip <= 2.0, "slip", slip, "a slip from 0 to 2");
  const detail::machine_on_supply here(machine, step, load, supply, frequency);
  return here.at(with_start_winding ? detail::circuit_of::standing : detail::circuit_of::running, slip,
                 running_state::runs);
}

REWOUND_INLINE operating_point running_point(const induction_machine& machine, const speed_step& step,
                                             const shaft_load& load, units::voltage supply,
                                             units::frequency frequency) {
  return detail::machine_on_supply(machine, step, load, supply, frequency).from_rest();
}

REWOUND_INLINE operating_point running_point_when_turning(const induction_machine& machine, const speed_step& step,
                                                          const shaft_load& load, units::voltage supply,
                                                          units::frequency frequency) {
  return detail::machine_on_supply(machine, step, load, supply, frequency).when_turning();
}

REWOUND_INLINE units::torque starting_torque(const induction_machine& machine, const speed_step& step,
                                             units::voltage supply, units::frequency frequency) {
  return detail::machine_on_supply(machine, step, {}, supply, frequency)
      .at_rest(running_state::does_not_start)
      .developed_torque;
}

REWOUND_INLINE std::optional<units::voltage> lowest_starting_voltage(const induction_machine& machine,
                                                                     const speed_step& step, const shaft_load& load,
                                                                     units::frequency frequency) {
  const detail::machine_on_supply here(machine, step, load, units::volts(machine.rated_voltage_V), frequency);
  const auto found = here.lowest_starting_V(2.0 * machine.rated_voltage_V);
  if (!found) return {};
  return units::volts(*found);
}

REWOUND_INLINE operating_point running_point_near(const fan_design& design, std::size_t speed, units::voltage supply,
                                                  const settled_point& near) {
  base::expect(speed < design.steps.size(), "speed", static_cast<double>(speed), "a speed that the design has");
  return detail::machine_on_supply(design.machine, design.steps[speed], design.load, supply, supply_frequency(design))
      .when_turning_near({near});
}

REWOUND_INLINE std::vector<operating_point> running_points(const fan_design& design, std::size_t speed,
                                                           const std::vector<units::voltage>& supplies,
                                                           const std::vector<settled_point>& near) {
  base::expect(speed < design.steps.size(), "speed", static_cast<double>(speed), "a speed that the design has");
  base::expect(near.empty() || near.size() == supplies.size(), "near", static_cast<double>(near.size()),
               "one a voltage");
  std::vector<operating_point> out;
  if (supplies.empty()) return out;
  detail::machine_on_supply here(design.machine, design.steps[speed], design.load, supplies.front(),
                                 supply_frequency(design));
  settled_point last{};  // of the voltage before; next to a default one nothing is sought
  for (std::size_t i = 0; i < supplies.size(); ++i) {
    if (!near.empty() && near[i].slip == 1.0) break;
    here.feed(supplies[i]);
    out.push_back(near.empty() ? here.when_turning_near({last}) : here.when_turning_near({near[i], last}));
    if (out.back().state == running_state::stalled) break;
    last = out.back().slip < followed_up_to_slip ? settled(out.back()) : settled_point{};
    if (i + 1 < supplies.size()) last.gap_V *= (supplies[i + 1] / supplies[i]).value();
  }
  return out;
}

}  // namespace rewound::machine
