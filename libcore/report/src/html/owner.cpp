// SPDX-License-Identifier: MIT
#include <cmath>

#include <rewound/report/number_text.hpp>
#include <rewound/verdict/limit_tables.hpp>

#include "markup.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

using texts = std::vector<std::string>;

std::string where_it_stands(verdict::decision value) {
  switch (value) {
    case verdict::decision::release: return "The machine was tested and is handed back. What was tested, and what that showed, is on the pages before this one.";
    case verdict::decision::hold: return "The machine did not pass its tests. It stays in the workshop: please do not use it, and do not plug it in.";
    case verdict::decision::undecided: return "The tests are not finished. It stays in the workshop until they are: please do not use it, and do not plug it in.";
  }
  return "";
}

texts done(const job::result& result) {
  texts out = result.visit.work;
  if (out.empty()) out.emplace_back("no work was noted for this visit; it was tested");
  return out;
}

/// A voltage to the volt: more says nothing to its owner.
std::string volts(double value) { return number_text(std::round(value)) + " V"; }

texts supply(const job::result& result) {
  const double window = verdict::tables::supply_window.front().voltage_percent / 100.0;
  const double rated = result.machine.rated_voltage_V;
  texts out{"Connect it only to " + volts(rated * (1.0 - window)) + " to " + volts(rated * (1.0 + window)) + ", " +
            number_text(result.machine.rated_frequency_Hz) + " Hz."};
  if (result.visit.supply_voltage_V) {
    const double mains = *result.visit.supply_voltage_V;
    const bool within = mains >= rated * (1.0 - window) && mains <= rated * (1.0 + window);
    out.push_back("The mains was measured as " + volts(mains) + (within ? ", which is within this." : ", which is outside this: it needs a transformer, or another supply."));
  }
  out.emplace_back("Use a socket behind a residual-current device, and switch it off at once if that device trips.");
  return out;
}

texts earthing(const job::result& result) {
  using enum machine::appliance_class;
  const auto& machine = result.machine;
  if (machine.frame_earthed == true || machine.appliance_class == class_I)
    return {"Its metal frame is earthed through the plug. Use an earthed socket, and never a plug, lead or adapter without the earth contact."};
  if (machine.appliance_class == class_II)
    return {"It is built with double insulation and has no earth contact. Do not drill into it or replace its cord with another kind."};
  if (machine.frame_earthed == false || machine.appliance_class == class_0 || machine.appliance_class == class_0I)
    return {"Its metal frame is not earthed. Keep it out of reach of wet hands, pipes and earthed metal, use it in dry rooms only, and ask an electrician whether it can be earthed."};
  return {"Whether its frame is earthed was not noted: ask before you use it."};
}

/// Common practice, no source.
texts first_start() {
  return {"After months in store, or wherever it may have become damp, let it stand a day in a warm, dry room. If it has been wet, have its insulation measured before it is plugged in.",
          "Turn the blades by hand with the plug pulled: they must run freely.",
          "Start it on its fastest speed. If it hums without turning, smells, smokes, tingles to the touch or trips a device, pull the plug and have it tested.",
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

std::string part(std::string_view title, const texts& lines) {
  return lines.empty() ? "" : text_element("h3", "", title) + text_list(lines, false);
}

}  // namespace

std::string owner_section(const view& shown, const job::result& result) {
  const auto decision = result.decision.decision;
  std::string out = "<h2>For the owner of " + element("bdi", "", escaped(result.machine.id)) + "</h2>" +
                    text_element("p", "sentence", where_it_stands(decision)) +
                    part("What was done, " + result.visit.day.iso(), done(result));
  if (decision == verdict::decision::release)
    out += part("How to use it", joined(joined(speeds(result), supply(result)), earthing(result))) + part("The first start", first_start());
  out += part("What was not tested", shown.not_tested);
  out += text_element("p", "soft", "Electrical rules of the place where it is used come first. Leave its repair, and any doubt, to a licensed electrician.");
  return element("section", "owner", out);
}

}  // namespace rewound::report
