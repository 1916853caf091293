// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <span>
#include <string_view>

#include <rewound/report/wording.hpp>
#include <rewound/verdict/limit_tables.hpp>

#include "words/cause_words.hpp"
#include "words/cold_phrases.hpp"
#include "words/heat_sentences.hpp"
#include "words/insulation_phrases.hpp"
#include "words/running_sentences.hpp"

namespace rewound::report {

namespace {

using verdict::statement;

constexpr auto sentences = std::to_array<sentence_entry>({
    // draw
    {statement::speed_not_run,
     {"speed {subject} was not run up",
      "run up speed {subject}: volts and amps at four voltages or more, the rated one among them", ""}},
    {statement::speed_without_usable_reading,
     {"speed {subject} has no reading that can be used", "take the readings of speed {subject} again", ""}},
    {statement::draw_against_nameplate,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; marked {marked} A, allowed up to {limit_high} "
      "A{extrapolated}",
      "{reread}", ""}},
    {statement::draw_under_nameplate_ceiling,
     {"speed {subject} draws {value} A +- {half}, under the ceiling of {limit_high} A that the marked current sets; a "
      "weak test{usually}{extrapolated}",
      "read speed {subject} again at the rated voltage; compare with an earlier visit or a good machine of the model",
      "slower speeds were judged by the marked current alone, which says little of them"}},
    {statement::draw_far_below_nameplate,
     {"speed {subject} draws {value} A +- {half} at the rated voltage, far below the marked {marked} A; no standard "
      "limits this, but it is looked into",
      "check the ammeter's range and that all windings of speed {subject} carry current, then read it again", ""}},
    {statement::draw_far_below_faster,
     {"speed {subject} draws {value} A +- {half}, a small share of the next faster speed's {faster} A; no standard "
      "limits this, but it is looked into",
      "check that speed {subject} is connected and the ammeter's range is right, then read it again", ""}},
    {statement::power_against_nameplate,
     {"speed {subject} takes {value} W +- {half} at the rated voltage; marked {marked} W, allowed up to {limit_high} W",
      "read the watts of speed {subject} again at the rated voltage", ""}},
    {statement::draw_watts_not_read,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; the plate is marked in watts alone, {marked} W, "
      "and none were read",
      "read the watts on every speed at the rated voltage: the plate is marked in watts", ""}},
    {statement::draw_below_fastest,
     {"speed {subject} draws {value} A +- {half}, no more than the {limit_high} A of the fastest speed, whose watts "
      "were "
      "judged; a weak test{usually}",
      "read the watts on every speed at the rated voltage: the plate is marked in watts",
      "slower speeds were judged by the fastest one, which says little of them"}},
    {statement::draw_by_heat,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; nothing is marked, and a heat run to its end, "
      "well "
      "inside the limit, shows that the machine stands it{usually}",
      "", "nothing is marked on the plate: that the draw is right rests on the heat run"}},
    {statement::draw_needs_heat,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; neither amperes nor watts are "
      "marked{by_winding}{usually}",
      "make a heat run on the fastest speed at today's mains, to its end: it shows whether the draw is right", ""}},
    {statement::draw_on_mains,
     {"from the rated voltage to today's {mains} V speed {subject} rises by {rise} % to {now} A, exponent {value} +- "
      "{half}: as machines of its kind do",
      "", ""}},
    {statement::draw_outruns_on_mains,
     {"from the rated voltage to today's {mains} V speed {subject} rises by {rise} % to {now} A, exponent {value} +- "
      "{half}; of machines of its kind one in a hundred is above {limit_high}. For {flux} % more flux the copper takes "
      "{copper} % more heat: its iron is saturated",
      "make a heat run at {mains} V, to its end, or run it through a transformer at its rated voltage", ""}},
    {statement::draw_unread_on_mains,
     {"speed {subject} was read up to {read} V, and today's mains is {mains} V: what it draws there is not known",
      "read every speed once at today's mains, {mains} V",
      "speed {subject} was read up to {read} V only: what it draws on today's {mains} V is carried on from below"}},
    {statement::causes_against_release,
     {"no test failed, but that nothing is wrong has a probability of {probability} only, {limit_low} is asked; "
      "likelier: "
      "{likelier}",
      "{look_for}", ""}},
    {statement::draw_by_winding,
     {"speed {subject} draws {value} A +- {half} at the rated voltage, {against_winding} what machines with such a "
      "main winding draw: about {expected} A, 95 % between {limit_low} and {limit_high} A; too wide to judge "
      "by",
      "measure the ohms of the main winding again; then make a heat run on the fastest speed at today's mains, to its "
      "end: "
      "it shows whether the draw is right",
      ""}},
    {statement::draw_against_earlier,
     {"speed {subject} draws {now} A at the rated voltage, {value} % +- {half} against {expected} A at the earlier "
      "visit; allowed {limit_low} to {limit_high} %{extrapolated}",
      "{settled_by}", ""}},
    {statement::draw_joint_test,
     {"an unchanged machine would differ this much from the earlier visit, all speeds together, with probability "
      "{probability} (limit {limit_low})",
      "repeat the run-up on all speeds with the meters of the earlier visit; if it stays, look for what changed since",
      ""}},
    {statement::draw_against_reference,
     {"speed {subject} draws {now} A at the rated voltage, {value} % +- {half} against {expected} A of good machines; "
      "allowed {limit_low} to {limit_high} %{extrapolated}",
      "{settled_by}", ""}},
    {statement::draw_joint_reference,
     {"beside the good machines of its model ({machines}) a machine this far off has probability {probability} (limit "
      "{limit_low}), all speeds and readings together",
      "repeat the run-up on all speeds; if it stays, look for the cause, watts and rpm beside the amps tell most", ""}},
    {statement::draw_joint_nameplate,
     {"by circuit, control and nameplate, a machine this far from designs of its kind has probability {probability} "
      "(limit {limit_low}), all speeds and readings together",
      "repeat the run-up on all speeds; if it stays, look for the cause, or compare with a good machine of the model",
      ""}},
    {statement::reference_shaft_differs,
     {"the reference was learnt with another shaft condition (bare or loaded): it was not used", "", ""}},
    {statement::earlier_shaft_differs,
     {"the earlier visit was read with another shaft condition (bare or loaded): its currents were not compared", "",
      ""}},
    {statement::earlier_speed_missing,
     {"speed {subject} draws {value} A +- {half}, but what it is compared with has no usable reading of it",
      "run up speed {subject} and compare it with a good machine of the model", ""}},
    {statement::earlier_without_common_speed,
     {"the earlier visit has no usable reading of any of these speeds: it was not compared", "",
      "the earlier visit could not be compared"}},
    {statement::earlier_same_day,
     {"the earlier visit bears the same date as this one", "",
      "the earlier visit bears the same date: it shows little of what changed"}},
    {statement::earlier_never_judged,
     {"nothing is marked on the plate: the earlier visit shows that the draw stayed, not that it is right", "",
      "that the draw is right rests on the earlier visit alone, of a machine without marked amperes or watts"}},
    {statement::earlier_other_winding,
     {"the earlier visit was made on another winding (its year differs): it was not compared", "",
      "the earlier visit was of another winding and could not be compared"}},
    {statement::earlier_as_found,
     {"at the earlier visit the machine was as found, and it draws less or turns faster since: its draw was not held "
      "against that",
      "", ""}},
    {statement::visit_in_reference,
     {"the reference was learnt from this visit too: it was left out of the comparison", "", ""}},
    {statement::not_run_at_rated,
     {"speed {subject} was not read within a tenth of the rated voltage: what it draws there is carried on from below",
      "", "speed {subject} was never read near its rated voltage; read it there before it is left to run"}},
    // steps
    {statement::steps_in_order,
     {"at {voltage} V the speeds draw in order, fastest first (probability {probability})", "", ""}},
    {statement::steps_swapped,
     {"the speeds do not draw in the order listed; by their currents at {voltage} V the order is {best_order} "
      "(probability {probability})",
      "exchange the speed leads back to that order, or check by rpm which speed is which", ""}},
    {statement::steps_reversed,
     {"the speeds draw in reversed order at {voltage} V: {best_order} (probability {probability})",
      "put the speed leads at the control in the reverse order, then read again", ""}},
    {statement::steps_merged,
     {"two neighbouring speeds draw the same current at {voltage} V (probability {probability})",
      "look for a bridged speed section or two leads on one tap; measure the ohms of each tap", ""}},
    {statement::steps_unclear,
     {"the speeds lie too close together at {voltage} V to say whether they are in order (probability {probability}, "
      "{limit_low} is asked)",
      "read all speeds one after the other at the rated voltage, three times each, with a finer ammeter; note rpm",
      ""}},
    {statement::steps_not_promised,
     {"this kind of speed control promises no order of the currents; by current it is {best_order}",
      "read rpm at the rated voltage on every speed", ""}},
    {statement::steps_equal,
     {"{equal} show the same amperes at {voltage} V, read with one meter in the same minutes: one tap for both, a "
      "bridged "
      "speed section, or the switch",
      "power off, measure the ohms from common to each speed lead ({equal}): equal ohms mean one tap or a bridge, "
      "different ohms the switch",
      ""}},
    {statement::steps_tendency,
     {"by their currents at {voltage} V the order is {best_order} (probability {probability}); with this speed control "
      "that is a tendency and no proof",
      "power off, measure the ohms from common to each speed lead, then note rpm on every speed", ""}},
    {statement::steps_currents_against_rotation,
     {"rpm are in order, but a slower speed takes more current than the next faster one at {voltage} V; by current the "
      "order is {best_order}",
      "power off, measure the ohms from common to each speed lead: a shorted speed section shows there", ""}},
    {statement::steps_single_speed, {"one speed: there are no steps to judge", "", ""}},
    {statement::steps_speed_missing,
     {"the order of the speeds cannot be judged without {missing}", "run up the missing speed: {missing}", ""}},
    {statement::steps_by_rotation, {"by rpm at {voltage} V the speeds are in order, fastest first", "", ""}},
    {statement::steps_against_rotation,
     {"by rpm at {voltage} V the speeds are not in the order listed; the order is {best_order}",
      "exchange the speed leads back to that order", ""}},
    {statement::steps_as_good_machines,
     {"each speed draws as that speed does on good machines of the model (probability {probability} against all other "
      "orders)",
      "", ""}},
    {statement::steps_unlike_good_machines,
     {"beside good machines of the model the speeds are exchanged; the order is {best_order} (probability "
      "{probability})",
      "exchange the speed leads back to that order", ""}},
    {statement::step_against_expected,
     {"from {subject} the current changes {value} % +- {half} otherwise than expected; allowed {limit_low} to "
      "{limit_high} %",
      "measure the ohms of each speed's section and of the speed control, {subject}", ""}},
    // supply
    {statement::supply_voltage_window,
     {"the mains lies {value} % from the rated voltage, allowed {limit_low} to {limit_high} %; flux {flux_ratio} of "
      "rated",
      "", ""}},
    {statement::supply_voltage_outside,
     {"the mains lies {value} % from the rated voltage, outside {limit_low} to {limit_high} %; flux {flux_ratio} of "
      "rated",
      "", "not on today's mains as it is: run it through a transformer to {rated} V (ratio {transformer_ratio})"}},
    {statement::supply_frequency_not_given,
     {"the frequency of today's mains is not in the record", "",
      "the frequency of the mains was not noted: it has to be {rated} Hz"}},
    {statement::supply_frequency_window,
     {"the mains frequency lies {value} % from the rated one, allowed {limit_low} to {limit_high} %", "", ""}},
    {statement::supply_frequency_outside,
     {"the mains frequency lies {value} % from the rated one, outside {limit_low} to {limit_high} %", "",
      "not on today's mains of {mains} Hz: it is made for {rated} Hz"}},
    {statement::supply_frequency_of_run_up,
     {"the mains frequency lies {value} % from the rated one, and on which of them the run-ups were made is not said",
      "enter the frequency that the run-ups were made on",
      "not on today's mains of {mains} Hz: it is made for {rated} Hz"}},
    {statement::supply_combined_window,
     {"voltage and frequency together lie {value} % from the rating, allowed {limit_high} %", "", ""}},
    {statement::supply_combined_outside,
     {"voltage and frequency together lie {value} % from the rating, allowed {limit_high} %", "",
      "voltage and frequency of today's mains together lie too far from the rating: bring the voltage nearer to "
      "{rated} "
      "V"}},
    {statement::supply_draw, {"speed {subject} will draw about {value} A +- {half} at {supply_V} V", "", ""}},
    {statement::supply_power, {"speed {subject} will take about {value} W +- {half} at {supply_V} V", "", ""}},
    {statement::supply_not_given,
     {"today's mains is not in the record: the supply was not compared with the rating",
      "enter the voltage of today's mains", "the mains it will run on was not compared with its rating"}},
    // insulation
    {statement::insulation_not_measured,
     {"no insulation resistance was measured",
      "measure winding to frame for one minute with the insulation resistance tester before anything is energised",
      ""}},
    {statement::insulation_of_part,
     {"by the names of the circuits only {tested} was tested to the frame, and {untested} was not",
      "measure {untested} to frame for one minute; if the brushes were in, enter the circuit as winding to frame", ""}},
    {statement::insulation_without_frame,
     {"no insulation circuit names the frame as one end: what a hand may touch was not tested",
      "measure winding to frame for one minute, and enter the circuit as such", ""}},
    {statement::insulation_impossible,
     {"{subject}: {read} Mohm is more than a winding has ({limit_high} Mohm): open leads read so, and ohms entered as "
      "megohms",
      "{subject}: see that both leads are on, short them once to see zero, and measure again", ""}},
    {statement::insulation_winding_warm,
     {"{subject}: {read} Mohm at {winding_C} degC is {value} Mohm at 40 degC, at least {limit_low} Mohm; in air of "
      "{air_C} degC{air} it is warmer than the room, and at the room's temperature it would be {at_air} Mohm",
      "{subject}: read the winding's temperature again, in degrees Celsius, or let it cool and measure again", ""}},
    {statement::insulation_fell,
     {"{subject}: fell to {now} Mohm at 40 degC from {earlier} at the earlier visit, by {value} times",
      "{subject}: find what lets the current through, moisture or dirt; clean, dry and measure again",
      "{subject}: its insulation fell {value} times since the earlier visit"}},
    {statement::insulation_test_voltage_impossible,
     {"{subject}: tested with {value} V, more than {limit_high} V: a slip of the pen, or the insulation was "
      "overstressed",
      "{subject}: enter the test voltage again; if it was so high, test again with the voltage recommended", ""}},
    {statement::insulation_no_one_minute,
     {"{subject}: there is no reading at 60 s, and the limit is for one minute{fitted}",
      "measure {subject} again and read at 60 s", ""}},
    {statement::insulation_minimum,
     {"{subject}: {read} Mohm at one minute and {winding_C} +- {winding_half} degC{winding_from} is {value} +- {half} "
      "Mohm at 40 degC ({system}); at least {limit_low} Mohm{era}{connection}{borrowed}",
      "{subject}: clean and dry the winding, let it stand above the dew point, and measure again", ""}},
    {statement::insulation_unstated,
     {"{subject}: {read} Mohm at one minute and {winding_C} +- {winding_half} degC{winding_from} is {thermosetting} "
      "Mohm "
      "at 40 degC as a thermosetting, {thermoplastic} Mohm as a thermoplastic system; whether that is enough depends "
      "on "
      "{unstated}{connection}{borrowed}",
      "enter {unstated}: the answer depends on it", ""}},
    {statement::insulation_fresh_low,
     {"{subject}: {read} Mohm at one minute and {winding_C} +- {winding_half} degC{winding_from} is {value} +- {half} "
      "Mohm at 40 degC; a winding that is new today shows at least {limit_low} Mohm unless it is damp or not cured",
      "{subject}: dry or cure the new winding and measure again", ""}},
    {statement::insulation_outside_correction,
     {"{subject}: {read} Mohm at {winding_C} +- {winding_half} degC{winding_from} would be about {value} Mohm at 40 "
      "degC, but the thermosetting correction is not valid outside 10 to 85 degC; at least {limit_low} Mohm, held "
      "against the reading as it stands{era}{connection}",
      "{subject}: bring the winding to between 10 and 40 degC and measure again", ""}},
    {statement::insulation_test_voltage_low,
     {"{subject}: tested with {value} V, less than the {limit_low} V that the limit is written for",
      "{subject}: measure again with {limit_low} V, if the winding and everything connected to it may take it", ""}},
    {statement::insulation_test_voltage_high,
     {"{subject}: tested with {value} V, more than the {limit_high} V recommended; the reading stands", "", ""}},
    {statement::insulation_test_voltage_right, {"{subject}: tested with {value} V, as recommended", "", ""}},
    {statement::polarization_minimum,
     {"{subject}: polarization index {value} +- {half}, at least {limit_low}{random_wound}",
      "{subject}: clean and dry the winding and repeat the ten-minute test", ""}},
    {statement::polarization_information,
     {"{subject}: polarization index {value}, for information by the policy", "", ""}},
    {statement::polarization_class_unknown,
     {"{subject}: polarization index {value} +- {half}; the insulation class is not stated, so the stricter "
      "{limit_low} is asked{random_wound}",
      "enter the insulation class", ""}},
    {statement::polarization_class_not_listed,
     {"{subject}: polarization index {value}; the standard lists no minimum for this insulation class: the one-minute "
      "value and its trend count",
      "", ""}},
    {statement::polarization_ends,
     {"{subject}: polarization index {value} is not judged, since {at_40} Mohm at 40 degC is above {ends} Mohm: the "
      "one-minute value and its trend count",
      "", ""}},
    {statement::polarization_high,
     {"{subject}: polarization index {value} is above {limit_high}: it may be dried, brittle insulation",
      "{subject}: look at the insulation before any further test; do not flex it", ""}},
    {statement::polarization_not_measured,
     {"{subject}: no polarization index, which takes readings at 60 s and 600 s", "", ""}},
    {statement::absorption_information,
     {"{subject}: ratio of 60 s to 30 s, read, is {value} +- {half}, for information: no standard limits it", "", ""}},
    {statement::absorption_predicted,
     {"{subject}: ratio of 60 s to 30 s, not read but predicted from the other readings, is {value} ({low} to {high}), "
      "for information: no standard limits it",
      "", ""}},
    {statement::short_ratio,
     {"{subject}: ratio of 60 s to 10 s, read, is {value} +- {half}; a field check of small motors asks {limit_low}, "
      "both readings above {least} Mohm; for information",
      "", ""}},
    {statement::polarization_predicted,
     {"{subject}: polarization index not read; predicted from readings up to {longest} s it is {value} ({low} to "
      "{high}), with {ten} Mohm ({ten_low} to {ten_high}) at ten minutes; it takes a ten-minute test to tell",
      "", ""}},
    {statement::polarization_absorption_died,
     {"{subject}: polarization index {value} is not judged: on this small random-wound winding the absorption current "
      "was there in the first minute and gone by the third ({late} times up to the tenth); the one-minute value, the "
      "ratio of the first minute and the trend count",
      "", ""}},
    {statement::insulation_current_split,
     {"{subject}: leakage current {value} +- {half} uA, and absorption current {absorption} +- {absorption_half} uA at "
      "one minute that falls as time to the power -{exponent} (+- {exponent_half})",
      "", ""}},
    {statement::insulation_curve_falling,
     {"{subject}: the resistance falls while the test voltage stands ({value} % by reading {number}); a sound "
      "winding's rises or stays",
      "{subject}: discharge the winding for four times the test's time, clean and dry it, look for a wet or dirty "
      "path, and measure again",
      ""}},
    {statement::insulation_curve_dipping,
     {"{subject}: the resistance falls first ({value} % by reading {number}) and rises then, as on a winding still "
      "charged from an earlier test, or with the leads the other way round than then",
      "{subject}: discharge the winding for four times the earlier test's time, put the negative lead to the winding "
      "(IEEE 43, from memory), and measure again",
      ""}},
    {statement::insulation_curve_erratic,
     {"{subject}: the resistance goes up and down while the test voltage stands (by {value} % at reading {number})",
      "{subject}: look for a loose lead, surface moisture or a misread value, discharge the winding for four times the "
      "test's time, and measure again",
      ""}},
    {statement::insulation_curve_steep,
     {"{subject}: the resistance rises faster than time itself ({value} % to reading {number}): the winding cools "
      "meanwhile, or it still held a charge of the other polarity",
      "{subject}: let the winding come to the room's temperature, discharge it for four times the earlier test's time, "
      "and measure again",
      ""}},
    {statement::insulation_above_dew_point,
     {"{subject}: the winding was {value} +- {half} K above the dew point of {dew_point} degC", "", ""}},
    {statement::insulation_near_dew_point,
     {"{subject}: the winding's temperature less the dew point of {dew_point} degC was {value} +- {half} K, which does "
      "not rule out a wet surface",
      "{subject}: warm the winding some kelvins above the room, or air the room, and measure again", ""}},
    {statement::insulation_humidity_not_given,
     {"{subject}: whether the winding was above the dew point is not known: temperature and humidity of the air tell",
      "", ""}},
    {statement::insulation_accuracy_assumed, {"assumed:{tester}{tester_too}{thermometer}", "", ""}},
    {statement::insulation_appliance_minimum,
     {"{subject}: {value} +- {half} Mohm, not corrected; an appliance of this class is asked {limit_low} Mohm after "
      "repair",
      "{subject}: clean and dry the winding and measure again", ""}},
    {statement::insulation_trend_one_visit, {"{subject}: one visit tells no trend", "", ""}},
    {statement::insulation_trend_slope,
     {"{subject}: {value} % a year ({low} to {high}) over {visits} visits and {years} years, which are taken to differ "
      "by {repeat} % without a cause{system_of_trend}",
      "", ""}},
    {statement::insulation_trend_step,
     {"{subject}: a step by the factor {value} ({low} to {high}) between {before} and {after}{work}",
      "{subject}: find what changed between {before} and {after}", ""}},
    {statement::insulation_trend_rewound,
     {"{subject}: another winding since {after}: the visits before it are shown and not in the line", "", ""}},
    {statement::insulation_trend_test_voltage,
     {"{subject}: tested with different voltages ({voltages} V): a change may be the voltage's", "", ""}},
    {statement::insulation_trend_below_now,
     {"{subject}: already below {limit_low} Mohm at the last visit",
      "{subject}: clean and dry the winding, and judge the last visit's record", ""}},
    {statement::insulation_trend_crosses,
     {"{subject}: at this rate it falls to {limit_low} Mohm about {date}, {value} years after the last visit; 95 %: "
      "{earliest} to {latest}",
      "{subject}: measure again well before {earliest}", ""}},
    {statement::insulation_trend_not_within,
     {"{subject}: does not fall to {limit_low} Mohm within {horizon} years of the last visit (95 %)", "", ""}},
    {statement::insulation_trend_cannot_tell,
     {"{subject}: whether it falls to {limit_low} Mohm within {horizon} years cannot be told from these visits; it may "
      "be as early as {earliest} (95 %)",
      "{subject}: measure again before {earliest}, with a stated tester and thermometer", ""}},
    // resistance
    {statement::resistance_not_measured,
     {"no winding resistance was measured", "measure the winding's resistance and temperature, machine disconnected",
      ""}},
    {statement::resistance_without_main,
     {"the winding that carries the current was not measured: start windings and taps alone were",
      "measure the ohms of the main winding, machine disconnected", ""}},
    {statement::resistance_against_expected,
     {"section {subject}: {ohm} ohm at 20 degC ({ohm_25} at 25 degC), {value} % +- {half} against the expected "
      "{expected} ohm; allowed {limit_low} to {limit_high} %",
      "measure section {subject} again at a well-known temperature with a four-wire ohmmeter", ""}},
    {statement::resistance_against_earlier,
     {"section {subject}: {ohm} ohm at 20 degC ({ohm_25} at 25 degC), {value} % +- {half} against {expected} ohm at "
      "the earlier visit; allowed {limit_low} to {limit_high} %",
      "measure section {subject} again at a well-known temperature with the ohmmeter of the earlier visit", ""}},
    {statement::resistance_alone,
     {"section {subject}: {value} ohm at 20 degC ({ohm_25} at 25 degC); noted, since there is nothing to compare "
      "it with",
      "", "the resistance of section {subject} is noted: there was nothing to compare it with"}},
    {statement::resistance_implausible,
     {"section {subject}: {value} ohm at 20 degC, which no such winding of this machine has{bounds}",
      "measure section {subject} again: check the range and the contacts", ""}},
    {statement::resistance_against_wire,
     {"section {subject}: {ohm} ohm at 20 degC ({ohm_25} at 25 degC), {value} % +- {half} against {expected} ohm "
      "computed from its wire; allowed {limit_low} to {limit_high} %",
      "section {subject}: check wire size, strands, turns and mean turn, and measure it again with a four-wire "
      "ohmmeter",
      ""}},
    {statement::resistance_beside_earlier,
     {"section {subject}: {value} % +- {half} against {expected} ohm at the earlier visit", "", ""}},
    {statement::resistance_beside_wire,
     {"section {subject}: {value} % +- {half} against {expected} ohm computed from its wire", "", ""}},
    {statement::resistance_leads_assumed,
     {"section {subject}: neither four wires nor the resistance of the test leads is stated for this low-ohmic "
      "section; leads of 0 "
      "to {most} ohm were assumed, {taken_off} ohm taken off",
      "", "the test leads' part of the resistance of section {subject} was assumed"}},
    {statement::resistance_without_counterpart,
     {"{subject} was not compared: the earlier visit has no section of this name, but {sections}", "",
      "{subject} was not compared with the earlier visit: name it as there, where it is one of {sections}"}},
    {statement::resistance_explained,
     {"section {subject}: its ohms are those of {by_wire}{by_turns}, the rest of the winding as stated", "", ""}},
    {statement::resistance_balance,
     {"group {subject}: section {farthest} lies {value} % +- {half} off the mean of sections that should be equal; "
      "allowed {limit_low} to {limit_high} %",
      "group {subject}: measure the sections again at one temperature with a four-wire ohmmeter; if it stays, count "
      "the turns of section {farthest}",
      ""}},
    {statement::resistance_order,
     {"the resistance from common rises by {value} % +- {half} from speed {faster} to speed {subject}; with this speed "
      "control each slower speed has more",
      "check the leads of speeds {faster} and {subject}: the slower one should have more ohms; then measure both again",
      ""}},
    {statement::resistance_order_by_name,
     {"the resistance of section {subject} differs by {value} % +- {half} from that of section {faster}; read from "
      "common "
      "to "
      "the leads of these speeds, the slower one has more",
      "measure from common to the leads of {faster} and {subject} again, and enter the speed of each section", ""}},
    {statement::resistance_order_not_promised,
     {"the resistance from common rises by {value} % +- {half} from speed {faster} to speed {subject}; this speed "
      "control promises no order",
      "", ""}},
    // leakage and earth
    {statement::leakage_not_measured,
     {"the cord does not earth the frame and no leakage current was measured (limit {limit_high} mA)",
      "have the leakage current to the frame measured, both polarities, switch on and off{leakage_by}", ""}},
    {statement::leakage_limit,
     {"{subject}: leakage {value} mA +- {half}, at most {limit_high} mA{capacitance}",
      "{subject}: clean and dry the winding, measure the leakage again{settle}", ""}},
    {statement::leakage_not_due,
     {"leakage was not measured; at this extra-low voltage the policy does not need it", "", ""}},
    {statement::leakage_not_needed,
     {"leakage was not measured; its limit is {limit_high} mA, and a release does not need it while the earth "
      "connection "
      "conforms",
      "", ""}},
    {statement::leakage_ways_needed,
     {"leakage counts with the switch on, in both polarities; missing: {missing}",
      "have the leakage measured with: {missing}; enter polarity and switch of each reading", ""}},
    {statement::leakage_low_voltage,
     {"{subject}: leakage {value} mA was read at {volts} V: below {least} V it says little of the insulation under the "
      "rated voltage",
      "{subject}: measure the leakage again at {full} V", ""}},
    {statement::leakage_nothing_flows,
     {"{subject}: {read} mA, less than any winding's capacitance lets through (at least {limit_low} mA): the meter may "
      "not have been connected",
      "{subject}: see that the meter's leads are on, and measure the leakage again", ""}},
    {statement::earth_not_measured,
     {"the frame is to be earthed and the earth connection was not measured",
      "measure the resistance from the frame to the earth pin or terminal", ""}},
    {statement::earth_limit,
     {"earth connection {value} ohm +- {half}, at most {limit_high} ohm{cord}",
      "clean and tighten the earth connection and measure it again", ""}},
    {statement::earth_cord_contradiction,
     {"the cord is {length} m long under [earth] and {cord_length} m under [cord]",
      "measure the cord's length and enter it once", ""}},
    {statement::earth_not_due, {"no earth connection is due on this class", "", ""}},
    {statement::earthing_unknown,
     {"neither the appliance class nor an earthed frame is stated: what protects against shock is not known",
      "enter the appliance class; then measure earth continuity (class I) or leakage (classes 0, 0I, II)", ""}},
    {statement::earthing_contradiction,
     {"the appliance class and what else is stated contradict each other: class I has an earthed frame, class III a "
      "supply of 50 V or less",
      "state the class that the machine has; connect the frame of a class I machine to the earth conductor and measure "
      "it",
      ""}},
    {statement::leakage_brought_up,
     {"{subject}: leakage {value} mA +- {half} at {full} V (read {read} mA at {volts} V), at most {limit_high} "
      "mA{capacitance}",
      "{subject}: measure the leakage again at {full} V{settle}", ""}},
    {statement::leakage_combinations_missing,
     {"leakage is not measured in every way; missing: {missing}",
      "have the leakage measured in the ways that are missing: {missing}", "leakage was not measured with: {missing}"}},
    {statement::leakage_conditions_unstated,
     {"no leakage reading states its polarity and switch; four are asked, both polarities with the switch on and off, "
      "at {full} V",
      "state polarity and switch of the leakage readings, and have all four measured",
      "leakage may not have been measured in both polarities, switch on and off"}},
    {statement::frame_without_earth,
     {"the frame has no earth; asked of it are leakage in both polarities with the switch on and off, insulation to "
      "the frame, and the checks that the switch opens the line and that line and neutral are on their own terminals",
      "",
      "its frame has no earth: only behind a residual-current device; fit an earth where the local code allows it"}},
    {statement::earth_without_cord,
     {"without the cord's own core of up to {core} ohm {value} ohm +- {half} are left; {limit_high} ohm is asked of "
      "the machine alone",
      "", ""}},
    {statement::earth_not_expected,
     {"an earth connection of {value} ohm was measured, but {class} has none",
      "state the appliance class that the machine has: with an earthed frame it is class I", ""}},
    // withstand
    {statement::withstand_not_tested,
     {"not tested; new, IEC asks for {iec} V and NEMA for {nema} V ac, overhauled {iec_old} and {nema_old} V, for 60 "
      "s; by the policy {decides} V",
      "have the withstand test done on the disconnected winding by a qualified person ({decides} V ac for 60 s if "
      "new), once, after the insulation resistance conforms",
      ""}},
    {statement::withstand_met,
     {"{subject} ({state}): withstood {value} V {kind} for {seconds} s, asked {limit_low} V{brief}{both}{over}", "",
      ""}},
    {statement::withstand_less,
     {"{subject} ({state}): withstood {value} V {kind} for {seconds} s only, asked {limit_low} V{brief}{both}",
      "{subject}: the withstand test done is less than asked; a further one ages the insulation and is for a qualified "
      "person to decide",
      ""}},
    {statement::withstand_leakage,
     {"{subject}: {value} mA during the withstand test, {per_kV} mA for each kilovolt{since}", "", ""}},
    {statement::withstand_broke_down,
     {"{subject}: the insulation broke down under {value} V",
      "{subject}: find and repair the breakdown; do not energise the machine", ""}},
    {statement::withstand_current_high,
     {"{subject}: {value} mA flowed under the test voltage, where {limit_high} mA is what a sound winding lets through",
      "{subject}: find where the current goes: moisture, dirt, a connected filter or capacitor; measure the insulation "
      "resistance again",
      ""}},
    {statement::withstand_voltage_impossible,
     {"{subject}: {value} V is far more than the {asked} V asked for: a slip of the pen, or the insulation was "
      "overstressed",
      "{subject}: enter the voltage of the withstand test again; if it was so high, measure the insulation resistance "
      "anew",
      ""}},
    {statement::withstand_component_only,
     {"the withstand test was of a component: the winding itself was not tested", "",
      "the winding had no withstand test, a component had"}},
    {statement::withstand_skipped,
     {"rewound, and not tested with the {decides} V that a new winding is asked for", "",
      "the new winding had no withstand test: {decides} V ac for 60 s are asked for, by a qualified person"}},
    // cord
    {statement::cord_area,
     {"cord of {value} mm2 for {amperes} A, at least {limit_low} mm2{drop_known}",
      "fit a cord of {limit_low} mm2 or more", ""}},
    {statement::cord_length_unknown,
     {"cord of {value} mm2 for {amperes} A, enough up to {longest} m; its length is not stated",
      "enter the length of the cord", ""}},
    {statement::cord_ampacity,
     {"cord of gauge {awg} for {value} A, which may carry {limit_high} A{drop_known}", "fit a cord of a thicker gauge",
      ""}},
    {statement::cord_current_unknown, {"cord of {value} mm2, but no current is known to judge it by", "", ""}},
    {statement::cord_beyond_table,
     {"the table of cords does not reach so far: {beyond}",
      "fit a supply cord that the local code lists for this machine", ""}},
    {statement::cord_earth_conductor,
     {"cord of {value} conductors; with an earthed frame {limit_low} are needed",
      "fit a cord with an earth conductor and connect the frame to it", ""}},
    // readings and bench checks
    {statement::entries_contradict,
     {"two entries contradict each other: {first}, and {second}", "enter {place} again: {first}, and {second}", ""}},
    {statement::readings_plain, {"no reading looks misread", "", ""}},
    {statement::reading_suspect,
     {"speed {subject}, reading {number}: {value} {unit} is suspect: {why}",
      "{zero_first}take {which} of speed {subject} again", ""}},
    {statement::readings_stalled_kept_out,
     {"readings with the rotor at rest, kept out of the curves: {count}", "", ""}},
    {statement::readings_low_on_range,
     {"{subject}: the {meter} read {read} {of} on a range of {full} {of}, below {limit_low} % of it", "",
      "{subject}: the {meter} was read low on its range: a lower range tells more"}},
    {statement::ammeter_averages,
     {"the ammeter is not true-rms: a current that is no sine is read up to {value} % off, and was taken so", "",
      "the ammeter is not true-rms: currents are known to {value} % only"}},
    {statement::accuracy_assumed,
     {"no accuracy stated, a usual one assumed: {instruments}", "",
      "the accuracy of these instruments was assumed: {instruments}"}},
    {statement::check_passed, {"checked: {what}", "", ""}},
    {statement::check_failed, {"checked and not right: {what}", "put right what failed: {what}", ""}},
    {statement::check_required_missing,
     {"the policy asks for a check that is not in the record: {what}", "check it and enter what you found: {what}",
      ""}},
    {statement::check_noted,
     {"noted and not judged: {what} = {entered}", "", "noted and not judged: {what} = {entered}"}},
    // capacitor, commutator, mechanics
    {statement::capacitor_value,
     {"{subject} capacitor: {microfarads} uF, {value} % off the marked {marked} uF; {limit_low} to {limit_high} % is "
      "allowed",
      "measure it again, discharged; if it stays off, fit one of {marked} uF and at least its marked volts", ""}},
    {statement::capacitor_not_measured,
     {"the capacitor was not measured; amperes alone show little of one that has lost half its value",
      "measure the capacitor, discharged and out of circuit",
      "the capacitor was not measured: a weak one starts badly and runs hot"}},
    {statement::capacitor_and_rotor_unseen,
     {"neither the capacitor nor rpm or watts were read; amperes alone show little of a capacitor that has lost half "
      "its "
      "value, or of a rotor with broken bars",
      "measure the capacitor, discharged and out of circuit; read rpm",
      "without microfarads and rpm a weak capacitor or rotor stays unseen"}},
    {statement::rotor_unseen,
     {"neither rpm nor watts were read; amperes alone show little of a rotor with broken bars",
      "read rpm on every speed", "without rpm a weak rotor stays unseen"}},
    {statement::capacitor_loss,
     {"{subject} capacitor: loss {value}; at most {limit_high} is usual", "replace the capacitor: its loss is high",
      ""}},
    {statement::capacitor_voltage,
     {"{subject} capacitor: {value} V across it, marked {marked_V} V; up to {limit_high} V is allowed",
      "fit a capacitor of the same microfarads for more volts", ""}},
    {statement::brush_length,
     {"the shorter brush is {value} mm long; at least {limit_low} mm is asked", "fit new brushes and bed them in", ""}},
    {statement::brush_length_alone,
     {"the shorter brush is {value} mm long; how short it may be is not entered", "",
      "the brushes were not judged: enter how short they may be"}},
    {statement::bars_without_resistance,
     {"no reading from bar to bar shows any resistance", "check the meter's leads; then look for a shorted armature",
      ""}},
    {statement::brushes_on_neutral, {"the brushes stand on the neutral", "", ""}},
    {statement::brushes_off_neutral,
     {"the brushes do not stand on the neutral", "set the brushes to the neutral, then look for sparks under load",
      ""}},
    {statement::bars_alike,
     {"armature, bar {number} of {of}: {value} % off the mean; {limit_low} to {limit_high} % is allowed",
      "clean the commutator and measure bar {number} again; if it stays, look for a short or an open joint there", ""}},
    {statement::turns_as_marked, {"it turns as marked, {turned}", "", ""}},
    {statement::turns_the_other_way,
     {"it turns {turned}, against what is marked",
      "power off, exchange the two ends of the start winding (two lines on three phases)", ""}},
    {statement::turns_slower_than_before,
     {"speed {subject} turns at {value} rpm, at the earlier visit {beside}: {below} % less at like volts, up to {most} "
      "% "
      "is usual",
      "unplugged, turn the shaft by hand: it has to spin freely; then read volts and rpm of speed {subject} again: "
      "slow "
      "with a free shaft: {slow_part}",
      ""}},
    {statement::turns_slow_of_mark,
     {"speed {subject} turns at {value} rpm at the rated voltage, marked {beside}: a tight bearing, {slow_part} or low "
      "volts at its terminals",
      "unplugged, turn the shaft by hand: it has to spin freely; then read volts and rpm of speed {subject} again: "
      "slow "
      "with a free shaft: {slow_part}",
      ""}},
    {statement::turns_slow_of_field,
     {"speed {subject} turns at {value} rpm at the rated voltage, {below} % below the {beside} of its poles' field, up "
      "to {most} % is usual: a tight bearing, {slow_part}, low volts at its terminals, or other poles",
      "unplugged, turn the shaft by hand: it has to spin freely; then read volts and rpm of speed {subject} again: "
      "slow "
      "with a free shaft: {slow_part}, or it has more poles",
      ""}},
    {statement::started_by_push,
     {"{subject}: it ran only after a push",
      "look at bearing and oil, then start winding, its switch and capacitor; never start it by hand near the blades",
      ""}},
    {statement::starts_not_on_slowest,
     {"starts were made on {subject}, none on {slowest}",
      "try starts on {slowest}: it has the least torque to start with",
      "no start was tried on {slowest}, which has the least torque to start with"}},
    {statement::noise_usual, {"noise as it runs: {noise}", "", ""}},
    {statement::noise_heard,
     {"noise as it runs: {noise}", "find where the noise comes from: bearing, rotor, blades, loose parts", ""}},
    {statement::protector_temperature,
     {"the thermal protector opens at {value} degC; a winding of class {class_C}{protector_class} may reach "
      "{limit_high} "
      "degC at most",
      "fit a thermal protector that opens at {limit_high} degC or less, or enter the insulation class of the winding",
      ""}},
    {statement::protector_resets,
     {"the thermal protector closes again by itself", "",
      "its thermal protector starts it again without warning: unplug it before touching"}},
    {statement::shaft_play,
     {"play of the shaft {subject}: {value} mm; up to {limit_high} mm is usual",
      "look at bearing and spacers: play of the shaft {subject} is {value} mm", ""}},
});

constexpr std::size_t statements = static_cast<std::size_t>(statement::count_);

struct indexed_words {
  std::array<words, statements> text{};
  std::array<int, statements> entries{};
};

template <std::size_t... N>
constexpr indexed_words indexed(const std::array<sentence_entry, N>&... tables) {
  indexed_words out;
  const auto take = [&](const auto& table) {
    for (const auto& [says, text] : table) {
      out.text[static_cast<std::size_t>(says)] = text;
      ++out.entries[static_cast<std::size_t>(says)];
    }
  };
  (take(tables), ...);
  return out;
}

constexpr indexed_words all_words = indexed(sentences, running_sentences, heat_sentences);
static_assert(std::all_of(all_words.entries.begin(), all_words.entries.end(), [](int entries) { return entries == 1; }),
              "one entry for each statement");

constexpr auto phrases = std::to_array<phrase>({
    {"why", "digits_transposed", "two digits may be exchanged, {would_fit} {unit} would fit"},
    {"why", "decimal_slipped", "the decimal point may have slipped, {would_fit} {unit} would fit"},
    {"why", "wrong_range", "the meter's range may be wrong, {would_fit} {unit} would fit"},
    {"why", "off_curve", "it lies off the curve of the other readings, and no slip explains it"},
    {"why", "readings_disagree", "it and its neighbour cannot both be right, and which is wrong cannot be told"},
    {"why", "falls_with_voltage", "the current falls although the voltage rises"},
    {"why", "rotor_at_rest", "far above the running curve: if the rotor stood still, mark the reading so"},
    {"why", "current_without_voltage", "a current without the voltage that drives it"},
    {"why", "reads_zero", "no current where the voltage should drive some"},
    {"turned_then", "reference", "good machines of its model turn"},
    {"turned_then", "earlier", "at the earlier visit it turned"},
    {"settled_by", "again",
     "read speed {subject} again at the rated voltage; if it stays, look for the cause: ohms, watts, rpm"},
    {"settled_by", "readings", "take {more} more readings of speed {subject} near the rated voltage, which would tell"},
    {"settled_by", "meter",
     "read speed {subject} again with an ammeter good to {accuracy} % of reading, which would tell"},
    {"settled_by", "machines", "run up more good machines of the model: too few stand behind the reference to tell"},
    {"settled_by", "earlier", "the earlier visit is not known well enough: compare with a good machine of the model"},
    {"settled_by", "nothing",
     "the level lies at the limit: no further reading of it will tell; measure ohms, watts and rpm"},
    {"unstated", "year", "the year of the winding"},
    {"unstated", "system", "the kind of insulation (thermosetting or thermoplastic)"},
    {"unstated", "both", "the year of the winding and its kind of insulation (thermosetting or thermoplastic)"},
    {"usually", "told",
     ", machines of its kind draw about {usual} A on it, mostly {usual_low} to {usual_high} A, by their fastest speed"},
    {"usually", "not", ""},
    {"below_it", "untried",
     "that it starts below {volts} V was not shown, and it should from {limit_high} % of the rated volts on"},
    {"below_it", "stands", "it starts only from {volts} V on; below that it stands and heats"},
    {"zero_first", "yes", "power off, see by its ohms that speed {subject} is connected; then "},
    {"zero_first", "no", ""},
    {"start_parts", "start_winding_switched", "start winding, its switch or capacitor, bearing"},
    {"start_parts", "permanent_capacitor", "capacitor, start winding, bearing"},
    {"start_parts", "shaded_pole", "shading rings, bearing, rotor"},
    {"start_parts", "three_phase", "a line or winding that is open, bearing"},
    {"start_parts", "commutator", "brushes, armature, bearing"},
    {"start_parts", "unknown", "start winding, capacitor or switch, bearing"},
    {"slow_part", "start_winding_switched", "rotor, or a start winding left in"},
    {"slow_part", "permanent_capacitor", "rotor or capacitor"},
    {"slow_part", "shaded_pole", "rotor or shading rings"},
    {"slow_part", "three_phase", "rotor, or a line that is open"},
    {"slow_part", "commutator", "brushes or armature"},
    {"slow_part", "unknown", "rotor or capacitor"},
    {"look_for", "listed", "look for {likelier}; watts and rpm on every speed would tell"},
    {"look_for", "unlisted",
     "no cause of the list fits what was read: look again at the readings, their units and decimal points, and at what "
     "is "
     "entered of the machine; then compare with a good machine of the model"},
    {"look_shortly", "listed", "look for {likelier}; watts and rpm on every speed would tell"},
    {"look_shortly", "unlisted", "look again at readings, units and entries; then compare with a good machine"},
    {"reread", "switched",
     "read speed {subject} again at the rated voltage; if it stays high, look whether the start winding stays in, then "
     "for shorted or too few turns"},
    {"reread_short", "switched",
     "read {subject} again; if it stays high: does the start winding stay in? then shorted or too few turns"},
    {"reread", "there", "read speed {subject} at the rated voltage itself"},
    {"reread", "again",
     "read speed {subject} again at the rated voltage, several times and with a better ammeter; if it stays high, look "
     "for shorted or too few turns"},
    {"reread_short", "there", "read {subject} at the rated voltage itself"},
    {"reread_short", "again", "read {subject} again; if it stays high, look for shorted or too few turns"},
    {"extrapolated", "yes", " (extrapolated beyond the readings)"},
    {"extrapolated", "no", ""},
});

}  // namespace

const words& words_for(verdict::statement says) { return all_words.text[static_cast<std::size_t>(says)]; }

std::string_view phrase_for(std::string_view key, std::string_view text) {
  if (key == "likelier")
    if (const auto cause = verdict::cause_named(text)) return cause_words(*cause);
  if (key == "what")
    for (const auto& check : verdict::tables::bench_checks)
      if (check.name == text) return check.words;
  for (const std::span<const phrase> table :
       {std::span<const phrase>(phrases), std::span<const phrase>(insulation_phrases),
        std::span<const phrase>(cold_phrases), std::span<const phrase>(running_phrases),
        std::span<const phrase>(heat_phrases)})
    for (const auto& each : table)
      if (each.key == key && each.text == text) return each.words;
  return text;
}

}  // namespace rewound::report
