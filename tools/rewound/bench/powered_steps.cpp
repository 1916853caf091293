// SPDX-License-Identifier: MIT
#include <cmath>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>

#include "closed_question.hpp"
#include "remark.hpp"
#include "steps.hpp"

namespace rewound::tool::bench {

namespace {

using verdict::check;

}  // namespace

void leakage_step(session& at) {
  at.person().caution(report::cautions::leakage);
  const step here{step_kind::leakage, ""};
  for (;;)
    looking_again([&] {
      const bool first = at.record().leakage.empty();
      job::leakage_section entry;
      const auto polarity = first ? ask_choice(at, "Leakage: polarity, normal or reversed", {"normal", "reversed"}, "normal", here)
                                  : ask_choice(at, "next polarity, normal or reversed; Enter:", {"normal", "reversed", "no more"}, "no more", here);
      if (polarity == "no more") throw step_left{};
      entry.reversed = polarity == "reversed";
      entry.switched_on = ask_choice(at, "switch, on or off", {"on", "off"}, "on") == "on";
      entry.condition = std::string("frame, switch ") + (*entry.switched_on ? "on" : "off") + (*entry.reversed ? ", reversed" : ", normal");
      entry.current_mA = at.ask_number("frame to earth, mA", quantity::current, 1e-3);
      entry.voltage_V = at.ask_known("at what voltage, V", quantity::voltage, 1.0);
      auto changed = at.record();
      const std::string condition = entry.condition;
      const std::string what = condition + " " + report::number_text(entry.current_mA) + " mA";
      changed.leakage.push_back(std::move(entry));
      if (at.keep(std::move(changed), "kept", what)) at.person().say(cold_remark(at.judged(), check::leakage, condition), "  ", "  ");
    });
}

void starting_step(session& at) {
  const step here{step_kind::starting, ""};
  for (;;)
    looking_again([&] {
      const bool first = at.record().starts.empty();
      job::starts_section entry;
      entry.position = ask_name(at, first ? "Starts: position [upright] > " : "next position (Enter: no more) > ", here);
      if (entry.position.empty() && !first) throw step_left{};
      if (entry.position.empty()) entry.position = "upright";
      entry.attempts = ask_whole(at, "attempts", 5);
      entry.successes = ask_whole(at, "of these it started", entry.attempts);
      entry.lowest_starting_V = at.ask_known("lowest voltage at which it started, V", quantity::voltage, 1.0);
      entry.time_to_speed_s = at.ask_known("time to speed at the rated voltage, s", quantity::time, 1.0);
      auto changed = at.record();
      const std::string position = entry.position;
      const std::string what = position + " " + std::to_string(entry.successes) + " of " + std::to_string(entry.attempts);
      changed.starts.push_back(std::move(entry));
      if (at.keep(std::move(changed), "kept", what)) at.person().say(cold_remark(at.judged(), check::starting, position), "  ", "  ");
    });
}

void coast_down_step(session& at) {
  at.person().say("Coast-down: at full speed switch off, windings open; type seconds since then and rpm, `1 1120`; ten or more.");
  const step here{step_kind::coast_down, ""};
  for (;;)
    looking_again([&] {
      const auto line = at.ask("seconds rpm > ", here);
      try {
        const auto [seconds, rpm] = parse_pair(line, quantity::time, 1.0, quantity::rotation, 1.0);
        auto changed = at.record();
        if (!changed.coast_down) changed.coast_down.emplace();
        changed.coast_down->time_s.push_back(seconds);
        changed.coast_down->speed_rpm.push_back(rpm);
        if (at.keep(std::move(changed), "kept", "coast-down " + line)) at.person().say(cold_remark(at.judged(), check::coast_down, ""), "  ", "  ");
      } catch (const base::error& trouble) {
        at.refuse(line, trouble);
      }
    });
}

namespace {

/// What a heat run begins with; kept with its first reading.
job::heat_run_section ask_heat_run(session& at, const step& here) {
  if (at.record().heat_run) return *at.record().heat_run;
  job::heat_run_section out;
  at.ask("Heat run, from cold: read the winding's ohms before switching on; Enter > ", here);
  out.cold_ohm = at.ask_number("cold ohms", quantity::resistance, 1.0, at.record().resistance.empty() ? std::nullopt : std::optional(at.record().resistance.front().resistance_ohm));
  out.cold_C = at.ask_number("winding then, degC", quantity::temperature, 1.0, at.record().visit.ambient_C);
  out.ambient_C = at.ask_number("air, degC", quantity::temperature, 1.0, at.record().visit.ambient_C);
  out.voltage_V = at.ask_known("voltage of the run, V", quantity::voltage, 1.0);
  return out;
}

/// Ohms or degrees: what the run already holds, what an instrument reads, or what the person says.
bool by_ohms(session& at, const job::heat_run_section& run) {
  if (!run.time_s.empty()) return !run.resistance_ohm.empty();
  if (answers(at.record(), "ohmmeter")) return true;
  if (answers(at.record(), "thermometer")) return false;
  return ask_choice(at, "read ohms or degC", {"ohms", "degC"}, "ohms") == "ohms";
}

bool keep_heat(session& at, job::heat_run_section& run, bool ohms, double seconds, double value) {
  auto grown = run;
  grown.time_s.push_back(seconds);
  (ohms ? grown.resistance_ohm : grown.temperature_C).push_back(value);
  auto changed = at.record();
  changed.heat_run = grown;
  const std::string what = "heat run " + report::number_text(seconds) + " s " + report::number_text(value) + (ohms ? " ohm" : " degC");
  if (!at.keep(std::move(changed), "kept", what)) return false;
  run = std::move(grown);
  at.person().say(what + ": " + cold_remark(at.judged(), check::heat_run, ""), "  ", "  ");
  return true;
}

std::optional<double> heat_value(session& at, bool ohms, double seconds) {
  if (const auto read = at.read_instrument(ohms ? "ohmmeter" : "thermometer")) return read;
  const auto line = at.ask("at " + report::number_text(seconds) + " s, " + (ohms ? "ohms" : "degC") + " (Enter: missed) > ", step{step_kind::heat_run, ""});
  if (line.empty()) return std::nullopt;
  try {
    return parse_number(line, ohms ? quantity::resistance : quantity::temperature, 1.0);
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
    return std::nullopt;
  }
}

/// `run 10 240`: a reading every 10 minutes for 240 minutes, counted down; Enter stops it.
void heat_under_clock(session& at, job::heat_run_section& run, bool ohms, const std::string& asked, const pace& speed_of_time) {
  const auto numbers = parse_line(asked, {}).numbers;
  constexpr double minute = 60.0;
  auto [every_s, until_s] = numbers.size() < 2 ? std::pair(minute * (numbers.empty() ? 10.0 : parse_number(asked, quantity::time, minute)), minute * 240.0)
                                               : parse_pair(asked, quantity::time, minute, quantity::time, minute);
  if (numbers.size() >= 2) {
    every_s *= minute;
    until_s *= minute;
  }
  if (!(every_s > 0.0) || !(until_s >= every_s)) throw base::error(base::error_code::out_of_range, {}, "\"run " + asked + "\"", "`run 10 240`: minutes between readings, minutes in all");
  const double offset = run.time_s.empty() ? 0.0 : run.time_s.back();
  at.ask(offset > 0.0 ? "Enter: the run goes on from its last reading > " : "Enter at the moment it is switched on > ", step{step_kind::heat_run, ""});
  run_clock clock(speed_of_time);
  for (double due = every_s; due <= until_s - offset + 0.5; due += every_s) {
    if (!clock.wait_until(at.person(), due, "next reading")) {
      at.person().say("stopped by hand");
      return;
    }
    const double seconds = std::round(10.0 * (offset + clock.seconds())) / 10.0;
    if (const auto value = heat_value(at, ohms, seconds)) keep_heat(at, run, ohms, seconds, *value);
  }
}

}  // namespace

void heat_run_step(session& at, const pace& speed_of_time) {
  const step here{step_kind::heat_run, ""};
  std::optional<job::heat_run_section> run;
  while (!run) looking_again([&] { run = ask_heat_run(at, here); });
  const bool ohms = by_ohms(at, *run);
  at.person().say(std::string("Type seconds since switched on and ") + (ohms ? "ohms" : "degC") + ", `600 20.1`; or `run 10 240`: every 10 minutes, 240 in all.");
  for (;;)
    looking_again([&] {
      if (at.record().heat_run) run = at.record().heat_run;
      const auto line = at.ask(std::string("heat run, s ") + (ohms ? "ohm" : "degC") + " > ", here);
      try {
        if (line == "run" || line.starts_with("run ")) {
          heat_under_clock(at, *run, ohms, line.substr(std::min<std::size_t>(4, line.size())), speed_of_time);
          return;
        }
        const auto [seconds, value] = parse_pair(line, quantity::time, 1.0, ohms ? quantity::resistance : quantity::temperature, 1.0);
        keep_heat(at, *run, ohms, seconds, value);
      } catch (const base::error& trouble) {
        at.refuse(line, trouble);
      }
    });
}

void checks_step(session& at) {
  for (const auto& key : at.by().policy.required_checks)
    looking_again([&] {
      if (at.record().checks.contains(key)) return;
      const auto answer = ask_choice(at, key + ", yes or no", {"yes", "no"}, "", step{step_kind::checks, ""});
      auto changed = at.record();
      changed.checks[key] = answer == "yes";
      at.keep(std::move(changed), "kept", key + " " + answer);
    });
}

}  // namespace rewound::tool::bench
