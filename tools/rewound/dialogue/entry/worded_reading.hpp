// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

// Cold readings and starts as they are typed in one line, a name before them: `aux 32.1 25C`, `on its side 20 19`.
namespace rewound::tool::dialogue {

/// Ohms of a section: `18.4`, `aux 32.1 25C`, `main 18.4 expected 18.3`.
struct resistance_answer {
  std::string section;  ///< empty where none was named
  std::optional<double> ohms;
  std::optional<double> winding_C;
  std::optional<double> expected_ohm;
};
/// @throws base::error (out_of_range) for anything else
resistance_answer parse_resistance(std::string_view text);

/// Earth continuity: `.08`, `.08 3m` with the length of the cord that is in it.
struct earth_answer {
  double ohms = 0.0;
  std::optional<double> cord_m;
};
/// @throws base::error (out_of_range) for anything else
earth_answer parse_earth(std::string_view text);

/// Leakage: `.2`, `.2 243V` with the voltage it was read at, `reversed off .2` in words of its own.
struct leakage_answer {
  std::optional<bool> reversed;
  std::optional<bool> switched_on;
  double milliamps = 0.0;
  std::optional<double> voltage_V;
};
/// @throws base::error (out_of_range) for anything else
leakage_answer parse_leakage(std::string_view text);

/// A capacitor: `capacitor 2.5 2.4uF`, microfarads marked and, where they were, measured.
struct capacitor_answer {
  double marked_uF = 0.0;
  std::optional<double> measured_uF;
};
/// @return nothing for a line that is of no capacitor
/// @throws base::error (out_of_range) for anything else behind the word
std::optional<capacitor_answer> parse_capacitor(std::string_view text);

/// Starts from rest: `20 19`, `on its side 20 20`, and behind it the lowest voltage and the time to speed: `150V 3.2s`.
/// `on low` names the speed that they were made on, `push` says that a push was needed.
struct starts_answer {
  std::string position;              ///< empty where none was named
  std::optional<std::string> speed;  ///< one of the machine's
  bool needed_push = false;
  int attempts = 0;
  int successes = 0;
  std::optional<double> lowest_V;
  std::optional<double> to_speed_s;
};
/// @throws base::error (out_of_range) for anything else
starts_answer parse_starts(std::string_view text, const std::vector<std::string>& speeds = {});

}  // namespace rewound::tool::dialogue
