// SPDX-License-Identifier: MIT
#include <rewound/report/text.hpp>

#include <array>
#include <vector>

#include <rewound/report/layout.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

namespace rewound::report {

namespace {

std::string speeds_table(const view& in) {
  std::string out = wrapped("", "  ", "Current at each speed, in amperes, against " + in.expectation);
  out += "  " + cell("speed", 12) + cell("at rated V", 16) + cell("expected", 10) + cell("off by, %", 14) +
         cell("on mains", 16) + "outcome\n";
  for (const auto& row : in.speeds)
    out += "  " + cell(row.speed, 11) + " " + cell(row.at_rated, 15) + " " + cell(row.expected, 9) + " " +
           cell(row.level, 13) + " " + cell(row.at_supply, 15) + " " + outcome_words(row.outcome) + "\n";
  for (const auto& row : in.speeds)
    if (row.exponent != "-")
      out += wrapped("  ", "  ", "speed " + row.speed + ": current grows as the voltage to the power " + row.exponent);
  return out + "\n";
}

std::string finding_mark(verdict::outcome value) {
  switch (value) {
    case verdict::outcome::conforms: return "  conforms    ";
    case verdict::outcome::fails: return "  FAILS       ";
    case verdict::outcome::undecided: return "  undecided   ";
    case verdict::outcome::not_tested: return "  .           ";
  }
  return "";
}

std::string findings_text(const view& in) {
  std::string out = "What was found\n";
  const std::string rest(14, ' ');
  for (std::size_t i = 0; i < verdict::check_names.size(); ++i) {
    const auto check = static_cast<verdict::check>(i);
    bool headed = false;
    for (const auto& line : in.findings) {
      if (line.check != check) continue;
      if (!headed) out += " " + std::string(heading(check)) + "\n";
      headed = true;
      std::string text = line.sentence;
      if (!line.source.empty()) text += " [" + line.source + "]";
      out += wrapped(finding_mark(line.outcome), rest, text);
    }
  }
  return out + "\n";
}

}  // namespace

std::string text_report(const job::result& result) {
  const view in = view_of(result);
  std::string out = wrapped("", "  ", in.title) + wrapped("", "  ", in.subtitle) + "\n";
  out += wrapped("", "  ", in.decision_sentence) + "\n";
  out += listed("Judged with limits of the shop's own", in.own_limits);
  out += listed("Why", in.reasons);
  out += listed("What to do next", in.next);
  out += listed("Released on these conditions", in.conditions);
  out += speeds_table(in);
  out += findings_text(in);
  out += listed("What may stand behind it, by the readings and the machine model", in.causes);
  out += listed("What would tell most about the cause", in.telling);
  if (!in.not_tested.empty()) {
    std::string all;
    for (const auto& each : in.not_tested) all += (all.empty() ? "" : ", ") + each;
    out += wrapped("Not tested or not judged: ", "  ", all) + "\n";
  }
  std::string cautions = listed("Cautions", in.cautions);
  cautions.pop_back();
  return out + cautions;
}

}  // namespace rewound::report
