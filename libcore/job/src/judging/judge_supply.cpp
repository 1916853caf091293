// SPDX-License-Identifier: MIT
#include <optional>

#include <rewound/checks/supply.hpp>
#include <rewound/verdict/rules/supply.hpp>

#include "analysis/analysis.hpp"

namespace rewound::job {

finding_list judge_supply(const analysis& seen, const std::vector<verdict::draw_row>& rows) {
  const auto& machine = seen.record.machine;
  const auto& visit = seen.record.visit;
  std::optional<checks::supply_result> compared;
  // Without a mains voltage the frequency alone can still be out of its window.
  if (visit.supply_voltage_V || visit.supply_frequency_Hz)
    compared = checks::supply({units::volts(machine.rated_voltage_V), units::hertz(machine.rated_frequency_Hz),
                               units::volts(visit.supply_voltage_V.value_or(machine.rated_voltage_V)),
                               units::hertz(visit.supply_frequency_Hz.value_or(machine.rated_frequency_Hz))});
  auto out = verdict::rules::supply(seen.record, compared, seen.policy);
  // The run-up was read at the rated frequency: of another one it says nothing.
  if (!visit.supply_voltage_V || compared->frequency_percent != 0.0) return out;
  append(out, verdict::rules::supply_draw(rows, units::volts(*visit.supply_voltage_V)));
  for (const auto& speed : machine.speeds)
    if (const auto watts = watts_at(seen, speed, *visit.supply_voltage_V / machine.rated_voltage_V))
      append(out, verdict::rules::supply_power(speed, *watts, units::volts(*visit.supply_voltage_V)));
  return out;
}

}  // namespace rewound::job
