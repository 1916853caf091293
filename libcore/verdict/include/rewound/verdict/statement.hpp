// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::verdict {

/// What a finding says, without words: the report holds one sentence, and one advice, for each.
enum class statement {
  // draw
  speed_not_run,
  speed_without_usable_reading,
  draw_against_nameplate,
  draw_under_nameplate_ceiling,
  draw_far_below_nameplate,
  draw_far_below_faster,
  power_against_nameplate,
  draw_without_expectation,
  draw_against_earlier,
  draw_joint_test,
  draw_against_reference,
  draw_joint_reference,
  reference_shaft_differs,
  earlier_shaft_differs,
  earlier_speed_missing,
  earlier_without_common_speed,
  earlier_same_day,
  // steps
  steps_in_order,
  steps_swapped,
  steps_reversed,
  steps_merged,
  steps_unclear,
  steps_not_promised,
  steps_single_speed,
  steps_speed_missing,
  steps_by_rotation,
  steps_against_rotation,
  steps_as_good_machines,
  steps_unlike_good_machines,
  step_against_expected,
  // supply
  supply_voltage_window,
  supply_frequency_window,
  supply_combined_window,
  supply_draw,
  supply_power,
  supply_not_given,
  // insulation
  insulation_not_measured,
  insulation_no_one_minute,
  insulation_minimum,
  insulation_outside_correction,
  insulation_test_voltage_low,
  insulation_test_voltage_high,
  insulation_test_voltage_right,
  polarization_minimum,
  polarization_information,
  polarization_class_unknown,
  polarization_class_not_listed,
  polarization_ends,
  polarization_high,
  polarization_not_measured,
  absorption_information,
  // resistance
  resistance_not_measured,
  resistance_against_expected,
  resistance_against_earlier,
  resistance_alone,
  resistance_implausible,
  // starting
  starts_not_tried,
  starts_clean,
  starts_failed,
  starts_too_few,
  stalled_near_rating,
  // leakage and earth
  leakage_not_measured,
  leakage_limit,
  leakage_not_due,
  earth_not_measured,
  earth_limit,
  earth_not_due,
  earthing_unknown,
  earthing_contradiction,
  // readings and the bench checks
  readings_plain,
  reading_suspect,
  readings_stalled_kept_out,
  accuracy_assumed,
  check_passed,
  check_failed,
  check_required_missing,
  unbalance_of_lines,
  // rooms still to come
  withstand_broke_down,
  recorded_not_judged,
  not_recorded,
  count_  ///< number of statements, for tables and tests
};

}  // namespace rewound::verdict
