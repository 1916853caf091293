// SPDX-License-Identifier: MIT
#include <array>
#include <tuple>

#include <rewound/report/wording.hpp>

namespace rewound::report {

namespace {

using verdict::statement;

struct entry {
  statement says;
  words text;
};

constexpr std::array<entry, static_cast<std::size_t>(statement::count_)> sentences{{
    // draw
    {statement::speed_not_run,
     {"speed {subject} was not run up", "run up speed {subject}: volts and amps at four voltages or more, the rated one among them", ""}},
    {statement::speed_without_usable_reading,
     {"speed {subject} has no reading that can be used", "take the readings of speed {subject} again", ""}},
    {statement::draw_against_nameplate,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; marked {marked} A, allowed up to {limit_high} A{extrapolated}",
      "read speed {subject} again at the rated voltage, several times and with a better ammeter; if it stays high, look for shorted or too few turns", ""}},
    {statement::draw_under_nameplate_ceiling,
     {"speed {subject} draws {value} A +- {half}, under the ceiling of {limit_high} A that the marked current sets; a weak test, since a slower speed should lie well below it{extrapolated}",
      "read speed {subject} again at the rated voltage; compare with an earlier visit or a good machine of the model",
      "slower speeds were judged by the marked current alone, which says little of them"}},
    {statement::draw_far_below_nameplate,
     {"speed {subject} draws {value} A +- {half} at the rated voltage, far below the marked {marked} A; no standard limits this, but it is looked into",
      "check the ammeter's range and that all windings of speed {subject} carry current, then read it again", ""}},
    {statement::draw_far_below_faster,
     {"speed {subject} draws {value} A +- {half}, a small share of the next faster speed's {faster} A; no standard limits this, but it is looked into",
      "check that speed {subject} is connected and the ammeter's range is right, then read it again", ""}},
    {statement::power_against_nameplate,
     {"speed {subject} takes {value} W +- {half} at the rated voltage; marked {marked} W, allowed up to {limit_high} W",
      "read the watts of speed {subject} again at the rated voltage", ""}},
    {statement::draw_without_expectation,
     {"speed {subject} draws {value} A +- {half} at the rated voltage; nothing is known of what it should draw",
      "enter rated_current_A from the nameplate, or judge with --earlier and a previous visit of this machine", ""}},
    {statement::draw_against_earlier,
     {"speed {subject} draws {now} A at the rated voltage, {value} % +- {half} against {expected} A at the earlier visit; allowed {limit_low} to {limit_high} %{extrapolated}",
      "{settled_by}", ""}},
    {statement::draw_joint_test,
     {"an unchanged machine would differ this much from the earlier visit, all speeds together, with probability {probability} (limit {limit_low})",
      "repeat the run-up on all speeds with the meters of the earlier visit; if it stays, look for what changed since", ""}},
    {statement::draw_against_reference,
     {"speed {subject} draws {now} A at the rated voltage, {value} % +- {half} against {expected} A of good machines; allowed {limit_low} to {limit_high} %{extrapolated}",
      "{settled_by}", ""}},
    {statement::draw_joint_reference,
     {"beside the good machines of its model ({machines}) a machine this far off has probability {probability} (limit {limit_low}), all speeds and readings together",
      "repeat the run-up on all speeds; if it stays, look for the cause, watts and rpm beside the amps tell most", ""}},
    {statement::reference_shaft_differs,
     {"the reference was learnt with another shaft condition (bare or loaded): it was not used", "", ""}},
    {statement::earlier_shaft_differs,
     {"the earlier visit was read with another shaft condition (bare or loaded): its currents were not compared", "", ""}},
    {statement::earlier_speed_missing,
     {"speed {subject} draws {value} A +- {half}, but what it is compared with has no usable reading of it",
      "run up speed {subject} and compare it with a good machine of the model", ""}},
    {statement::earlier_without_common_speed,
     {"the earlier visit has no usable reading of any of these speeds: it was not compared", "", "the earlier visit could not be compared"}},
    {statement::earlier_same_day,
     {"the earlier visit bears the same date as this one", "", "the earlier visit bears the same date: it shows little of what changed"}},
    // steps
    {statement::steps_in_order,
     {"at {voltage} V the speeds draw in order, fastest first (probability {probability})", "", ""}},
    {statement::steps_swapped,
     {"the speeds do not draw in the order listed; by their currents at {voltage} V the order is {best_order} (probability {probability})",
      "exchange the speed leads back to that order, or check by rpm which speed is which", ""}},
    {statement::steps_reversed,
     {"the speeds draw in reversed order at {voltage} V: {best_order} (probability {probability})",
      "check the speed leads at the control: the order is turned round", ""}},
    {statement::steps_merged,
     {"two neighbouring speeds draw the same current at {voltage} V (probability {probability})",
      "look for a bridged speed section or two leads on one tap; measure the ohms of each tap", ""}},
    {statement::steps_unclear,
     {"the speeds lie too close together at {voltage} V to say whether they are in order (probability {probability}, {limit_low} is asked)",
      "read all speeds one after the other at the rated voltage, three times each, with a finer ammeter; note rpm", ""}},
    {statement::steps_not_promised,
     {"this kind of speed control promises no order of the currents; by current it is {best_order}",
      "note speed_rpm at the rated voltage on every speed", ""}},
    {statement::steps_single_speed, {"one speed: there are no steps to judge", "", ""}},
    {statement::steps_speed_missing,
     {"the order of the speeds cannot be judged without {missing}", "run up the missing speed: {missing}", ""}},
    {statement::steps_by_rotation, {"by rpm at {voltage} V the speeds are in order, fastest first", "", ""}},
    {statement::steps_against_rotation,
     {"by rpm at {voltage} V the speeds are not in the order listed; the order is {best_order}",
      "exchange the speed leads back to that order", ""}},
    {statement::steps_as_good_machines,
     {"each speed draws as that speed does on good machines of the model (probability {probability} against all other orders)", "", ""}},
    {statement::steps_unlike_good_machines,
     {"beside good machines of the model the speeds are exchanged; the order is {best_order} (probability {probability})",
      "exchange the speed leads back to that order", ""}},
    {statement::step_against_expected,
     {"from {subject} the current changes {value} % +- {half} otherwise than expected; allowed {limit_low} to {limit_high} %",
      "measure the ohms of each speed's section and of the speed control, {subject}", ""}},
    // supply
    {statement::supply_voltage_window,
     {"the mains lies {value} % from the rated voltage, allowed {limit_low} to {limit_high} %; flux {flux_ratio} of rated",
      "run it through a transformer of ratio {transformer_ratio} (machine over mains), which gives the rated voltage", ""}},
    {statement::supply_frequency_window,
     {"the mains frequency lies {value} % from the rated one, allowed {limit_low} to {limit_high} %",
      "the machine is not made for this frequency: ask for a supply of the rated one", ""}},
    {statement::supply_combined_window,
     {"voltage and frequency together lie {value} % from the rating, allowed {limit_high} %",
      "bring the supply voltage closer to the rating", ""}},
    {statement::supply_draw, {"speed {subject} will draw about {value} A +- {half} at {supply_V} V", "", ""}},
    {statement::supply_power, {"speed {subject} will take about {value} W +- {half} at {supply_V} V", "", ""}},
    {statement::supply_not_given,
     {"today's mains is not in the record: the supply was not compared with the rating", "enter supply_voltage_V", 
      "the mains it will run on was not compared with its rating"}},
    // insulation
    {statement::insulation_not_measured,
     {"no insulation resistance was measured",
      "measure winding to frame for one minute with the insulation resistance tester before anything is energised", ""}},
    {statement::insulation_no_one_minute,
     {"{subject}: there is no reading at 60 s, and the limit is for one minute", "measure {subject} again and read at 60 s", ""}},
    {statement::insulation_minimum,
     {"{subject}: {read} Mohm at one minute and {winding_C} degC is {value} Mohm at 40 degC ({system}); at least {limit_low} Mohm{borrowed}",
      "{subject}: clean and dry the winding, let it stand above the dew point, and measure again", ""}},
    {statement::insulation_outside_correction,
     {"{subject}: {read} Mohm at {winding_C} degC is about {value} Mohm at 40 degC, but the correction holds only from 10 to 85 degC; at least {limit_low} Mohm",
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
    {statement::polarization_information, {"{subject}: polarization index {value}, for information by the policy", "", ""}},
    {statement::polarization_class_unknown,
     {"{subject}: polarization index {value} +- {half}; the insulation class is not stated, so the stricter {limit_low} is asked{random_wound}",
      "enter insulation_class", ""}},
    {statement::polarization_class_not_listed,
     {"{subject}: polarization index {value}; the standard lists no minimum for this insulation class", "", ""}},
    {statement::polarization_ends,
     {"{subject}: polarization index {value} is not judged, since {at_40} Mohm at 40 degC is above {ends} Mohm", "", ""}},
    {statement::polarization_high,
     {"{subject}: polarization index {value} is above {limit_high}: it may be dried, brittle insulation",
      "{subject}: look at the insulation before any further test; do not flex it", ""}},
    {statement::polarization_not_measured, {"{subject}: no polarization index, which takes readings at 60 s and 600 s", "", ""}},
    {statement::absorption_information, {"{subject}: ratio of 60 s to 30 s is {value}, for information: no standard limits it", "", ""}},
    // resistance
    {statement::resistance_not_measured,
     {"no winding resistance was measured", "measure the winding's resistance and temperature, machine disconnected", ""}},
    {statement::resistance_against_expected,
     {"section {subject}: {ohm} ohm at 20 degC, {value} % +- {half} against the expected {expected} ohm; allowed {limit_low} to {limit_high} %",
      "measure section {subject} again at a well-known temperature with a four-wire ohmmeter", ""}},
    {statement::resistance_against_earlier,
     {"section {subject}: {ohm} ohm at 20 degC, {value} % +- {half} against {expected} ohm at the earlier visit; allowed {limit_low} to {limit_high} %",
      "measure section {subject} again at a well-known temperature with the ohmmeter of the earlier visit", ""}},
    {statement::resistance_alone,
     {"section {subject}: {value} ohm at 20 degC; it conducts, and there is nothing to compare it with",
      "", "the resistance of section {subject} was measured but had nothing to be compared with"}},
    {statement::resistance_implausible,
     {"section {subject}: {value} ohm at 20 degC, which no winding of this machine can have (the running current allows up to about {limit_high} ohm)",
      "measure section {subject} again: check the range and the contacts", ""}},
    // starting
    {statement::starts_not_tried,
     {"no start was tried", "try {minimum} starts or more in the position of use, on the slowest speed", ""}},
    {statement::starts_clean,
     {"{subject}: {successes} of {attempts} starts; that proves {reliability_percent} % or better, at 95 % confidence", "",
      "{attempts} clean starts prove {reliability_percent} % reliability; {for_95} would prove 95 %"}},
    {statement::starts_failed,
     {"{subject}: {successes} of {attempts} starts, and each has to succeed",
      "find why it does not start in position {subject}: start winding, capacitor or switch, bearing", ""}},
    {statement::starts_too_few,
     {"{subject}: {successes} of {attempts} starts, but {minimum} are asked in some position",
      "try {minimum} starts or more in one position", ""}},
    {statement::stalled_near_rating,
     {"speed {subject}: the rotor stood still at {value} V",
      "find why the rotor does not turn on speed {subject}; do not leave it energised at rest", ""}},
    // leakage and earth
    {statement::leakage_not_measured,
     {"the frame is not earthed and no leakage current was measured (limit {limit_high} mA)",
      "have the leakage current to the frame measured, both polarities, switch on and off", ""}},
    {statement::leakage_limit,
     {"{subject}: leakage {value} mA +- {half}, at most {limit_high} mA",
      "{subject}: measure the leakage again, and state the appliance class (limits {limit_high} to {lenient} mA)", ""}},
    {statement::leakage_not_due, {"leakage was not measured and is not due on this class by the policy", "", ""}},
    {statement::earth_not_measured,
     {"the frame is earthed and the earth connection was not measured",
      "measure the resistance from the frame to the earth pin", ""}},
    {statement::earth_limit,
     {"earth connection {value} ohm +- {half}, at most {limit_high} ohm",
      "clean and tighten the earth connection and measure it again", ""}},
    {statement::earth_not_due, {"no earth connection is due on this class", "", ""}},
    {statement::earthing_unknown,
     {"neither appliance_class nor frame_earthed is stated: what protects against shock is not known",
      "enter appliance_class; then measure earth continuity (class I) or leakage (classes 0, 0I, II)", ""}},
    {statement::earthing_contradiction,
     {"the appliance class and what else is stated contradict each other: class I has an earthed frame, class III a supply of 50 V or less", "state the class that the machine has; connect the frame of a class I machine to the earth conductor and measure it", ""}},
    // readings and bench checks
    {statement::readings_plain, {"no reading looks misread", "", ""}},
    {statement::reading_suspect,
     {"speed {subject}, reading {number}: {value} {unit} is suspect: {why}", "take reading {number} of speed {subject} again", ""}},
    {statement::readings_stalled_kept_out,
     {"readings with the rotor at rest, kept out of the curves: {count}", "", ""}},
    {statement::accuracy_assumed,
     {"no accuracy stated, a usual one assumed: {instruments}", "", "the accuracy of these instruments was assumed: {instruments}"}},
    {statement::check_passed, {"checked: {subject}", "", ""}},
    {statement::check_failed, {"checked and not right: {subject}", "put right what failed: {subject}", ""}},
    {statement::check_required_missing, {"the policy asks for a check that is not in the record: {subject}", "check {subject} and enter it under [checks]", ""}},
    {statement::unbalance_of_lines,
     {"speed {subject}: the line currents differ from their mean by up to {value} % +- {half}, at most {limit_high} %",
      "speed {subject}: measure the three line voltages, roll the leads and read the currents again", ""}},
    // rooms still to come
    {statement::withstand_broke_down,
     {"{subject}: the insulation broke down under {value} V", "{subject}: find and repair the breakdown; do not energise the machine", ""}},
    {statement::recorded_not_judged, {"recorded, but not judged yet by this version", "", "what was recorded for {check} was not judged"}},
    {statement::not_recorded, {"not tested", "", ""}},
}};

constexpr bool in_order() {
  for (std::size_t i = 0; i < sentences.size(); ++i)
    if (static_cast<std::size_t>(sentences[i].says) != i) return false;
  return true;
}
static_assert(in_order(), "one entry for each statement, in the order of the enumeration");

using phrase = std::tuple<std::string_view, std::string_view, std::string_view>;

constexpr auto phrases = std::to_array<phrase>({
    {"why", "digits_transposed", "two digits may be exchanged, {would_fit} {unit} would fit"},
    {"why", "decimal_slipped", "the decimal point may have slipped, {would_fit} {unit} would fit"},
    {"why", "wrong_range", "the meter's range may be wrong, {would_fit} {unit} would fit"},
    {"why", "off_curve", "it lies off the curve of the other readings, and no slip explains it"},
    {"why", "readings_disagree", "it and its neighbour cannot both be right, and which is wrong cannot be told"},
    {"why", "falls_with_voltage", "the current falls although the voltage rises"},
    {"why", "rotor_at_rest", "far above the running curve: if the rotor stood still, mark it turning = false"},
    {"why", "reads_zero", "no current where the voltage should drive some"},
    {"settled_by", "again", "read speed {subject} again at the rated voltage; if it stays, look for the cause: ohms, watts, rpm"},
    {"settled_by", "readings", "take {more} more readings of speed {subject} near the rated voltage, which would tell"},
    {"settled_by", "meter", "read speed {subject} again with an ammeter good to {accuracy} % of reading, which would tell"},
    {"settled_by", "machines", "run up more good machines of the model: too few stand behind the reference to tell"},
    {"settled_by", "earlier", "the earlier visit is not known well enough: compare with a good machine of the model"},
    {"settled_by", "nothing", "the level lies at the limit: no further reading of it will tell; measure ohms, watts and rpm"},
    {"extrapolated", "yes", " (extrapolated beyond the readings)"},
    {"extrapolated", "no", ""},
    {"borrowed", "yes", "; the standard is written for 750 W and up, here its limit is borrowed"},
    {"borrowed", "no", ""},
    {"system", "unknown", "insulation system not stated: thermosetting {thermosetting}, thermoplastic {thermoplastic}, the lower decides"},
    {"system", "thermosetting", "thermosetting"},
    {"random_wound", "yes", "; on a random-wound winding the index says little (IEEE 43-2013 5.4)"},
    {"random_wound", "no", ""},
});

}  // namespace

const words& words_for(verdict::statement says) { return sentences[static_cast<std::size_t>(says)].text; }

std::string_view phrase_for(std::string_view key, std::string_view text) {
  for (const auto& [name, value, phrase] : phrases)
    if (name == key && value == text) return phrase;
  return text;
}

}  // namespace rewound::report
