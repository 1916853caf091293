// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

// Cautions that go with a step of the work; common practice, and the local code stands above all of them. What to do
// after an insulation test depends on how long it lasted: discharge_caution (report/view.hpp).
namespace rewound::report::cautions {

inline constexpr std::string_view before_touching =
    "Before touching anything inside: unplug, keep the plug in hand, prove dead with a tester proved on a live source.";
inline constexpr std::string_view discharge_capacitors =
    "Discharge capacitors through a resistor first: they hold charge after unplugging.";
inline constexpr std::string_view under_power =
    "Test under power only on a fused supply with a residual-current device, guards on, hands off the blades.";
inline constexpr std::string_view frame_not_earthed =
    "The frame is not earthed: only the insulation stands between the user and a shock.";
inline constexpr std::string_view withstand =
    "A withstand test is made on a disconnected winding, electronics removed, once, after the insulation resistance "
    "conforms: two qualified people, barriers, about 3 m clearance, interlocks. Every test ages the insulation.";
inline constexpr std::string_view leakage =
    "The earth conductor is open only for the leakage reading, and the frame may be live meanwhile: do not touch it; "
    "reverse the polarity with power off; no isolating transformer, which hides earth faults.";
inline constexpr std::string_view after_direct_voltage =
    "After a direct-voltage withstand test short the winding to the frame until its charge is gone; take it as live.";
inline constexpr std::string_view advice_only =
    "This is advice from the readings entered; local codes and a licensed person decide. It says what was tested and "
    "what that showed, no more.";

/// The same where there is room for a line: the whole list stands in the full report.
inline constexpr std::string_view shortly = "Unplug and prove it dead before touching; local codes decide.";
inline constexpr std::string_view live_shortly =
    "Live tests only fused, behind a residual-current device, guards on, hands off.";

}  // namespace rewound::report::cautions
