// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include "words/phrase.hpp"

namespace rewound::report {

/// Phrases for texts of the findings on insulation and its trend: key, value, phrase.
inline constexpr auto insulation_phrases = std::to_array<phrase>({
    {"borrowed", "yes", "; the standard is written for 750 W and up, here its limit is borrowed"},
    {"borrowed", "no", ""},
    {"system", "unknown",
     "insulation system not stated: thermosetting {thermosetting}, thermoplastic {thermoplastic}, the lower decides"},
    {"system", "thermosetting", "thermosetting; {thermoplastic} by the 2000 edition, which halves every 10 K for all"},
    {"era", "stated", ""},
    {"era", "own", ""},
    {"era", "unstated",
     "; the year of winding is not stated, so the stricter limit of windings after about 1970 is asked"},
    {"era", "armature", "; the 2000 edition asked 100 Mohm of an armature"},
    {"connection", "whole_winding", ""},
    {"connection", "others_grounded", "; one phase with the others grounded: the reading is divided by 2"},
    {"connection", "others_guarded", "; one phase with the others on the guard: the reading is divided by 3"},
    {"winding_from", "winding", ""},
    {"winding_from", "air", " (the air's: the winding's was not measured)"},
    {"fitted", "no", ""},
    {"fitted", "yes",
     "; from the curve through the other readings it is {value} +- {half} Mohm at 40 degC ({system}), at least "
     "{limit_low} Mohm{era}{connection}"},
    {"tester", "stated", ""},
    {"tester", "assumed",
     " the insulation resistance tester reads within {tester_percent} %, and its readings within {reading_percent} % "
     "of one another"},
    {"tester_too", "yes", "; "},
    {"tester_too", "no", ""},
    {"thermometer", "stated", ""},
    {"thermometer", "assumed", " the winding's temperature is known within {thermometer_K} K"},
    {"work", "none", ""},
    {"work", "some", "; work recorded at {after}: {work_done}"},
    {"system_of_trend", "stated", ""},
    {"system_of_trend", "unknown_thermosetting",
     "; insulation system not stated: corrected as thermosetting, the stricter at the last visit"},
    {"system_of_trend", "unknown_thermoplastic",
     "; insulation system not stated: corrected as thermoplastic, the stricter at the last visit"},
    {"random_wound", "yes", "; on a random-wound winding the index says little (IEEE 43-2013 5.4)"},
    {"random_wound", "no", ""},
});

}  // namespace rewound::report
