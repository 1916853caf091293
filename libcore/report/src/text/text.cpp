// SPDX-License-Identifier: MIT
#include <rewound/report/text.hpp>

#include <algorithm>
#include <array>
#include <vector>

#include <rewound/report/layout.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

namespace rewound::report {

namespace {

using lines = std::vector<std::string>;

/// The table of currents; columns that tell nothing are left out.
std::vector<lines> speed_rows(const view& in) {
  const auto told = [&](std::string view_speed::*cell) {
    return std::any_of(in.speeds.begin(), in.speeds.end(), [&](const auto& row) { return row.*cell != "-"; });
  };
  const bool expected = told(&view_speed::expected), level = told(&view_speed::level);
  const bool mains = !in.mains.empty() && told(&view_speed::at_supply);
  std::vector<lines> out{{"speed", "A at " + in.rated}};
  if (expected) out[0].emplace_back("expected");
  if (level) out[0].emplace_back("off by, %");
  if (mains) out[0].push_back("A at " + in.mains);
  out[0].emplace_back("outcome");
  for (const auto& row : in.speeds) {
    out.push_back({row.speed, row.at_rated});
    if (expected) out.back().push_back(row.expected);
    if (level) out.back().push_back(row.level);
    if (mains) out.back().push_back(row.at_supply);
    out.back().push_back(outcome_words(row.outcome));
  }
  return out;
}

std::string speeds_table(const view& in) {
  std::string out = wrapped("", "  ", "Current at each speed, in amperes, against " + in.expectation);
  for (const auto& line : table_lines(speed_rows(in))) out += line + "\n";
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

constexpr std::size_t screen_lines = 24;

lines split(const std::string& text) {
  lines out;
  for (std::size_t begin = 0; begin < text.size();) {
    const auto end = text.find('\n', begin);
    out.push_back(text.substr(begin, end - begin));
    begin = end + 1;
  }
  return out;
}

/// How much of each part is shown; less where a screen would not hold it.
struct amounts {
  std::size_t speeds;
  std::size_t conditions;
  std::size_t reasons = 3;
  std::size_t next = 3;
  std::size_t lines_each = 2;
  bool blanks = true;
};

/// An item of at most so many lines; what goes beyond is left to the full report, and three dots say so.
lines item_lines(const std::string& label, const std::string& text, std::size_t most) {
  constexpr std::size_t label_width = 9;
  auto out = split(wrapped(cell(label, label_width) + "- ", std::string(label_width + 2, ' '), text));
  if (out.size() <= most) return out;
  out.resize(most);
  auto& last = out.back();
  constexpr std::size_t widest = 75;
  if (last.size() > widest) last.erase(last.find_last_of(' '));
  last += " ...";
  return out;
}

lines part(const std::string& label, const lines& items, std::size_t most, std::size_t more, std::size_t lines_each) {
  lines out;
  const std::size_t shown = std::min(most, items.size());
  more += items.size() - shown;
  for (std::size_t i = 0; i < shown; ++i) {
    const bool tells_more = more > 0 && i + 1 == shown;
    for (auto& line : item_lines(i == 0 ? label : "",
                                 items[i] + (tells_more ? " (and " + std::to_string(more) + " more)" : ""), lines_each))
      out.push_back(std::move(line));
  }
  return out;
}

/// The rows of most weight, in their order: those that fail, then those that are undecided.
std::vector<lines> weightiest(const view& in, std::size_t most) {
  auto rows = speed_rows(in);
  if (rows.size() - 1 <= most) return rows;
  const std::size_t left_out = rows.size() - 1 - most;
  for (const auto least :
       {verdict::outcome::conforms, verdict::outcome::not_tested, verdict::outcome::undecided, verdict::outcome::fails})
    for (std::size_t i = rows.size(); i-- > 1 && rows.size() - 1 > most;)
      if (rows[i].back() == outcome_words(least)) rows.erase(rows.begin() + static_cast<std::ptrdiff_t>(i));
  rows.push_back({"and " + std::to_string(left_out) + " more"});
  return rows;
}

lines screen(const view& in, const amounts& show, std::string_view rest) {
  lines out;
  const auto add = [&](const lines& more) { out.insert(out.end(), more.begin(), more.end()); };
  const auto gap = [&] {
    if (show.blanks) out.emplace_back();
  };
  constexpr std::size_t head_lines = 2;
  for (const auto* text : {&in.title, &in.subtitle}) {
    auto head = split(wrapped("", "  ", *text));
    if (head.size() > head_lines) {
      head.resize(head_lines);
      head.back() = head.back().substr(0, head.back().find_last_of(' ')) + " ...";
    }
    add(head);
  }
  gap();
  if (!in.speeds.empty()) {
    add(table_lines(weightiest(in, show.speeds)));
    gap();
  }
  for (std::size_t i = 0; i < in.brief.cautions.size(); ++i) {
    const bool last = i + 1 == in.brief.cautions.size();
    add(split(wrapped("", "", in.brief.cautions[i] + (last ? " The rest: " + std::string(rest) : ""))));
  }
  if (!in.own_limits.empty()) out.emplace_back("Judged with limits of the shop's own.");
  add(part("Only if", in.brief.conditions, show.conditions, 0, show.lines_each));
  add(part("Why", in.brief.reasons, show.reasons, 0, show.lines_each));
  if (!in.brief.likely.empty()) add(part("Likely", {in.brief.likely}, 1, 0, show.lines_each));
  add(part("Next", in.brief.next, show.next, in.brief.more_next, show.lines_each));
  gap();
  add(split(wrapped("", "  ", in.decision_sentence)));
  return out;
}

}  // namespace

std::string text_report(const job::result& result, std::string_view rest) {
  const view in = view_of(result);
  amounts show{in.speeds.size(), in.brief.conditions.size()};
  auto shown = screen(in, show, rest);
  const auto less = [&](auto change) {
    if (shown.size() <= screen_lines) return;
    change(show);
    shown = screen(in, show, rest);
  };
  const auto at_most = [](std::size_t& amount, std::size_t most) { amount = std::min(amount, most); };
  less([&](amounts& a) { at_most(a.conditions, 5); });
  less([&](amounts& a) { a.blanks = false; });
  less([&](amounts& a) { at_most(a.speeds, 6); });
  less([&](amounts& a) { at_most(a.conditions, 3); });
  less([&](amounts& a) { at_most(a.next, 2); });
  less([&](amounts& a) { at_most(a.speeds, 3); });
  less([&](amounts& a) { at_most(a.conditions, 2); });
  less([&](amounts& a) { a.lines_each = 1; });
  less([&](amounts& a) { at_most(a.reasons, 2), at_most(a.speeds, 1); });
  std::string out;
  for (const auto& line : shown) out += line + "\n";
  return out;
}

std::string full_text_report(const job::result& result) {
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
