// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>

#include "dialogue/steps/closed_question.hpp"
#include "dialogue/steps/remark.hpp"
#include "dialogue/steps/steps.hpp"
#include "dialogue/entry/worded_reading.hpp"

namespace rewound::tool::dialogue {

namespace {

using verdict::check;

}  // namespace

namespace {

/// Polarity of the plug and the switch, in the order in which they are gone through.
struct leakage_way {
  bool reversed;
  bool switched_on;
  std::string words() const {
    return std::string(reversed ? "reversed" : "normal") + ", switch " + (switched_on ? "on" : "off");
  }
};
constexpr auto leakage_ways = {leakage_way{false, true}, leakage_way{true, true}, leakage_way{false, false},
                               leakage_way{true, false}};

/// The first way in which nothing was read; the first of all where each was.
leakage_way next_way(const record::visit_record& in) {
  for (const auto& way : leakage_ways)
    if (std::none_of(in.leakage.begin(), in.leakage.end(), [&](const auto& each) {
          return each.reversed == way.reversed && each.switched_on == way.switched_on;
        }))
      return way;
  return *leakage_ways.begin();
}

void one_leakage(session& at, const step& here) {
  const bool first = at.record().leakage.empty();
  const auto way = next_way(at.record());
  const auto line = at.ask({"leakage, " + way.words() + ", mA" + (first ? " > " : " (Enter: no more) > "),
                            {"leakage.current_mA", "leakage.polarity", "leakage.switch", "leakage.voltage_V",
                             "another way in words before it, `reversed off .2`; the voltage behind, `.2 243V`"}},
                           here);
  if (line.empty() && !first) throw step_left{};
  try {
    const auto read = parse_leakage(line);
    record::leakage_section entry;
    entry.reversed = read.reversed.value_or(way.reversed);
    entry.switched_on = read.switched_on.value_or(way.switched_on);
    entry.condition = std::string("frame, switch ") + (*entry.switched_on ? "on" : "off") +
                      (*entry.reversed ? ", reversed" : ", normal");
    entry.current_mA = read.milliamps;
    entry.voltage_V = read.voltage_V;
    auto changed = at.record();
    const std::string condition = entry.condition;
    const std::string what = condition + " " + report::number_text(entry.current_mA) + " mA";
    changed.leakage.push_back(std::move(entry));
    if (at.keep(std::move(changed), "kept", what))
      at.person().say(what + ": " + cold_remark(at.judged(), check::leakage, condition), "  ", "  ");
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

}  // namespace

void leakage_step(session& at) {
  at.person().caution(report::cautions::leakage);
  for (;;) looking_again([&] { one_leakage(at, {step_kind::leakage, ""}); });
}

namespace {

const std::vector<std::string> about_starts{
    "starts.attempts", "starts.successes", "starts.position",
    "as `20 20`, or `on its side 20 19`; the lowest voltage and the time to speed may stand behind, as `150V 3.2s`",
    "`on low 20 20` names the speed they were made on, `push` behind them says that it needed a push by hand"};

void one_position(session& at, const step& here) {
  const bool first = at.record().starts.empty();
  const auto& speeds = at.record().machine.speeds;
  const std::string by_speed = speeds.size() > 1 ? " or `on " + speeds.back() + " 20 20 push`" : "";
  const auto line = at.ask({first ? "starts upright: tries, started, as `20 20`" + by_speed + " > "
                                  : "another position, as `on its side 20 20` (Enter: no more) > ",
                            about_starts},
                           here);
  if (line.empty() && !first) throw step_left{};
  try {
    const auto read = parse_starts(line, speeds);
    record::starts_section entry;
    entry.position = read.position.empty() ? "upright" : read.position;
    entry.speed = read.speed;
    entry.needed_push = read.needed_push;
    entry.attempts = read.attempts;
    entry.successes = read.successes;
    entry.lowest_starting_V = read.lowest_V;
    entry.time_to_speed_s = read.to_speed_s;
    auto changed = at.record();
    const std::string position = entry.position;
    const std::string what = position + (entry.speed ? " on " + *entry.speed : "") + " " +
                             std::to_string(entry.successes) + " of " + std::to_string(entry.attempts) +
                             (entry.needed_push ? ", by a push" : "");
    changed.starts.push_back(std::move(entry));
    if (at.keep(std::move(changed), "kept", what))
      at.person().say(what + ": " + cold_remark(at.judged(), check::starting, position), "  ", "  ");
  } catch (const base::error& trouble) {
    at.refuse(line, trouble);
  }
}

}  // namespace

void starting_step(session& at) {
  for (;;) looking_again([&] { one_position(at, {step_kind::starting, ""}); });
}

void coast_down_step(session& at) {
  at.person().say(
      "Coast-down: at full speed switch off, windings open; type seconds since then and rpm, `1 1120`; ten or more.");
  const step here{step_kind::coast_down, ""};
  for (;;)
    looking_again([&] {
      const auto line = at.ask({"seconds rpm > ", {"coast_down.time_s", "coast_down.speed_rpm"}}, here);
      try {
        const auto [seconds, rpm] = parse_pair(line, quantity::time, 1.0, quantity::rotation, 1.0);
        auto changed = at.record();
        if (!changed.coast_down) changed.coast_down.emplace();
        changed.coast_down->time_s.push_back(seconds);
        changed.coast_down->speed_rpm.push_back(rpm);
        if (at.keep(std::move(changed), "kept", "coast-down " + line))
          at.person().say(cold_remark(at.judged(), check::coast_down, ""), "  ", "  ");
      } catch (const base::error& trouble) {
        at.refuse(line, trouble);
      }
    });
}

namespace {

/// What is looked at, where the check is known by its name; else the name.
std::string looked_at(const std::string& key) {
  for (const auto& known : verdict::tables::bench_checks)
    if (known.name == key) return std::string(known.words);
  return key;
}

/// `done` leaves one check open and goes on to the next.
void one_check(session& at, const std::string& key) {
  if (at.record().checks.contains(key)) return;
  for (bool answered = false; !answered;) try {
      const auto answer = ask_choice(at, {looked_at(key), {"whether it is so: the policy asks for it"}}, {"yes", "no"});
      auto changed = at.record();
      changed.checks[key] = answer == "yes";
      answered = at.keep(std::move(changed), "kept", key + " " + answer);
    } catch (const question_left&) {
      return;
    } catch (const look_again&) {
      if (at.record().checks.contains(key)) return;
    }
}

}  // namespace

void checks_step(session& at) {
  for (const auto& key : at.by().policy.required_checks) one_check(at, key);
}

}  // namespace rewound::tool::dialogue
