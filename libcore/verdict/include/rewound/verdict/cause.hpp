// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <iterator>
#include <optional>
#include <string_view>

namespace rewound::verdict {

/// What may stand behind the findings on a machine; `none` is a healthy one.
enum class cause {
  none,
  shorted_turns,
  too_few_turns,
  too_many_turns,
  wire_too_thin,
  wire_too_thick,
  speed_leads_exchanged,
  speed_section_shorted,
  speed_section_open,
  start_winding_left_in,
  tight_bearing,
  rotor_fault,
  weak_capacitor,
  wrong_frequency,
  damp_insulation,
  contaminated_insulation,
  aged_insulation,
  misread_reading,
  meter_range,
  something_else  ///< whatever this list does not name
};

inline constexpr std::array<std::string_view, 20> cause_names{"none",
                                                              "shorted_turns",
                                                              "too_few_turns",
                                                              "too_many_turns",
                                                              "wire_too_thin",
                                                              "wire_too_thick",
                                                              "speed_leads_exchanged",
                                                              "speed_section_shorted",
                                                              "speed_section_open",
                                                              "start_winding_left_in",
                                                              "tight_bearing",
                                                              "rotor_fault",
                                                              "weak_capacitor",
                                                              "wrong_frequency",
                                                              "damp_insulation",
                                                              "contaminated_insulation",
                                                              "aged_insulation",
                                                              "misread_reading",
                                                              "meter_range",
                                                              "something_else"};

inline constexpr std::size_t cause_count = cause_names.size();

constexpr std::string_view name(cause value) { return cause_names[static_cast<std::size_t>(value)]; }

constexpr std::optional<cause> cause_named(std::string_view text) {
  const auto found = std::find(cause_names.begin(), cause_names.end(), text);
  if (found == cause_names.end()) return std::nullopt;
  return static_cast<cause>(std::distance(cause_names.begin(), found));
}

}  // namespace rewound::verdict
