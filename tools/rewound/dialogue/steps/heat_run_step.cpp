// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include <rewound/base/error.hpp>
#include <rewound/report/number_text.hpp>

#include "dialogue/steps/closed_question.hpp"
#include "dialogue/steps/remark.hpp"
#include "dialogue/steps/steps.hpp"

namespace rewound::tool::dialogue {

namespace {

using report::number_text;

const step heat_run_here{step_kind::heat_run, ""};

/// A heat run in this session: its clock counts from switching on, however long the person paused between the readings.
struct heating {
  record::heat_run_section run;
  bool ohms = true;  ///< or degrees
  std::optional<run_clock> since_on;
  std::optional<run_clock> since_off;
  std::optional<double> cold_ohm;  ///< of a run by thermometer, asked for its cooling
  bool cooling = false;            ///< switched off: ohms against the seconds since then

  std::string unit() const { return ohms || cooling ? "ohm" : "degC"; }
  quantity what() const { return ohms || cooling ? quantity::resistance : quantity::temperature; }
};

double ask_cold_ohm(session& at) {
  const auto& sections = at.record().resistance;
  const auto likely = sections.empty() ? std::nullopt : std::optional(sections.front().resistance_ohm);
  return at.ask_number({"cold ohms", {"heat_run.cold_ohm"}}, quantity::resistance, 1.0, likely);
}

/// What a heat run begins with; kept with its first reading.
record::heat_run_section ask_heat_run(session& at, bool by_ohms) {
  if (at.record().heat_run) return *at.record().heat_run;
  record::heat_run_section out;
  if (by_ohms) out.cold_ohm = ask_cold_ohm(at);
  out.cold_C = at.ask_number({"winding then, degC", {"heat_run.cold_C"}}, quantity::temperature, 1.0,
                             at.record().visit.ambient_C);
  out.ambient_C =
      at.ask_number({"air, degC", {"heat_run.ambient_C"}}, quantity::temperature, 1.0, at.record().visit.ambient_C);
  out.voltage_V = at.ask_known({"voltage of the run, V", {"heat_run.voltage_V"}}, quantity::voltage, 1.0);
  return out;
}

/// Ohms or degrees: what the run already holds, what an instrument reads, or what the person says.
bool by_ohms(session& at) {
  const auto& run = at.record().heat_run;
  if (run && !run->time_s.empty()) return !run->resistance_ohm.empty();
  at.ask("Heat run, from cold: read the winding's ohms before switching on; Enter > ", heat_run_here);
  if (at.answers("ohmmeter")) return true;
  if (at.answers("thermometer")) return false;
  return ask_choice(at, "what is read of it", {"ohms", "degC"}, "ohms") == "ohms";
}

void keep_heat(session& at, heating& now, double seconds, double value) {
  auto grown = now.run;
  (now.cooling ? grown.cooling_time_s : grown.time_s).push_back(seconds);
  (now.cooling ? grown.cooling_ohm : now.ohms ? grown.resistance_ohm : grown.temperature_C).push_back(value);
  auto changed = at.record();
  changed.heat_run = grown;
  const std::string what = std::string("heat run ") + (now.cooling ? "switched off " : "") + number_text(seconds) +
                           " s " + number_text(value) + " " + now.unit();
  if (!at.keep(std::move(changed), "kept", what)) return;
  now.run = std::move(grown);
  at.person().say(what + ": " + cold_remark(at.judged(), verdict::check::heat_run, ""), "  ", "  ");
}

double tenths(double seconds) { return std::round(10.0 * seconds) / 10.0; }

/// One sample under the clock. Its time is that of the answer, not of the question.
void sample(session& at, heating& now, double due) {
  if (const auto read = at.read_instrument(now.ohms ? "ohmmeter" : "thermometer"))
    return keep_heat(at, now, tenths(now.since_on->seconds()), *read);
  const auto line =
      at.ask("at " + number_text(due) + " s, " + (now.ohms ? "ohms" : "degC") + " (Enter: missed) > ", heat_run_here);
  if (line.empty()) return;
  try {
    const double value = parse_number(line, now.what(), 1.0);
    keep_heat(at, now, tenths(now.since_on->seconds()), value);
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

/// Sets the clock going: from the moment of switching on, or, for a run of an earlier session, from what the person
/// knows.
void start_clock(session& at, heating& now, const pace& speed_of_time) {
  if (now.since_on) return;
  double already_s = 0.0;
  if (now.run.time_s.empty()) at.ask("Enter at the moment it is switched on > ", heat_run_here);
  else
    already_s =
        at.ask_number("how long since it was switched on, as 5400 or 90min", quantity::time, 1.0, {}, heat_run_here);
  expect_not_before(already_s, now.run.time_s.empty() ? 0.0 : now.run.time_s.back());
  now.since_on.emplace(speed_of_time, already_s);
}

struct sampling {
  double every_s = 600.0;
  double until_s = 14400.0;
};

/// `run 10 240`: a reading every 10 minutes for 240 minutes.
sampling sampling_of(const std::string& asked) {
  constexpr double minute = 60.0;
  sampling out;
  const auto count = parse_line(asked, {}).numbers.size();
  if (count == 1) out.every_s = minute * parse_number(asked, quantity::time, minute);
  else if (count > 1) {
    std::tie(out.every_s, out.until_s) = parse_pair(asked, quantity::time, minute, quantity::time, minute);
    out.every_s *= minute;
    out.until_s *= minute;
  }
  if (!(out.every_s > 0.0) || !(out.until_s >= out.every_s))
    throw base::error(base::error_code::out_of_range, {}, "\"run " + asked + "\"",
                      "`run 10 240`: minutes between readings, minutes in all");
  return out;
}

/// Readings at the multiples of their interval since switching on, counted down; Enter stops it.
void heat_under_clock(session& at, heating& now, const std::string& asked, const pace& speed_of_time) {
  const auto [every_s, until_s] = sampling_of(asked);
  start_clock(at, now, speed_of_time);
  for (;;) {
    const double due = every_s * (std::floor((now.since_on->seconds() + 0.5) / every_s) + 1.0);
    if (due > until_s + 0.5) return;
    if (!now.since_on->wait_until(at.person(), due, "next reading")) {
      at.person().say("stopped by hand");
      return;
    }
    sample(at, now, due);
  }
}

/// `off`: what follows is read while the winding cools. The clock runs from the Enter at switch-off.
void switch_off(session& at, heating& now, const pace& speed_of_time) {
  if (now.run.time_s.empty())
    throw base::error(base::error_code::out_of_range, {}, "\"off\"", "a reading of the run first");
  if (now.run.cooling_time_s.empty()) {
    at.ask("Enter at the moment it is switched off > ", heat_run_here);
    now.since_off.emplace(speed_of_time);
  }
  now.cooling = true;
  if (!now.run.cold_ohm) now.cold_ohm = ask_cold_ohm(at);
  at.person().say(
      "Cooling: type ohms as they are read, or seconds since switch-off and ohms, `20 21.4`; soon and often; `done` "
      "ends.");
}

/// A typed line: seconds and a value, or the value alone while a clock runs.
void take_heat(session& at, heating& now, const std::string& line) {
  const auto& clock = now.cooling ? now.since_off : now.since_on;
  if (clock && parse_line(line, {}).numbers.size() == 1) {
    const double value = parse_number(line, now.what(), 1.0);
    return keep_heat(at, now, tenths(clock->seconds()), value);
  }
  const auto [seconds, value] = parse_pair(line, quantity::time, 1.0, now.what(), 1.0);
  keep_heat(at, now, seconds, value);
}

/// The ohmmeter's reading while the winding cools.
void read_cooling(session& at, heating& now) {
  if (!now.since_off || !at.answers("ohmmeter")) return;
  if (const auto read = at.read_instrument("ohmmeter")) keep_heat(at, now, tenths(now.since_off->seconds()), *read);
}

/// Whether who leaves a run read by ohms has the ohms of its cooling still to read: they carry the rise back to
/// switch-off.
bool cooling_wanted(session& at, const heating& now) {
  if (!now.ohms || now.cooling || now.run.time_s.empty() || !now.run.cooling_time_s.empty()) return false;
  return ask_choice(at, "ohms while it cools, `off` at switch-off", {"off", "none"}, "none") == "off";
}

void one_heat_line(session& at, heating& now, const pace& speed_of_time) {
  if (at.record().heat_run) now.run = *at.record().heat_run;
  if (!now.run.cold_ohm) now.run.cold_ohm = now.cold_ohm;
  const auto line =
      at.ask(std::string(now.cooling ? "switched off" : "heat run") + ", s " + now.unit() + " > ", heat_run_here);
  try {
    if (now.cooling && line.empty()) read_cooling(at, now);
    else if (line == "off" || line == "switched off") switch_off(at, now, speed_of_time);
    else if (!now.cooling && (line == "run" || line.starts_with("run ")))
      heat_under_clock(at, now, line.substr(std::min<std::size_t>(4, line.size())), speed_of_time);
    else take_heat(at, now, line);
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

}  // namespace

void heat_run_step(session& at, const pace& speed_of_time) {
  heating now;
  looking_again([&] {
    now.ohms = by_ohms(at);
    now.run = ask_heat_run(at, now.ohms);
  });
  at.person().say(
      std::string("Type seconds since switched on and ") + (now.ohms ? "ohms" : "degC") +
      ", `600 20.1`; or `run 10 240`: every 10 minutes, 240 in all; `off` once it is switched off, for the ohms "
      "while it cools.");
  for (bool asked = false;;) {
    try {
      looking_again([&] { one_heat_line(at, now, speed_of_time); });
    } catch (const step_left& left) {
      if (left.to || std::exchange(asked, true) || !cooling_wanted(at, now)) throw;
      looking_again([&] { switch_off(at, now, speed_of_time); });
    }
  }
}

}  // namespace rewound::tool::dialogue
