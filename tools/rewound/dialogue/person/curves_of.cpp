// SPDX-License-Identifier: MIT
#include "dialogue/person/curves_of.hpp"

#include <rewound/job/expected_reading.hpp>

#include "dialogue/person/curve_drawing.hpp"
#include "dialogue/keeping/run_up_edit.hpp"

namespace rewound::tool::dialogue {

std::string drawing_of(const record::visit_record& in, const judged_by& by, const std::string& speed, bool unicode) {
  std::vector<drawn_curve> curves;
  for (const auto& each : in.machine.speeds) {
    drawn_curve curve{each, {}};
    if (const auto* run = run_up_of(in, each))
      for (const auto& row : run->rows) curve.points.emplace_back(row.voltage_V, row.current_A);
    curves.push_back(std::move(curve));
  }
  std::vector<units::voltage> voltages;
  constexpr int steps = 30;
  for (int i = 0; i <= steps; ++i)
    voltages.push_back(units::volts(in.machine.rated_voltage_V * (0.45 + 0.65 * i / steps)));
  const auto there =
      job::expect_readings(in, by.compare_with, by.policy, speed.empty() ? in.machine.speeds.front() : speed, voltages);
  std::vector<std::pair<double, double>> expected;
  for (std::size_t i = 0; i < there.size(); ++i)
    expected.emplace_back(units::in_volts(voltages[i]), units::in_amperes(there[i].value));
  return curve_drawing(curves, expected, {}, unicode);
}

}  // namespace rewound::tool::dialogue
