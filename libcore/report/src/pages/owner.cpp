// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <iterator>

#include <rewound/report/number_text.hpp>
#include <rewound/verdict/limit_tables.hpp>

#include "markup.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

using texts = std::vector<std::string>;

std::string where_it_stands(verdict::decision value) {
  switch (value) {
    case verdict::decision::release:
      return "The machine was tested and is handed back. What was tested, and what that showed, is on "
             "the other sheet.";
    case verdict::decision::hold:
      return "The machine did not pass its tests. It stays in the workshop: please do not use it, and do not plug it "
             "in.";
    case verdict::decision::undecided:
      return "The tests are not finished. It stays in the workshop until they are: please do not use it, and do not "
             "plug it in.";
  }
  return "";
}

texts in_one_line(const std::string& first, const texts& items) {
  if (items.empty()) return {};
  std::string all;
  for (const auto& each : items) all += (all.empty() ? first : "; ") + each;
  return {all};
}

texts done(const job::result& result) {
  if (result.visit.work.empty()) return {"no work was noted for this visit; it was tested"};
  return in_one_line("", result.visit.work);
}

/// A voltage to the volt: more says nothing to its owner.
std::string volts(double value) { return number_text(std::round(value)) + " V"; }

bool extra_low(const job::result& result) {
  return result.machine.appliance_class == record::appliance_class::class_III;
}

/// Connected to fixed wiring, not to a socket.
bool wired(const job::result& result) { return result.machine.phases == 3 || result.machine.portable == false; }

texts supply(const job::result& result) {
  const double window = verdict::tables::supply_window.front().voltage_percent / 100.0;
  const double rated = result.machine.rated_voltage_V;
  texts out{"Connect it only to " + volts(rated * (1.0 - window)) + " to " + volts(rated * (1.0 + window)) + ", " +
            number_text(result.machine.rated_frequency_Hz) + " Hz."};
  if (result.visit.supply_voltage_V) {
    const double mains = *result.visit.supply_voltage_V;
    const bool within = mains >= rated * (1.0 - window) && mains <= rated * (1.0 + window);
    out.push_back(
        "The mains was measured as " + volts(mains) +
        (within ? ", which is within this." : ", which is outside this: it needs a transformer, or another supply."));
  }
  if (extra_low(result))
    out.emplace_back(
        "It runs on extra-low voltage: connect it only to the supply unit made for it, never to a mains socket.");
  else if (wired(result))
    out.emplace_back(
        "An electrician connects it to its fixed wiring, behind a residual-current device and with a switch that parts "
        "all its lines.");
  else
    out.emplace_back("Use a socket behind a residual-current device, and switch it off at once if that device trips.");
  return out;
}

texts earthing(const job::result& result) {
  using enum record::appliance_class;
  const auto& machine = result.machine;
  if (extra_low(result)) return {"It needs no earth, since its voltage is extra low."};
  if (wired(result) && (machine.frame_earthed == true || machine.appliance_class == class_I))
    return {
        "Its metal frame is earthed through the wiring. The earth conductor must never be taken off while it is "
        "connected."};
  if (machine.frame_earthed == true || machine.appliance_class == class_I)
    return {
        "Its metal frame is earthed through the plug. Use an earthed socket, and never a plug, lead or adapter without "
        "the earth contact."};
  if (machine.appliance_class == class_II)
    return {
        "It is built with double insulation and has no earth contact. Do not drill into it or replace its cord with "
        "another kind."};
  if (machine.frame_earthed == false || machine.appliance_class == class_0 || machine.appliance_class == class_0I)
    return {
        "Its metal frame is not earthed. Keep it out of reach of wet hands, pipes and earthed metal, use it in dry "
        "rooms only, and ask an electrician whether it can be earthed."};
  return {"Whether its frame is earthed was not noted: ask before you use it."};
}

/// Common practice, no source.
texts first_start(const job::result& result) {
  const std::string off = wired(result) ? "switch it off at its isolating switch" : "pull the plug";
  return {
      "After months in store, or wherever it may have become damp, let it stand a day in a warm, dry room. If it has "
      "been wet, have its insulation measured before it is connected.",
      "Turn the blades by hand while it is disconnected: they must run freely.",
      "Start it on its fastest speed. If it hums without turning, smells, smokes, tingles to the touch or trips a "
      "device, " +
          off + " and have it tested.",
      "Stay with it for the first half hour."};
}

texts speeds(const job::result& result) {
  if (result.machine.speeds.size() < 2) return {};
  std::string all;
  for (const auto& speed : result.machine.speeds) all += (all.empty() ? "" : ", ") + speed;
  return {"It has " + std::to_string(result.machine.speeds.size()) + " speeds, from the fastest: " + all + "."};
}

texts joined(texts first, const texts& more) {
  first.insert(first.end(), more.begin(), more.end());
  return first;
}

/// What a check looks at, for those who do not make it.
std::string plain_name(verdict::check check) {
  using enum verdict::check;
  switch (check) {
    case draw: return "the current that it draws";
    case steps: return "the order of its speeds";
    case supply: return "whether the mains suits it";
    case insulation: return "the insulation between its winding and its frame";
    case polarization_index: return "how the insulation behaves over ten minutes";
    case resistance: return "the resistance of its winding";
    case withstand: return "the high-voltage test of its insulation";
    case leakage: return "the current that leaks to what one can touch";
    case earth: return "the connection of its frame to earth";
    case starting: return "whether it starts each time";
    case coast_down: return "how freely it runs down";
    case heat_run: return "how warm it gets";
    case unbalance: return "whether its three lines draw alike";
    case capacitor: return "its capacitor";
    case commutator: return "its brushes and armature";
    case mechanics: return "how it turns, sounds and is borne";
    case readings: return "whether the readings can be relied on";
    case checks: return "checks by eye and hand";
  }
  return "";
}

texts untested(const view& shown) {
  texts out;
  for (const auto& test : shown.tests)
    if (test.outcome == verdict::outcome::not_tested) out.push_back(plain_name(test.check));
  return in_one_line("", out);
}

/// What failed, or could not be decided, in plain words.
texts in_the_way(const view& shown) {
  texts out;
  for (const auto outcome : {verdict::outcome::fails, verdict::outcome::undecided})
    for (const auto& test : shown.tests)
      if (test.outcome == outcome)
        out.push_back(plain_name(test.check) +
                      (outcome == verdict::outcome::fails ? ": did not pass" : ": not clear yet"));
  return out;
}

/// What was tested and conforms, for those who did not test it.
texts tested(const view& shown) {
  texts out;
  for (const auto& test : shown.tests)
    if (test.outcome == verdict::outcome::conforms) out.push_back(plain_name(test.check));
  return in_one_line("Tested, and as it should be: ", out);
}

/// Common practice, no source.
texts watch(const job::result& result) {
  texts out{
      "Stop using it when it hums without turning, runs slower or louder than it did, smells, smokes, tingles to "
      "the touch or trips a device.",
      "Keep its openings free of dust, and its cord and plug whole."};
  const auto& day = result.visit.day;
  record::date next = day;
  ++next.year;
  if (next.month == 2 && next.day == 29) next.day = 28;
  out.push_back("Have it tested again by " + next.iso() +
                ", or sooner where local rules ask for it or it has been wet (a year is common practice, no source).");
  return out;
}

/// Lines to be written on.
std::string signature() {
  return "<dl class=\"sign\"><dt>Name</dt><dd></dd><dt>Signature</dt><dd></dd><dt>Date</dt><dd></dd></dl>";
}

std::string part(std::string_view title, const texts& lines) {
  return lines.empty() ? "" : text_element("h3", "", title) + text_list(lines, false);
}

}  // namespace

std::string owner_section(const view& shown, const job::result& result) {
  const auto decision = result.decision.decision;
  std::string out = "<h2>For the owner of " + element("bdi", "", escaped(result.machine.id)) + "</h2>" +
                    text_element("p", "sentence", where_it_stands(decision)) +
                    part("What was done and tested, " + result.visit.day.iso(), joined(done(result), tested(shown)));
  if (decision == verdict::decision::release)
    out += part("How to use it", joined(joined(speeds(result), supply(result)), earthing(result))) +
           part("The first start", first_start(result)) + part("What to watch", watch(result)) +
           part("It is handed back on these conditions too",
                {shown.brief.conditions.begin() + std::min<std::ptrdiff_t>(1, std::ssize(shown.brief.conditions)),
                 shown.brief.conditions.end()});
  else out += part("What stands in the way", in_the_way(shown));
  out += part("What was not tested", untested(shown));
  out += text_element("p", "soft",
                      "Electrical rules of the place where it is used come first. Leave its repair, and any doubt, to "
                      "a licensed electrician.") +
         signature();
  return element("section", "owner", out);
}

}  // namespace rewound::report
