// SPDX-License-Identifier: MIT
#include <rewound/base/error.hpp>
#include <rewound/report/cautions.hpp>
#include <rewound/report/number_text.hpp>

#include "closed_question.hpp"
#include "remark.hpp"
#include "steps.hpp"

namespace rewound::tool::dialogue {

namespace {

using verdict::check;

}  // namespace

void leakage_step(session& at) {
  at.person().caution(report::cautions::leakage);
  const step here{step_kind::leakage, ""};
  for (;;)
    looking_again([&] {
      const bool first = at.record().leakage.empty();
      record::leakage_section entry;
      const auto polarity =
          first ? ask_choice(at, "Leakage: polarity, normal or reversed", {"normal", "reversed"}, "normal", here)
                : ask_choice(at, "next polarity, normal or reversed; Enter:", {"normal", "reversed", "no more"},
                             "no more", here);
      if (polarity == "no more") throw step_left{};
      entry.reversed = polarity == "reversed";
      entry.switched_on = ask_choice(at, "switch, on or off", {"on", "off"}, "on") == "on";
      entry.condition = std::string("frame, switch ") + (*entry.switched_on ? "on" : "off") +
                        (*entry.reversed ? ", reversed" : ", normal");
      entry.current_mA = at.ask_number("frame to earth, mA", quantity::current, 1e-3);
      entry.voltage_V = at.ask_known("at what voltage, V", quantity::voltage, 1.0);
      auto changed = at.record();
      const std::string condition = entry.condition;
      const std::string what = condition + " " + report::number_text(entry.current_mA) + " mA";
      changed.leakage.push_back(std::move(entry));
      if (at.keep(std::move(changed), "kept", what))
        at.person().say(cold_remark(at.judged(), check::leakage, condition), "  ", "  ");
    });
}

void starting_step(session& at) {
  const step here{step_kind::starting, ""};
  for (;;)
    looking_again([&] {
      const bool first = at.record().starts.empty();
      record::starts_section entry;
      entry.position =
          ask_name(at, first ? "Starts: position [upright] > " : "next position (Enter: no more) > ", here);
      if (entry.position.empty() && !first) throw step_left{};
      if (entry.position.empty()) entry.position = "upright";
      entry.attempts = ask_whole(at, "attempts", 5);
      entry.successes = ask_whole(at, "of these it started", entry.attempts);
      entry.lowest_starting_V = at.ask_known("lowest voltage at which it started, V", quantity::voltage, 1.0);
      entry.time_to_speed_s = at.ask_known("time to speed at the rated voltage, s", quantity::time, 1.0);
      auto changed = at.record();
      const std::string position = entry.position;
      const std::string what =
          position + " " + std::to_string(entry.successes) + " of " + std::to_string(entry.attempts);
      changed.starts.push_back(std::move(entry));
      if (at.keep(std::move(changed), "kept", what))
        at.person().say(cold_remark(at.judged(), check::starting, position), "  ", "  ");
    });
}

void coast_down_step(session& at) {
  at.person().say(
      "Coast-down: at full speed switch off, windings open; type seconds since then and rpm, `1 1120`; ten or more.");
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
        if (at.keep(std::move(changed), "kept", "coast-down " + line))
          at.person().say(cold_remark(at.judged(), check::coast_down, ""), "  ", "  ");
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

}  // namespace rewound::tool::dialogue
