// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/base/error.hpp>

#include "dialogue/steps/steps.hpp"

namespace rewound::tool::dialogue {

namespace {

/// `120`, `120 60`, `60Hz 120V`: volts, and hertz where they are known. @throws base::error (out_of_range)
void state_mains(record::visit_section& visit, const std::string& line, double rated_V) {
  const auto numbers = parse_line(line, {}).numbers;
  double volts = 0.0;
  std::optional<double> hertz;
  if (numbers.size() < 2) volts = parse_number(line, quantity::voltage, 1.0);
  else {
    const auto both = parse_pair(line, quantity::voltage, 1.0, quantity::frequency, 1.0);
    volts = both.first;
    hertz = both.second;
  }
  const bool unit =
      std::any_of(numbers.begin(), numbers.end(), [](const auto& each) { return each.what == quantity::voltage; });
  // No mains is half or double of what the machine is made for, unless the person says volts (common practice, no
  // source).
  if (!unit && (volts < 0.5 * rated_V || volts > 2.0 * rated_V))
    throw base::error(base::error_code::out_of_range, {}, "\"" + line + "\"",
                      "volts and hertz with a blank between, as `120 60`; with its unit any voltage is taken");
  visit.supply_voltage_V = volts;
  if (hertz) visit.supply_frequency_Hz = hertz;
}

void ask_mains(session& at) {
  if (at.record().visit.supply_voltage_V || at.mains_asked) return;
  const auto line = at.ask({"mains where it will run, as `120 60` (Enter: not known) > ",
                            {"visit.supply_voltage_V", "visit.supply_frequency_Hz"}});
  at.mains_asked = true;
  if (line.empty()) return;
  try {
    auto changed = at.record();
    state_mains(changed.visit, line, changed.machine.rated_voltage_V);
    if (at.keep(std::move(changed), "kept", "mains " + line)) return;
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
  at.mains_asked = false;
  throw look_again();
}

}  // namespace

void mains_question(session& at) {
  looking_again([&] {
    try {
      ask_mains(at);
    } catch (const question_left&) {
      at.mains_asked = true;
    }
  });
}

}  // namespace rewound::tool::dialogue
