// SPDX-License-Identifier: MIT
#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>

#include "dialogue/steps/closed_question.hpp"
#include "dialogue/facts/facts.hpp"
#include "dialogue/steps/remark.hpp"
#include "dialogue/steps/steps.hpp"
#include "dialogue/steps/stop_rules.hpp"
#include "dialogue/entry/worded_reading.hpp"

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

namespace {

void one_earth_reading(session& at, const step& here) {
  const auto linked = at.read_instrument("ohmmeter");
  const auto line =
      at.ask({"frame to earth pin, ohm" + (linked ? " [" + report::number_text(*linked) + "]" : "") + " > ",
              {"earth.continuity_ohm",
               "the cord's length behind it, as `.08 3m`: " + std::string(key_at("earth.cord_length_m")->doc)}},
             here);
  try {
    if (line.empty() && !linked) {
      at.person().say("a number of ohms, or done to leave it", "  ", "  ");
      throw look_again();
    }
    const auto read = line.empty() && linked ? earth_answer{*linked, {}} : parse_earth(line);
    auto changed = at.record();
    changed.earth = record::earth_section{read.ohms, read.cord_m};
    if (!at.keep(std::move(changed), "kept", "earth " + report::number_text(read.ohms) + " ohm")) throw look_again();
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
    throw look_again();
  }
  at.person().say(cold_remark(at.judged(), check::earth, ""), "  ", "  ");
}

}  // namespace

void earth_step(session& at) {
  cautions_before_touching(at);
  looking_again([&] { one_earth_reading(at, {step_kind::earth, ""}); });
}

namespace {

const std::vector<std::string> about_resistance{
    "resistance.resistance_ohm", "resistance.winding_C",
    "a section's name before the ohms, its temperature behind: `aux 32.1 25C`; `expected 18.3` for what it should have "
    "at 20 degC",
    "`capacitor 2.5 2.4`: microfarads marked on the capacitor, and measured"};

/// The section's ohms, by an instrument or typed after its name.
double ohms_of(session& at, const std::string& section) {
  const auto linked = at.read_instrument("ohmmeter");
  return at.ask_number({"ohms of " + section, {"resistance.resistance_ohm"}}, quantity::resistance, 1.0, linked);
}

void keep_resistance(session& at, resistance_answer read) {
  record::resistance_section entry;
  entry.section = read.section;
  entry.resistance_ohm = read.ohms ? *read.ohms : ohms_of(at, read.section);
  if (!read.winding_C) read.winding_C = likely_winding_C(at.record());
  entry.winding_C = read.winding_C
                        ? *read.winding_C
                        : at.ask_number({"winding, degC", {"resistance.winding_C"}}, quantity::temperature, 1.0);
  entry.expected_ohm = read.expected_ohm;
  auto changed = at.record();
  const std::string what = entry.section + " " + report::number_text(entry.resistance_ohm) + " ohm at " +
                           report::number_text(entry.winding_C) + " degC";
  changed.resistance.push_back(std::move(entry));
  if (at.keep(std::move(changed), "kept", what))
    at.person().say(what + ": " + cold_remark(at.judged(), check::resistance, read.section), "  ", "  ");
}

bool runs_on_a_capacitor(const record::visit_record& in) {
  return in.machine.running_circuit == record::running_circuit::permanent_capacitor;
}

void keep_capacitor(session& at, const capacitor_answer& read) {
  record::capacitor_section entry;
  entry.name = "capacitor";
  entry.kind = runs_on_a_capacitor(at.record()) ? record::capacitor_kind::run : record::capacitor_kind::start;
  entry.marked_uF = read.marked_uF;
  entry.measured_uF = read.measured_uF;
  auto changed = at.record();
  const std::string what = "capacitor " + report::number_text(read.marked_uF) + " uF" +
                           (read.measured_uF ? ", measured " + report::number_text(*read.measured_uF) : "");
  std::erase_if(changed.capacitor, [&](const auto& each) { return each.name == entry.name; });
  changed.capacitor.push_back(std::move(entry));
  if (at.keep(std::move(changed), "kept", what))
    at.person().say(what + ": " + cold_remark(at.judged(), check::capacitor, "capacitor"), "  ", "  ");
}

void one_resistance(session& at, const step& here) {
  const bool first = at.record().resistance.empty();
  const auto likely = likely_winding_C(at.record());
  const std::string winding = likely ? ", winding at " + report::number_text(*likely) + " degC" : "";
  const auto line = at.ask({first ? "ohms of main" + winding + " > "
                            : runs_on_a_capacitor(at.record()) && at.record().capacitor.empty()
                                ? "next section, as `aux 32`, or `capacitor 2.5 2.4` uF (Enter: no more) > "
                                : "next section, as `aux 32` (Enter: no more) > ",
                            about_resistance},
                           here);
  if (line.empty() && !first) throw step_left{};
  if (line.empty() && !at.answers("ohmmeter"))
    return at.person().say("Type ohms, as `18.4`; `done` leaves them open, `?` tells more.");
  try {
    if (const auto capacitor = parse_capacitor(line)) return keep_capacitor(at, *capacitor);
    auto read = parse_resistance(line);
    if (read.section.empty() && !first && read.ohms)
      throw base::error(base::error_code::missing_key, {}, "\"" + line + "\"",
                        "the section's name before its ohms; `correct` for one that stands");
    if (read.section.empty()) read.section = "main";
    if (!read.ohms) at.note_given("section", read.section);
    keep_resistance(at, std::move(read));
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
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
    const auto circuit = ask_name(at, {"Withstand: circuit [winding to frame] > ", {"withstand.circuit"}}, here);
    entry.circuit = circuit.empty() ? "winding to frame" : circuit;
    if (const auto may = may_withstand(at.judged(), entry.circuit); may.permission != permission::granted) {
      at.note("stopped", "no withstand test: " + may.why);
      at.person().say("No withstand test: " + may.why, "STOP  ", "      ");
      throw step_left{};
    }
    entry.voltage_V = at.ask_number({"test voltage, V", {"withstand.voltage_V"}}, quantity::voltage, 1.0);
    entry.kind = ask_choice(at, {"kind", {"withstand.kind"}}, {"ac", "dc"}, "ac") == "dc" ? record::test_kind::dc
                                                                                          : record::test_kind::ac;
    entry.duration_s = at.ask_number({"for how long, s", {"withstand.duration_s"}}, quantity::time, 1.0, 60.0);
    const auto state = ask_choice(at, {"winding", {"withstand.winding_state"}},
                                  {"new", "part_rewound", "overhauled", "repeat"}, "new");
    using enum record::winding_state;
    entry.state = state == "part_rewound" ? part_rewound
                  : state == "overhauled" ? overhauled
                  : state == "repeat"     ? repeat
                                          : as_new;
    entry.broke_down = ask_choice(at, {"did it break down", {"withstand.broke_down"}}, {"yes", "no"}) == "yes";
    auto changed = at.record();
    const std::string what =
        entry.circuit + " " + report::number_text(entry.voltage_V) + " V " + (entry.broke_down ? "broke down" : "held");
    changed.withstand.push_back(std::move(entry));
    if (!at.keep(std::move(changed), "kept", what)) throw look_again();
    at.person().say(cold_remark(at.judged(), check::withstand, ""), "  ", "  ");
  });
}

}  // namespace rewound::tool::dialogue
