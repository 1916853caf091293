// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

#include "closed_question.hpp"
#include "remark.hpp"
#include "steps.hpp"
#include "stop_rules.hpp"

namespace rewound::tool::bench {

namespace {

using verdict::check;

constexpr double mega = 1e6;

/// The winding's temperature last read in this record, or the air's.
std::optional<double> likely_winding_C(const job::record& in) {
  if (!in.insulation.empty() && in.insulation.back().winding_C) return in.insulation.back().winding_C;
  if (!in.resistance.empty()) return in.resistance.back().winding_C;
  return in.visit.ambient_C;
}

void cautions_before_touching(session& at) {
  at.person().caution(report::cautions::before_touching);
  at.person().caution(report::cautions::discharge_capacitors);
}

}  // namespace

void earth_step(session& at) {
  const step here{step_kind::earth, ""};
  cautions_before_touching(at);
  looking_again([&] {
    auto changed = at.record();
    const double ohms = at.ask_number("frame to earth pin, ohm", quantity::resistance, 1.0, at.read_instrument("ohmmeter"), here);
    changed.earth_continuity_ohm = ohms;
    changed.earth_cord_length_m = at.ask_known("length of the cord, m", quantity::length, 1.0);
    if (!at.keep(std::move(changed), "kept", "earth " + report::number_text(ohms) + " ohm")) throw look_again();
    at.person().say(cold_remark(at.judged(), check::earth, ""), "  ", "  ");
  });
}

namespace {

void one_resistance(session& at, const step& here) {
  const auto& done = at.record().resistance;
  const std::string usual = done.empty() ? "main" : "";
  job::resistance_section entry;
  entry.section = ask_name(at, done.empty() ? "Winding resistance: section [main] > " : "next section (Enter: no more) > ", here);
  if (entry.section.empty()) entry.section = usual;
  if (entry.section.empty()) throw step_left{};
  const auto linked = at.read_instrument("ohmmeter");
  entry.resistance_ohm = at.ask_number("ohms of " + entry.section, quantity::resistance, 1.0, linked);
  entry.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, likely_winding_C(at.record()));
  entry.expected_ohm = at.ask_known("ohms it should have at 20 degC", quantity::resistance, 1.0);
  auto changed = at.record();
  const std::string section = entry.section;
  const std::string what = section + " " + report::number_text(entry.resistance_ohm) + " ohm at " + report::number_text(entry.winding_C) + " degC";
  changed.resistance.push_back(std::move(entry));
  if (at.keep(std::move(changed), "kept", what)) at.person().say(cold_remark(at.judged(), check::resistance, section), "  ", "  ");
}

}  // namespace

void resistance_step(session& at) {
  cautions_before_touching(at);
  for (;;) looking_again([&] { one_resistance(at, {step_kind::resistance, ""}); });
}

namespace {

/// Seconds at which a person reads: to one minute, and on to ten.
constexpr auto insulation_times = {15.0, 30.0, 60.0, 120.0, 180.0, 240.0, 300.0, 420.0, 600.0};

struct insulation_test {
  std::string circuit;
  double test_voltage_V;
  double winding_C;
};

job::insulation_section* test_of(job::record& in, const insulation_test& of) {
  for (auto& each : in.insulation)
    if (each.circuit == of.circuit) return &each;
  return nullptr;
}

double last_time(const job::record& in, const insulation_test& of) {
  for (const auto& each : in.insulation)
    if (each.circuit == of.circuit) return each.time_s.back();
  return 0.0;
}

/// One more reading of a test; the first makes the test. @returns whether it was kept
bool keep_insulation(session& at, const insulation_test& of, double seconds, double megohms) {
  auto changed = at.record();
  auto* test = test_of(changed, of);
  if (test == nullptr) {
    changed.insulation.push_back({.circuit = of.circuit, .test_voltage_V = of.test_voltage_V, .winding_C = of.winding_C});
    test = &changed.insulation.back();
  }
  test->time_s.push_back(seconds);
  test->resistance_Mohm.push_back(megohms);
  const std::string what = of.circuit + " " + report::number_text(seconds) + " s " + report::number_text(megohms) + " Mohm";
  if (!at.keep(std::move(changed), "kept", what)) return false;
  at.person().say(what + ": " + cold_remark(at.judged(), check::insulation, of.circuit), "  ", "  ");
  for (const auto& finding : at.judged().findings) {
    if (finding.check != check::insulation || finding.subject != of.circuit || finding.outcome != verdict::outcome::fails) continue;
    at.note("stopped", report::sentence(finding));
    at.person().say(report::sentence(finding) + " End the test with `done` and discharge the winding.", "STOP  ", "      ");
    break;
  }
  return true;
}

double next_time(double after) {
  for (const double each : insulation_times)
    if (each > after + 0.5) return each;
  return after + 60.0;
}

/// The tester's own number, or the person's.
std::optional<double> megohms_at(session& at, double seconds) {
  if (const auto read = at.read_instrument("insulation_tester")) return *read / mega;
  const auto line = at.ask("insulation at " + report::number_text(seconds) + " s, Mohm (Enter: missed) > ", step{step_kind::insulation, ""});
  if (line.empty()) return std::nullopt;
  try {
    return parse_number(line, quantity::resistance, mega);
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
    return std::nullopt;
  }
}

/// The test under the clock: at each time the tester is read, or the person is asked. Enter stops it.
void insulation_run(session& at, const insulation_test& of, double until_s, const pace& speed_of_time) {
  at.ask("Enter at the moment the tester is at its full voltage > ", step{step_kind::insulation, ""});
  run_clock clock(speed_of_time);
  for (const double each : insulation_times) {
    if (each > until_s + 0.5 || each <= last_time(at.record(), of)) continue;
    if (!clock.wait_until(at.person(), each, "reading at " + report::number_text(each) + " s")) {
      at.person().say("stopped by hand");
      break;
    }
    if (const auto read = megohms_at(at, each)) keep_insulation(at, of, each, *read);
  }
}

void typed_insulation(session& at, const insulation_test& of, const std::string& line, double asked_s) {
  try {
    const auto typed = parse_line(line, {});
    if (typed.numbers.size() == 1) keep_insulation(at, of, asked_s, parse_number(line, quantity::resistance, mega));
    else if (typed.numbers.size() == 2) {
      const auto [seconds, megohms] = parse_pair(line, quantity::time, 1.0, quantity::resistance, mega);
      keep_insulation(at, of, seconds, megohms);
    } else throw base::error(base::error_code::out_of_range, {}, "\"" + line + "\"", "megohms, or seconds and megohms");
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

insulation_test ask_test(session& at, const step& here) {
  for (;;) {
    try {
      insulation_test out;
      const auto typed = ask_name(at, "Insulation: circuit [winding to frame] > ", here);
      out.circuit = typed.empty() ? "winding to frame" : typed;
      for (const auto& each : at.record().insulation)
        if (each.circuit == out.circuit && each.winding_C) return {out.circuit, each.test_voltage_V, *each.winding_C};
      out.test_voltage_V = at.ask_number("test voltage, V dc", quantity::voltage, 1.0, 500.0);
      out.winding_C = at.ask_number("winding, degC", quantity::temperature, 1.0, likely_winding_C(at.record()));
      return out;
    } catch (const look_again&) {
    }
  }
}

/// The charge is there however the test ends; a session that ends does not wait for a key.
void tell_discharge(session& at) {
  const double longest = at.judged().longest_insulation_s;
  at.person().say(report::discharge_caution(longest), "CAUTION  ", "         ");
}

void end_of_insulation(session& at) {
  const double longest = at.judged().longest_insulation_s;
  if (longest > 0.0) at.person().caution(report::discharge_caution(longest));
}

}  // namespace

void insulation_step(session& at, const pace& speed_of_time) {
  const step here{step_kind::insulation, ""};
  cautions_before_touching(at);
  at.person().caution("The winding is charged during this test: disconnect electronics first, keep hands off, discharge afterwards.");
  const auto of = ask_test(at, here);
  at.person().caution(report::discharge_caution(0.0));
  at.person().say("Type megohms as they are read, or `60 310`; `run` counts one minute down, `run 10` ten; `done` ends the test.");
  try {
    for (;;) {
      try {
        const double asked = next_time(last_time(at.record(), of));
        const auto line = at.ask("insulation at " + report::number_text(asked) + " s, Mohm > ", here);
        if (line == "run" || line == "run 1") insulation_run(at, of, 60.0, speed_of_time);
        else if (line == "run 10") insulation_run(at, of, 600.0, speed_of_time);
        else if (!line.empty()) typed_insulation(at, of, line, asked);
      } catch (const look_again&) {
      }
    }
  } catch (const step_left&) {
    end_of_insulation(at);
    throw;
  } catch (const session_over&) {
    tell_discharge(at);
    throw;
  } catch (const gone&) {
    tell_discharge(at);
    throw;
  }
}

void withstand_step(session& at) {
  const step here{step_kind::withstand, ""};
  cautions_before_touching(at);
  at.person().caution(report::cautions::withstand);
  at.person().caution(report::cautions::after_direct_voltage);
  looking_again([&] {
    job::withstand_section entry;
    const auto circuit = ask_name(at, "Withstand: circuit [winding to frame] > ", here);
    entry.circuit = circuit.empty() ? "winding to frame" : circuit;
    if (const auto may = may_withstand(at.judged(), entry.circuit); may.permission != permission::granted) {
      at.note("stopped", "no withstand test: " + may.why);
      at.person().say("No withstand test: " + may.why, "STOP  ", "      ");
      throw step_left{};
    }
    entry.voltage_V = at.ask_number("test voltage, V", quantity::voltage, 1.0);
    entry.kind = ask_choice(at, "ac or dc", {"ac", "dc"}, "ac") == "dc" ? job::test_kind::dc : job::test_kind::ac;
    entry.duration_s = at.ask_number("for how long, s", quantity::time, 1.0, 60.0);
    const auto state = ask_choice(at, "winding: new part_rewound overhauled repeat", {"new", "part_rewound", "overhauled", "repeat"}, "new");
    using enum job::winding_state;
    entry.state = state == "part_rewound" ? part_rewound : state == "overhauled" ? overhauled : state == "repeat" ? repeat : as_new;
    entry.broke_down = ask_choice(at, "did it break down, yes or no", {"yes", "no"}) == "yes";
    auto changed = at.record();
    const std::string what = entry.circuit + " " + report::number_text(entry.voltage_V) + " V " + (entry.broke_down ? "broke down" : "held");
    changed.withstand.push_back(std::move(entry));
    if (!at.keep(std::move(changed), "kept", what)) throw look_again();
    at.person().say(cold_remark(at.judged(), check::withstand, ""), "  ", "  ");
  });
}

}  // namespace rewound::tool::bench
