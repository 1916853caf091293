// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <set>

#include <rewound/base/error.hpp>
#include <rewound/job/expected_reading.hpp>
#include <rewound/report/number_text.hpp>

#include "dialogue/entry/over_range.hpp"
#include "dialogue/steps/remark.hpp"
#include "dialogue/keeping/run_up_edit.hpp"
#include "dialogue/steps/steps.hpp"
#include "dialogue/steps/stop_rules.hpp"

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

/// A reading that is asked for again.
struct asked_again {
  std::string speed;
  std::size_t place;
  std::optional<double> would_fit_V;  ///< where it is the voltage that looks misread
};

struct run_up_state {
  std::string speed;
  std::set<std::pair<std::string, int>> accepted;  ///< suspect readings that the person kept
  std::optional<asked_again> again;
  bool stopped = false;  ///< at the last reading: what comes next is the person's to say
};

double voltage_asked_for(const session& at, const run_up_state& state) {
  if (state.again) return run_up_of(at.record(), state.again->speed)->rows[state.again->place].voltage_V;
  if (const auto next = suggested_voltage(at.record(), state.speed)) return *next;
  return at.record().machine.rated_voltage_V;
}

reading_facts facts_of(session& at, const run_up_state& state, std::size_t place) {
  const auto& rows = run_up_of(at.record(), state.speed)->rows;
  reading_facts out{.speed = state.speed,
                    .index = static_cast<int>(place),
                    .voltage_V = rows[place].voltage_V,
                    .current_A = rows[place].current_A,
                    .rated_V = at.record().machine.rated_voltage_V,
                    .rated_current_A = at.record().machine.rated_current_A,
                    .expected = {},
                    .before_V = {},
                    .before_A = {},
                    .accepted = {},
                    .turning = true};
  if (rows[place].voltage_V > 0.0)
    out.expected = job::expect_reading(at.record(), at.by().compare_with, at.by().policy, state.speed,
                                       units::volts(rows[place].voltage_V));
  out.turning = rows[place].turns();
  if (place > 0 && rows[place].turns() && rows[place - 1].turns()) {
    out.before_V = rows[place - 1].voltage_V;
    out.before_A = rows[place - 1].current_A;
  }
  for (const auto& [speed, index] : state.accepted)
    if (speed == state.speed) out.accepted.insert(index);
  return out;
}

const verdict::rules::named_suspect* suspect_at(const job::result& judged, const std::string& speed,
                                                std::size_t place) {
  for (const auto& each : judged.suspects)
    if (each.speed == speed && each.reading.index == static_cast<int>(place)) return &each;
  return nullptr;
}

bool set_aside(session& at, const std::string& speed, std::size_t place) {
  const auto* suspect = suspect_at(at.judged(), speed, place);
  return suspect != nullptr && suspect->reading.set_aside;
}

/// One short line, and whatever speaks against going on.
void remark_on(session& at, run_up_state& state, std::size_t place) {
  const auto facts = facts_of(at, state, place);
  const auto stops = stops_after(facts, at.judged(), at.by().policy);
  state.again.reset();
  const std::string number = std::to_string(place + 1) + "  ";
  if (set_aside(at, state.speed, place))
    at.person().say("set aside: it looks misread, and the judgement leaves it out.", number, "   ");
  else
    at.person().say(run_up_remark(at.judged(), facts.expected, state.speed, facts.current_A, facts.rated_V), number,
                    "   ");
  bool voltage_down = false;
  for (const auto& stop : stops) {
    const bool asks = stop.why == stop_reason::misread;
    at.note("stopped", stop.line);
    at.person().say(stop.line, asks ? "? " : "STOP  ", asks ? "  " : "      ");
    if (!asks) voltage_down = true;
    else {
      const auto which = static_cast<std::size_t>(stop.index);
      const auto* suspect = suspect_at(at.judged(), state.speed, which);
      state.again =
          asked_again{state.speed, which,
                      suspect != nullptr && suspect->reading.voltage ? suspect->reading.would_fit : std::nullopt};
    }
  }
  state.stopped = voltage_down;
  if (voltage_down) at.person().wait_for_enter("press Enter when the voltage is down > ");
}

std::string as_kept(const record::visit_record& in, const std::string& speed, std::size_t place) {
  return reading_words(in, speed, place);
}

/// Whether a line answers the reading that is asked for again: at its voltage, or at the one that would fit. Any other
/// is a reading of its own, and takes no other one's place.
std::optional<std::size_t> answered_by(const session& at, const run_up_state& state, const run_up_entry& entry) {
  if (!state.again || entry.speed != state.again->speed) return std::nullopt;
  constexpr double same_voltage =
      0.02;  // two readings meant for one voltage differ by less (common practice, no source)
  const auto near = [&](double volts) { return std::abs(entry.voltage_V - volts) <= same_voltage * volts; };
  const bool same = near(voltage_asked_for(at, state)) || (state.again->would_fit_V && near(*state.again->would_fit_V));
  return same ? std::optional(state.again->place) : std::nullopt;
}

/// Keeps a reading: in the place of another, or behind those of its speed.
void take(session& at, run_up_state& state, const run_up_entry& entry, const std::optional<std::size_t>& instead_of) {
  const bool replaces = instead_of.has_value();
  const auto* run = run_up_of(at.record(), entry.speed);
  const std::size_t place = replaces ? *instead_of : run == nullptr ? 0 : run->rows.size();
  auto changed = replaces ? with_reading_replaced(at.record(), place, entry) : with_reading(at.record(), entry);
  const auto now = as_kept(changed, entry.speed, place);
  const auto before = replaces ? as_kept(at.record(), entry.speed, place) : "";
  const std::string what = replaces ? before + " -> " + now : now;
  if (!at.keep(std::move(changed), replaces ? "changed" : "kept", what)) return;
  if (replaces) {
    state.accepted.erase({entry.speed, static_cast<int>(place)});  // kept was the one before it
    at.person().say(before + " by " + now, "  replaced ", "  ");
  }
  if (entry.speed != state.speed) at.person().say("speed " + entry.speed);
  state.speed = entry.speed;
  at.now = step{step_kind::run_up, state.speed};
  remark_on(at, state, place);
}

/// The end of the ammeter's range, as its section says or as the person does. None is invented.
double end_of_range(session& at) {
  const auto meter = at.record().instruments.find("ammeter");
  if (meter != at.record().instruments.end() && meter->second.full_scale) return *meter->second.full_scale;
  return at.ask_number("end of the ammeter's range, A", quantity::current, 1.0);
}

/// A typed line as a reading; `120 OL` and `120 >2` are beyond the ammeter's range.
run_up_entry entry_typed(session& at, const run_up_state& state, const std::string& text, double suggested_V,
                         const std::vector<std::string>& speeds) {
  const auto& machine = at.record().machine;
  const run_up_prompt prompt{state.speed, suggested_V, machine.rated_voltage_V, machine.phases,
                             machine.rated_current_A};
  const auto over = over_range_in(text);
  if (!over) return as_run_up(parse_line(text, speeds), prompt);
  if (machine.phases == 3)
    throw base::error(base::error_code::out_of_range, {}, "\"" + text + "\"", "amps of all three lines");
  const double least = over->least.empty() ? end_of_range(at) : parse_number(over->least, quantity::current, 1.0);
  auto line = parse_line(over->before, speeds);
  line.numbers.push_back({least, quantity::current, least, 1.0, false});
  auto out = as_run_up(line, prompt);
  out.over_range = true;
  return out;
}

/// `correct 2 110 .61`: that reading anew.
void correct(session& at, run_up_state& state, const std::string& rest) {
  const auto blank = rest.find(' ');
  const double number = parse_number(rest.substr(0, blank), quantity::plain, 1.0);
  const auto* run = run_up_of(at.record(), state.speed);
  const std::size_t count = run == nullptr ? 0 : run->rows.size();
  if (blank == std::string::npos || !(number >= 1.0 && number <= static_cast<double>(count)))
    throw base::error(base::error_code::out_of_range, {}, "\"correct " + rest + "\"",
                      "`correct 2 110 .61` with the number of a reading, as `list` shows them");
  const auto place = static_cast<std::size_t>(number) - 1;
  take(at, state, entry_typed(at, state, rest.substr(blank + 1), run->rows[place].voltage_V, {}), place);
}

/// The ammeter's reading of the one line, or of three lines in turn; empty where it gave none.
std::vector<double> line_currents(session& at) {
  const int lines = at.record().machine.phases == 3 ? 3 : 1;
  std::vector<double> out;
  for (int line = 1; line <= lines; ++line) {
    if (lines == 3) at.ask("ammeter in line " + std::to_string(line) + ": Enter > ");
    const auto amperes = at.read_instrument("ammeter");
    if (!amperes) return {};
    out.push_back(*amperes);
  }
  return out;
}

/// Reads every instrument that answers by itself; volts that none of them reads are those asked for.
std::optional<run_up_entry> from_instruments(session& at, const run_up_state& state,
                                             const std::optional<double>& volts) {
  if (!at.answers("ammeter")) return std::nullopt;
  run_up_entry out{.speed = state.speed,
                   .voltage_V = volts.value_or(voltage_asked_for(at, state)),
                   .current_A = {},
                   .power_W = {},
                   .speed_rpm = {}};
  if (!volts && at.answers("voltmeter")) {
    const auto read = at.read_instrument("voltmeter");
    if (!read) return std::nullopt;
    out.voltage_V = *read;
  }
  out.current_A = line_currents(at);
  if (out.current_A.empty()) return std::nullopt;
  if (at.answers("wattmeter")) out.power_W = at.read_instrument("wattmeter");
  if (at.answers("tachometer")) out.speed_rpm = at.read_instrument("tachometer");
  return out;
}

/// What belongs to the run-up alone: keep, stalled, correct, leaving out a channel, reading the instruments.
bool run_up_command(session& at, run_up_state& state, const std::string& line) {
  if (line == "keep" && state.again) {
    state.accepted.emplace(state.again->speed, static_cast<int>(state.again->place));
    at.note("kept", "as read: " + as_kept(at.record(), state.again->speed, state.again->place));
    if (set_aside(at, state.again->speed, state.again->place))
      at.person().say("kept as read; the judgement sets it aside.", "  ");
    state.again.reset();
  } else if (line == "stalled") {
    const auto* run = run_up_of(at.record(), state.speed);
    const std::size_t place = state.again ? state.again->place : run == nullptr ? 0 : run->rows.size() - 1;
    auto changed = with_stalled(at.record(), state.speed, place);
    const auto what = as_kept(changed, state.speed, place);
    if (at.keep(std::move(changed), "changed", what)) {
      at.person().say(what, "  kept ");
      remark_on(at, state, place);
    }
  } else if (line.starts_with("correct ")) {
    correct(at, state, line.substr(8));
  } else if (line == "drop watts") {
    at.keep(without_watts(at.record(), state.speed), "changed", "dropped: watts of " + state.speed);
  } else if (line == "drop rpm") {
    at.keep(without_rpm(at.record(), state.speed), "changed", "dropped: rpm of " + state.speed);
  } else if (line.empty() || line == "read" || line.starts_with("read ")) {
    const auto volts =
        line.starts_with("read ") ? std::optional(parse_number(line.substr(5), quantity::voltage, 1.0)) : std::nullopt;
    if (const auto entry = from_instruments(at, state, volts)) {
      std::string amperes;
      for (const double line_A : entry->current_A) amperes += " " + number_text(line_A);
      at.person().say("read " + number_text(entry->voltage_V) + " V" + amperes + " A", "   ");
      take(at, state, *entry, answered_by(at, state, *entry));
    }
    if (!at.answers("ammeter"))
      at.person().say("Type amps, or volts and amps; `done` leaves this speed, `help` tells more.");
  } else return false;
  return true;
}

const std::vector<std::string> about_run_up{
    "run_up.voltage_V", "run_up.current_A",
    "amps at the volts shown, or volts and amps as `110 .61`, then watts and rpm if they are read; `OL` beyond the "
    "range; `stalled` behind it where the rotor stood; another speed's name before it; `done` leaves this speed"};

void one_line(session& at, run_up_state& state) {
  const auto shown = number_text(voltage_asked_for(at, state));
  const std::string unit = at.record().machine.phases == 3 ? " V, A A A" : " V, A";
  const std::string name = is_typed_number(state.speed) ? state.speed + ":" : state.speed;
  const auto line = at.ask({name + (state.again ? " again " : " ") + shown + unit + " > ", about_run_up},
                           step{step_kind::run_up, state.speed});
  try {
    if (run_up_command(at, state, line)) return;
    const auto& speeds = at.record().machine.speeds;
    if (!over_range_in(line))
      if (const auto typed = parse_line(line, speeds); typed.numbers.empty() && typed.speed)
        throw step_left{step{step_kind::run_up, *typed.speed}};
    const auto entry = entry_typed(at, state, line, voltage_asked_for(at, state), speeds);
    take(at, state, entry, answered_by(at, state, entry));
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

bool speed_complete(const session& at, const std::string& speed) {
  for (const auto& each : plan_of(at.record(), at.by().policy))
    if (each.step == step{step_kind::run_up, speed}) return each.recorded && !suggested_voltage(at.record(), speed);
  return false;
}

void tell_numbered_speeds(session& at) {
  for (const auto& name : at.record().machine.speeds) {
    if (!is_typed_number(name)) continue;
    at.person().say("Speeds here are named by numbers: `" + name + ":` goes to one, `" + name +
                    ": 110 .61` is a reading of it; without "
                    "the colon a number is a reading.");
    return;
  }
}

}  // namespace

void run_up_step(session& at, const std::string& speed) {
  run_up_state state{.speed = speed, .accepted = {}, .again = {}};
  tell_numbered_speeds(at);
  mains_question(at);
  std::set<std::string> had_enough;  // before: who comes back to such a speed has more readings of it
  for (const auto& each : at.record().machine.speeds)
    if (speed_complete(at, each)) had_enough.insert(each);
  bool told = false;
  for (;;) {
    try {
      one_line(at, state);
    } catch (const fact_changed&) {
    } catch (const look_again&) {
      state.again.reset();
    }
    if (state.again || state.stopped || told || !speed_complete(at, state.speed)) continue;
    if (had_enough.contains(state.speed)) continue;
    if (!has_variable_volts(at.record())) throw step_left{std::nullopt, step{step_kind::run_up, state.speed}};
    at.person().say("Speed " + state.speed + " has what it needs: `done` goes on, more readings are welcome.");
    told = true;
  }
}

}  // namespace rewound::tool::dialogue
