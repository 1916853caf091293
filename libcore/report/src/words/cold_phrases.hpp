// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include "words/phrase.hpp"

namespace rewound::report {

/// Phrases for texts of the findings on winding resistance, withstand, leakage, earth and cord: key, value, phrase.
inline constexpr auto cold_phrases = std::to_array<phrase>({
    {"leakage_by", "meter", ""},
    {"leakage_by", "either",
     "; a voltmeter across {resistor} ohm (2 W) from the frame to earth shows it too: volts over {kilohm} are "
     "milliamperes"},
    {"leakage_by", "resistor",
     ": as volts across {resistor} ohm (2 W) from the frame to earth, at most {most_V} V; volts over {kilohm} are "
     "milliamperes. What the insulation tester shows at rest says nothing of this current"},
    {"leakage_by", "others", ""},
    {"leakage_short", "resistor", ", as volts across {resistor} ohm to earth: at most {most_V} V"},
    {"leakage_short", "meter", ""},
    {"leakage_short", "either", ""},
    {"leakage_short", "others", ""},
    {"by_winding", "told", "; designs of its kind with such a winding draw {winding_low} to {winding_high} A"},
    {"by_winding", "not", ""},
    {"protector_class", "stated", ""},
    {"protector_class", "unstated", " (the lowest, since none is stated)"},
    {"air", "read", ""},
    {"air", "taken", ", taken since none is stated,"},
    {"bounds", "both", " beside its volts and amps ({limit_low} to {limit_high} ohm)"},
    {"bounds", "most", " beside its volts and amps (up to {limit_high} ohm)"},
    {"bounds", "none", ""},
    {"by_wire", "yes", "wire of {diameter} mm (gauge {awg})"},
    {"by_wire", "no", ""},
    {"by_turns", "too", ", or of {turns} turns"},
    {"by_turns", "alone", "{turns} turns"},
    {"by_turns", "no", ""},
    {"capacitance", "yes", "; {nanofarad} nF alone would leak this"},
    {"capacitance", "no", ""},
    {"settle", "class",
     ", and state the appliance class and whether it is portable (limits {limit_high} to {lenient} mA)"},
    {"settle", "no", ""},
    {"cord", "known", " with a cord of {length} m"},
    {"cord", "unknown", ""},
    {"class", "class_0", "a class 0 machine"},
    {"class", "class_II", "a class II machine"},
    {"class", "class_III", "a class III machine"},
    {"class", "class_0I", "this machine's frame, as the record says,"},
    {"class", "unknown", "this machine's frame, as the record says,"},
    {"state", "new", "new winding"},
    {"state", "part_rewound", "partly rewound"},
    {"state", "component", "component, not the winding"},
    {"kind", "dc", "dc, which stands for {alternating} V ac,"},
    {"brief", "yes", " for so short a time ({full} V for {full_seconds} s)"},
    {"brief", "no", " for {full_seconds} s"},
    {"both", "yes", "; IEC {iec}, NEMA {nema} V"},
    {"both", "no", ""},
    {"over", "yes", "; more than asked, and every test ages the insulation"},
    {"over", "no", ""},
    {"since", "yes", ", {earlier} at the earlier visit"},
    {"since", "no", ""},
    {"drop_known", "yes", "; it drops {drop} % of the voltage"},
    {"drop_known", "no", ""},
    {"beyond", "thin", "gauge {awg} is thinner than {smallest}, the thinnest listed"},
    {"beyond", "current", "the current is above the last one listed"},
});

}  // namespace rewound::report
