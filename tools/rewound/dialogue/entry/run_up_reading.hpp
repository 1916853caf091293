// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "dialogue/entry/typed_reading.hpp"

// A typed line as a reading of a run-up: which number is which, and whether the machine can have it.
namespace rewound::tool::dialogue {

/// One run-up reading, numbers in V, A, W, rpm.
struct run_up_entry {
  std::string speed;
  double voltage_V = 0.0;
  std::vector<double> current_A;  ///< one, or one a line of three phases
  std::optional<double> power_W;
  std::optional<double> speed_rpm;
  bool stalled = false;
  bool over_range = false;  ///< the ammeter was beyond the end of its range, which is what current_A says
};

struct run_up_prompt {
  std::string speed;         ///< prompted for; a line that names another goes there
  double suggested_V = 0.0;  ///< where amperes alone belong
  double rated_V = 0.0;
  int phases = 1;
  std::optional<double> rated_A;  ///< as marked
};

/// What the volts and amps of a reading can be without their units: more is a blank or a point that was forgotten, as
/// `120.68` for `120 .68`. With its unit any number is taken (common practice, no source).
namespace within_reason {
inline constexpr double highest_volts = 1.5;     ///< of the rated voltage
inline constexpr double lowest_volts = 0.15;     ///< of the rated voltage
inline constexpr double amps_alone = 5.0;        ///< of the marked current, where amps stand alone and could be volts
inline constexpr double amps = 20.0;             ///< of the marked current, which no rotor at rest draws
inline constexpr double unmarked_amps = 20.0;    ///< A, where no current is marked
inline constexpr double looks_like_volts = 0.2;  ///< of the rated voltage
}  // namespace within_reason

/// Tells which number is which: those with units say it themselves; of the others one is amperes at the voltage
/// prompted for, two are volts and amperes, then watts and rpm. Three phases have three amperes in place of one.
///
/// @throws base::error (out_of_range) for too few, too many, volts and amperes that look exchanged, or beyond reason
run_up_entry as_run_up(const typed_line& line, const run_up_prompt& prompt);

}  // namespace rewound::tool::dialogue
