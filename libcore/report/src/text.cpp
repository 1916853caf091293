// SPDX-License-Identifier: MIT
#include <rewound/report/text.hpp>

#include <algorithm>
#include <array>
#include <vector>

#include <rewound/report/view.hpp>

namespace rewound::report {

namespace {

constexpr std::size_t width = 79;

/// Number of characters that a terminal shows for UTF-8 text, one a code point.
std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
  }));
}

std::string harmless(std::string_view text) {
  std::string out;
  for (const char c : text) out += (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) ? '?' : c;
  return out;
}

/// First place after `from` where at most `count` characters have passed, never inside a character.
std::size_t cut_after(std::string_view text, std::size_t count) {
  std::size_t at = 0;
  while (at < text.size() && count > 0) {
    ++at;
    while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U) ++at;
    --count;
  }
  return at;
}

/// Breaks at blanks; a word longer than a line is broken where the line ends.
std::string wrapped(const std::string& first, const std::string& rest, std::string_view raw) {
  const std::string text = harmless(raw);
  std::string out;
  std::string line = first;
  bool fresh = true;
  const auto flush = [&] {
    while (!line.empty() && line.back() == ' ') line.pop_back();
    out += line + "\n";
    line = rest;
    fresh = true;
  };
  std::size_t begin = 0;
  while (begin < text.size()) {
    const auto end = std::min(text.find(' ', begin), text.size());
    std::string word = text.substr(begin, end - begin);
    begin = end + 1;
    if (!fresh && columns(line) + 1 + columns(word) > width) flush();
    while (columns(line) + (fresh ? 0 : 1) + columns(word) > width) {
      const auto fits = cut_after(word, width - columns(line));
      line += word.substr(0, fits);
      word.erase(0, fits);
      flush();
    }
    if (word.empty()) continue;
    line += (fresh ? "" : " ") + word;
    fresh = false;
  }
  flush();
  return out;
}

std::string listed(const std::string& head, const std::vector<std::string>& items) {
  if (items.empty()) return "";
  std::string out = head + "\n";
  for (const auto& item : items) out += wrapped("  - ", "    ", item);
  return out + "\n";
}

std::string cell(std::string_view text, std::size_t size) {
  std::string out = harmless(text);
  if (columns(out) > size) out = out.substr(0, cut_after(out, size - 1)) + "~";
  return out + std::string(size - columns(out), ' ');
}

std::string shown_outcome(verdict::outcome value) {
  return value == verdict::outcome::not_tested ? "not tested" : std::string(verdict::name(value));
}

std::string speeds_table(const view& in) {
  std::string out = wrapped("", "  ", "Current at each speed, in amperes, against " + in.expectation);
  out += "  " + cell("speed", 12) + cell("at rated V", 16) + cell("expected", 10) + cell("off by, %", 14) +
         cell("on mains", 16) + "outcome\n";
  for (const auto& row : in.speeds)
    out += "  " + cell(row.speed, 11) + " " + cell(row.at_rated, 15) + " " + cell(row.expected, 9) + " " +
           cell(row.level, 13) + " " + cell(row.at_supply, 15) + " " + shown_outcome(row.outcome) + "\n";
  for (const auto& row : in.speeds)
    if (row.exponent != "-")
      out += wrapped("  ", "  ", "speed " + row.speed + ": current grows as the voltage to the power " + row.exponent);
  return out + "\n";
}

std::string_view heading(verdict::check which) {
  using verdict::check;
  switch (which) {
    case check::draw: return "Draw";
    case check::steps: return "Speed steps";
    case check::supply: return "Supply";
    case check::insulation: return "Insulation";
    case check::polarization_index: return "Insulation, ten minutes";
    case check::resistance: return "Winding resistance";
    case check::withstand: return "Withstand";
    case check::leakage: return "Leakage";
    case check::earth: return "Earth";
    case check::starting: return "Starting";
    case check::coast_down: return "Coast-down";
    case check::heat_run: return "Heat run";
    case check::unbalance: return "Unbalance";
    case check::readings: return "Readings";
    case check::checks: return "Bench checks";
  }
  return "";
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
  if (!in.not_tested.empty()) {
    std::string all;
    for (const auto& name : in.not_tested) all += (all.empty() ? "" : ", ") + name;
    out += wrapped("Not tested or not judged: ", "  ", all) + "\n";
  }
  std::string cautions = listed("Cautions", in.cautions);
  cautions.pop_back();
  return out + cautions;
}

}  // namespace rewound::report
