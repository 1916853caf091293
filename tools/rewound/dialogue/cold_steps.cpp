// SPDX-License-Identifier: MIT
#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>

#include "closed_question.hpp"
#include "remark.hpp"
#include "steps.hpp"
#include "stop_rules.hpp"

namespace rewound::tool::dialogue {

namespace {

using verdict::check;

}  // namespace

std::optional<double> likely_winding_C(const record::visit_record& in) {
  if (!in.insulation.empty() && in.insulation.back().winding_C) return in.insulation.back().winding_C;
  if (!in.resistance.empty()) return in.resistance.back().winding_C;
  return in.visit.ambient_C;
}

void cautions_before_touching(session& at) {
  at.person().caution(report::cautions::before_touching);
  at.person().caution(report::cautions::discharge_capacitors);
}

void earth_step(session& at) {
  const step here{step_kind::earth, ""};
  cautions_before_touching(at);
  looking_again([&] {
    auto changed = at.record();
    const double ohms =
        at.ask_number("frame to earth pin, ohm", quantity::resistance, 1.0, at.read_instrument("ohmmeter"), here);
    changed.earth = record::earth_section{ohms, {}};
    changed.earth->cord_length_m = at.ask_known("length of the cord, m", quantity::length, 1.0);
    if (!at.keep(std::move(changed), "kept", "earth " + report::number_text(ohms) + " ohm")) throw look_again();
    at.person().say(cold_remark(at.judged(), check::earth, ""), "  ", "  ");
  });
}

namespace {

void one_resistance(session& at, const step& here) {
  const auto& done = at.record().resistance;
  const std::string usual = done.empty() ? "main" : "";
  record::resistance_section entry;
  entry.section =
      ask_name(at, done.empty() ? "Winding resistance: section [main] > " : "next section (Enter: no more) > ", here);
  if (entry.section.empty()) entry.section = usual;
  if (entry.section.empty()) throw step_left{};
  const auto linked = at.read_instrument("ohmmeter");
  entry.resistance_ohm = at.ask_number("ohms of " + entry.section, quantity::resistance, 1.0, linked);
  entry.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, likely_winding_C(at.record()));
  entry.expected_ohm = at.ask_known("ohms it should have at 20 degC", quantity::resistance, 1.0);
  auto changed = at.record();
  const std::string section = entry.section;
  const std::string what = section + " " + report::number_text(entry.resistance_ohm) + " ohm at " +
                           report::number_text(entry.winding_C) + " degC";
  changed.resistance.push_back(std::move(entry));
  if (at.keep(std::move(changed), "kept", what))
    at.person().say(cold_remark(at.judged(), check::resistance, section), "  ", "  ");
}

}  // namespace

void resistance_step(session& at) {
  cautions_before_touching(at);
  for (;;) looking_again([&] { one_resistance(at, {step_kind::resistance, ""}); });
}

void withstand_step(session& at) {
  const step here{step_kind::withstand, ""};
  cautions_before_touching(at);
  at.person().caution(report::cautions::withstand);
  at.person().caution(report::cautions::after_direct_voltage);
  looking_again([&] {
    record::withstand_section entry;
    const auto circuit = ask_name(at, "Withstand: circuit [winding to frame] > ", here);
    entry.circuit = circuit.empty() ? "winding to frame" : circuit;
    if (const auto may = may_withstand(at.judged(), entry.circuit); may.permission != permission::granted) {
      at.note("stopped", "no withstand test: " + may.why);
      at.person().say("No withstand test: " + may.why, "STOP  ", "      ");
      throw step_left{};
    }
    entry.voltage_V = at.ask_number("test voltage, V", quantity::voltage, 1.0);
    entry.kind = ask_choice(at, "ac or dc", {"ac", "dc"}, "ac") == "dc" ? record::test_kind::dc : record::test_kind::ac;
    entry.duration_s = at.ask_number("for how long, s", quantity::time, 1.0, 60.0);
    const auto state = ask_choice(at, "winding: new part_rewound overhauled repeat",
                                  {"new", "part_rewound", "overhauled", "repeat"}, "new");
    using enum record::winding_state;
    entry.state = state == "part_rewound" ? part_rewound
                  : state == "overhauled" ? overhauled
                  : state == "repeat"     ? repeat
                                          : as_new;
    entry.broke_down = ask_choice(at, "did it break down, yes or no", {"yes", "no"}) == "yes";
    auto changed = at.record();
    const std::string what =
        entry.circuit + " " + report::number_text(entry.voltage_V) + " V " + (entry.broke_down ? "broke down" : "held");
    changed.withstand.push_back(std::move(entry));
    if (!at.keep(std::move(changed), "kept", what)) throw look_again();
    at.person().say(cold_remark(at.judged(), check::withstand, ""), "  ", "  ");
  });
}

}  // namespace rewound::tool::dialogue
