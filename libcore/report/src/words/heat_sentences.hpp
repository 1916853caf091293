// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include "words/phrase.hpp"
#include "words/sentence_entry.hpp"

namespace rewound::report {

/// Sentences on heat run and coast-down.
inline constexpr auto heat_sentences = std::to_array<sentence_entry>({
    {verdict::statement::heat_run_final_rise,
     {"final rise {value} K ({low} to {high}) {rise_from}; class {class_C}{thermal_class} allows {limit_high} K over "
      "air of {base} degC",
      "{heat_settle}", ""}},
    {verdict::statement::heat_run_hottest,
     {"in air of 40 degC the winding would reach {value} degC ({low} to {high}){ambient_range}", "", ""}},
    {verdict::statement::heat_run_on_mains,
     {"on {supply_V} V the final rise would be about {value} K ({low} to {high}), {run_voltage}, the rise taken to go "
      "with {losses_by}",
      "", ""}},
    {verdict::statement::heat_run_course,
     {"time constant {tau} min{heat_parts}; changed {change} K in the last 30 min, steady at {limit_high} K: {steady}; "
      "{known}",
      "", ""}},
    {verdict::statement::heat_run_switch_off, {"rise at switch-off {value} +- {half} K, {cooling_by}", "", ""}},
    {verdict::statement::heat_run_not_cooling,
     {"the readings after switch-off do not cool towards the ambient: they were not used", "",
      "the readings after switch-off of the heat run were not used"}},
    {verdict::statement::heat_run_falling,
     {"the winding cools while the heat run heats it: the final rise cannot be projected",
      "check supply, contacts and times of the heat run, and make it again from cold", ""}},
    {verdict::statement::heat_run_not_moving,
     {"nothing changed since the cold reading, while a winding that is run warms: another winding was measured, or a "
      "lead "
      "is on the wrong terminal",
      "put the ohmmeter's leads on the winding that carries the current, read it cold, and make the heat run again",
      ""}},
    {verdict::statement::heat_run_too_few,
     {"the heat run has too few readings to project from: three or more are needed",
      "go on with the heat run and read every few minutes", ""}},
    {verdict::statement::coast_down_terms,
     {"at {rpm} rpm it slows by {value} +- {half} rpm/s: constant (bearing) {constant} %, linear (viscous) {linear} %, "
      "quadratic (windage) {quadratic} %{stops}",
      "", ""}},
    {verdict::statement::coast_down_torque,
     {"with the inertia stated, friction at {rpm} rpm takes {value} +- {half} N m, {watts} W: constant {constant}, "
      "linear {linear}, quadratic {quadratic} N m",
      "", ""}},
    {verdict::statement::coast_down_growth,
     {"{friction_term} grew by {value} % +- {half} of the earlier visit's friction; looked into above {limit_high} %",
      "repeat the coast-down warm, supply off and windings open; if it stays: bearings, lubrication and alignment for "
      "the constant and linear terms, blades and guards for the quadratic one",
      ""}},
    {verdict::statement::coast_down_beside_good,
     {"{friction_term} lies {value} % +- {half} of all friction off the mean of {machines} good machines; a good one "
      "stays below {limit_high} %",
      "repeat the coast-down warm, supply off and windings open; if it stays: bearings, lubrication and alignment for "
      "the constant and linear terms, blades and guards for the quadratic one",
      ""}},
    {verdict::statement::coast_down_as_before,
     {"{friction_term} lies {value} % +- {half} of all friction off the mean of {machines} good machines, above the "
      "{limit_high} % that a good one stays below; the earlier visit decides",
      "", "{friction_term} lies above that of good machines, {value} % of their friction"}},
    {verdict::statement::coast_down_shaft_differs,
     {"the earlier coast-down was made with another shaft condition (bare or loaded): they were not compared", "", ""}},
    {verdict::statement::coast_down_not_slowing,
     {"the speeds of the coast-down do not fall with time: no friction can be had from them",
      "repeat the coast-down with the supply off, and enter speeds against the time since then", ""}},
    {verdict::statement::coast_down_too_few,
     {"the coast-down has too few readings in motion: three or more are needed",
      "repeat the coast-down with ten readings or more", ""}},
    {verdict::statement::not_recorded, {"not tested", "", ""}},
});

/// Phrases for texts of those findings: key, value, phrase.
inline constexpr auto heat_phrases = std::to_array<phrase>({
    {"rise_from", "switch_off", "by resistance at switch-off"},
    {"rise_from", "thermometer", "by thermometer, which reads less than the winding's mean and is given a lower limit"},
    {"rise_from", "resistance", "by resistance, projected"},
    {"thermal_class", "stated", ""},
    {"thermal_class", "unstated", " (the lowest, since none is stated)"},
    {"heat_settle", "class", "enter the insulation class, which sets the limit of the heat run"},
    {"heat_settle", "entries", ""},
    {"heat_settle", "length",
     "run it on for {more} minutes more: a body that warms with {slow} min has not shown yet how far it goes"},
    {"heat_settle", "readings",
     "go on with the heat run: {least_readings} readings or more are needed for a release by it"},
    {"heat_settle", "run",
     "run it on for {more} minutes more and read every few minutes, which would tell the final rise"},
    {"heat_settle", "meters",
     "measure again with finer meters, cold and hot; if it stays, look for overload, blocked air, high voltage"},
    {"ambient_range", "inside", ", taking the rise to be the same there"},
    {"ambient_range", "outside",
     ", taking the rise to be the same there; the test's air of {ambient} degC lies outside 10 to 40 degC"},
    {"heat_settle", "voltage", "make the heat run at the rated voltage, {rated_V} V: it was made at {run_V} V"},
    {"run_voltage", "stated", "the run having been made at {run_V} V"},
    {"run_voltage", "assumed", "the run taken to have been made at {run_V} V"},
    {"losses_by", "watts", "the fitted watts"},
    {"losses_by", "current", "the fitted current squared"},
    {"heat_parts", "one", ""},
    {"heat_parts", "two", " and a fast part of {tau_fast} min"},
    {"steady", "none", "it may be stopped"},
    {"steady", "some", "in about {until_steady} min more"},
    {"steady", "unknown", "not in sight"},
    {"known", "none", "the readings give the final rise within {known_K} K"},
    {"known", "some", "{until_known} min more give the final rise within {known_K} K"},
    {"known", "unknown", "when the final rise is known within {known_K} K cannot be told"},
    {"cooling_by", "extrapolated", "the cooling readings carried back to it (logarithm over the ambient's value)"},
    {"cooling_by", "highest_taken", "the highest reading, since it still rose after switch-off"},
    {"cooling_by", "first_taken", "one reading as it is: a lower bound"},
    {"stops", "yes", "; standstill after {stop} s"},
    {"stops", "no", "; no constant term is seen"},
    {"friction_term", "total", "all friction together"},
    {"friction_term", "constant", "the constant term (bearing)"},
    {"friction_term", "linear", "the linear term (viscous)"},
    {"friction_term", "quadratic", "the quadratic term (windage)"},
});

}  // namespace rewound::report
