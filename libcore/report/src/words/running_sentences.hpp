// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include "words/phrase.hpp"
#include "words/sentence_entry.hpp"

namespace rewound::report {

/// Words of starting and unbalance.
inline constexpr auto running_sentences = std::to_array<sentence_entry>({
    // starting
    {verdict::statement::starts_not_tried,
     {"no start was tried", "try {minimum} starts or more in the position of use, on the slowest speed", ""}},
    {verdict::statement::starts_clean,
     {"{subject}: {successes} of {attempts} starts; that proves {reliability_percent} % or better, at "
      "{confidence_percent} % confidence{more}",
      "",
      "{attempts} clean starts prove {reliability_percent} % reliability; {needed} would prove {claimed_percent} %"}},
    {verdict::statement::starts_failed,
     {"{subject}: {successes} of {attempts} starts, and each has to succeed; its reliability lies between "
      "{low_percent} and {high_percent} %, at {confidence_percent} % confidence{more}",
      "find why it does not start in position {subject}: {start_parts}", ""}},
    {verdict::statement::starts_too_few,
     {"{subject}: {successes} of {attempts} starts, but {minimum} are asked in some position",
      "try {minimum} starts or more in one position", ""}},
    {verdict::statement::stalled_near_rating,
     {"speed {subject}: the rotor stood still at {value} V",
      "find why the rotor does not turn on speed {subject}; do not leave it energised at rest", ""}},
    {verdict::statement::stalled_where_others_turn,
     {"speed {subject}: the rotor stood still at {value} V; {turned_then} from {turned_from} V on",
      "find why the rotor turns so late on speed {subject}: bearing, capacitor, start winding or switch, rotor", ""}},
    {verdict::statement::starts_differ,
     {"{subject}: it starts less often than in the other positions, {successes} of {attempts} against "
      "{other_successes} of {other_attempts}, {fewer_percent} percentage points fewer, {fewer_low} to {fewer_high} at "
      "{confidence_percent} % confidence; by chance with probability {probability}, {comparisons} positions looked at; "
      "look for what lies otherwise there: bearing play, a rotor that rubs, the start switch",
      "", ""}},
    {verdict::statement::starts_no_difference,
     {"{subject}: {successes} of {attempts} starts against {other_successes} of {other_attempts} in the other "
      "positions can be chance (probability {probability}; {fewer_percent} percentage points fewer, {fewer_low} to "
      "{fewer_high} at {confidence_percent} % confidence)",
      "", ""}},
    {verdict::statement::starting_voltage,
     {"{subject}: lowest starting voltage {volts} V, {value} % +- {half} of the rated one{worst}; it should start at "
      "{limit_high} %",
      "{subject}: find why it starts only at {volts} V: capacitor, start winding or switch, bearing; then try again",
      ""}},
    {verdict::statement::starting_voltage_high,
     {"{subject}: lowest starting voltage {volts} V, {value} % +- {half} of the rated one{worst}; it should start at "
      "{limit_high} %",
      "", "{subject}: {below_it}"}},
    {verdict::statement::starting_voltage_impossible,
     {"{subject}: a lowest starting voltage of {volts} V is {value} % of the rated one; nothing starts below "
      "{limit_low} "
      "%",
      "{subject}: enter the lowest starting voltage again, in volts", ""}},
    {verdict::statement::time_to_speed_long,
     {"{subject}: {value} s to speed, while a small machine takes at most {limit_high} s",
      "{subject}: time the start again; if it stays, look for a start winding that stays in, a tight bearing, low "
      "voltage",
      ""}},
    {verdict::statement::starting_voltage_trend,
     {"{subject}: over {tries} tries the lowest starting voltage {trend} {value} V +- {half} a try", "", ""}},
    {verdict::statement::time_to_speed,
     {"{subject}: up to speed in {value} s{slowest}; no standard limits it", "", ""}},
    {verdict::statement::time_to_speed_trend,
     {"{subject}: over {tries} tries the time to speed {trend} {value} s +- {half} a try", "", ""}},
    // watts
    {verdict::statement::watts_impossible,
     {"speed {subject}, reading {number}: {value} W is above {limit_high} VA, volts times amperes, by more than the "
      "meters can be wrong; {count} of {of} readings are so, and were left out",
      "speed {subject}: check the wattmeter's range, its current and voltage leads and its factor, and read the watts "
      "again",
      ""}},
    {verdict::statement::power_factor,
     {"speed {subject} at {volts} V: {watts} W of {apparent} VA, power factor {value} +- {half}, reactive {reactive} "
      "var",
      "", ""}},
    {verdict::statement::no_load_friction,
     {"speed {subject}, bare shaft: friction and windage {value} W +- {half}, where the line of the power without I^2 "
      "R over the squared voltage meets no voltage ({used} readings, {from} to {to} V)",
      "", ""}},
    {verdict::statement::no_load_core,
     {"speed {subject}, bare shaft: core loss {value} W +- {half} at {volts} V{core_holds}", "", ""}},
    {verdict::statement::no_load_not_separated,
     {"speed {subject}, bare shaft: core loss cannot be told from friction and windage: {why_not_separated}", "", ""}},
    // unbalance
    {verdict::statement::unbalance_of_lines,
     {"speed {subject}: the line currents differ from their mean by up to {value} % +- {half}, at most {limit_high} %",
      "speed {subject}: measure the three line voltages, roll the leads and read the currents again", ""}},
    {verdict::statement::unbalance_by_supply,
     {"speed {subject}: the line currents differ from their mean by up to {value} % +- {half}, at most {limit_high} % "
      "is allowed, but line voltages that differ by {voltage} % can explain up to {explained} %",
      "speed {subject}: roll the three leads one line on and read the currents again, which tells supply from winding",
      ""}},
    {verdict::statement::unbalance_of_winding,
     {"speed {subject}: of line currents that differ by up to {together} %, {value} % +- {half} went along with the "
      "windings when the leads were rolled, at most {limit_high} %, and {line} % stayed with the lines{seat}",
      "speed {subject}: what stayed with the lines is the supply's or the ammeters': even the line voltages, read all "
      "lines with one ammeter; what went along is in the winding: measure the ohms between its leads",
      ""}},
    {verdict::statement::rolled_elsewhere,
     {"speed {subject}: with rolled leads there is no reading within 2 % of {value} V: not compared", "", ""}},
    {verdict::statement::voltage_unbalance_small,
     {"speed {subject}: the line voltages differ from their mean by up to {value} % +- {half} at {volts} V, no more "
      "than the {free} % that ask nothing",
      "", ""}},
    {verdict::statement::voltage_unbalance_derates,
     {"speed {subject}: the line voltages differ from their mean by up to {value} % +- {half} at {volts} V, at most "
      "{limit_high} %; above {free} % a machine gives less, here about {share_percent} % of its rated output, or its "
      "windings rise about {hotter} % more (twice the square, from memory)",
      "",
      "on line voltages that differ by {value} % as on the bench load it with {share_percent} % of its rated output"}},
    {verdict::statement::voltage_unbalance_beyond,
     {"speed {subject}: the line voltages differ from their mean by up to {value} % +- {half} at {volts} V; above "
      "{limit_high} % no machine should run, and this one cannot be judged on them",
      "even the three line voltages of the bench supply before anything else is read", ""}},
});

/// Phrases for texts of these findings: key, value, phrase.
inline constexpr auto running_phrases = std::to_array<phrase>({
    {"core_holds", "core", ""},
    {"core_holds", "rotor",
     ", with the rotor's I^2 R, a quarter of the standstill one, in it: the rotor's resistance is not stated"},
    {"core_holds", "second_winding", ", with the loss of the second winding or shading ring and of the rotor in it"},
    {"why_not_separated", "no_resistance", "the resistance that its current flows through is not in the record"},
    {"why_not_separated", "too_few",
     "it takes three readings of watts or more from the current's minimum up to {highest} % of the rated voltage, here "
     "{used}"},
    {"why_not_separated", "not_told",
     "{value} W +- {half} at no voltage may be nothing; read more voltages, lower down"},
    {"why_not_separated", "below_nothing",
     "{value} W +- {half} at no voltage is below nothing; the speed sags with the voltage, or watts or ohms are wrong"},
    {"seat", "winding", ": it sits in the winding"},
    {"seat", "line", ": it comes from the supply or the ammeters"},
    {"seat", "both", ""},
    {"more", "none", ""},
    {"more", "further", "; {further} more starts without failure would prove {claimed_percent} %"},
    {"more", "further_failed",
     "; as it is {further} more starts without failure would prove {claimed_percent} %, after a repair {needed}"},
    {"worst", "one", ""},
    {"worst", "several", " (highest of {tries} tries)"},
    {"slowest", "one", ""},
    {"slowest", "several", " (longest of {tries} tries)"},
    {"trend", "rises", "rises, by"},
    {"trend", "falls", "falls, by"},
    {"trend", "steady", "shows no certain trend:"},
});

}  // namespace rewound::report
