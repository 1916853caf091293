// SPDX-License-Identifier: MIT
#include <rewound/report/index_page.hpp>

#include <algorithm>
#include <array>
#include <utility>

#include <rewound/report/view.hpp>

#include "markup.hpp"
#include "page_frame.hpp"
#include "pictures/pictures.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

/// Places of the urgencies: what is held first, what went well last.
int urgency(const index_entry& entry) {
  if (!entry.decision) return 1;
  switch (*entry.decision) {
    case verdict::decision::hold: return 0;
    case verdict::decision::undecided: return 2;
    case verdict::decision::release: return 3;
  }
  return 3;
}

struct sign_and_words {
  std::string_view css_class;
  std::string_view sign;
  std::string_view words;
};

sign_and_words told(const index_entry& entry) {
  constexpr std::array<sign_and_words, 4> all{{{"fails", "\u2715", "hold"},
                                               {"fails", "!", "not readable"},
                                               {"undecided", "?", "undecided"},
                                               {"conforms", "\u2713", "release"}}};
  return all[static_cast<std::size_t>(urgency(entry))];
}

/// A file's name in a link: every byte that is no letter, digit, dot, hyphen or underscore is percent-encoded (RFC
/// 3986 2.1).
std::string link_to(std::string_view file) {
  constexpr std::string_view hex = "0123456789ABCDEF";
  std::string out;
  for (const char c : file) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain =
        (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '_';
    if (plain) out += c;
    else (out += '%') += std::string{hex[byte >> 4U], hex[byte & 15U]};
  }
  return out;
}

std::string row_of(const index_entry& entry) {
  const auto words = told(entry);
  std::string name = element("bdi", "", escaped(entry.machine));
  if (!entry.file.empty()) name = "<a href=\"" + link_to(entry.file) + "\">" + name + "</a>";
  return "<tr><td class=\"decision\"><span class=\"badge " + std::string(words.css_class) +
         "\"><span aria-hidden=\"true\">" + std::string(words.sign) + "</span> " + std::string(words.words) +
         "</span></td><th scope=\"row\">" + name +
         (entry.subtitle.empty() ? "" : "<br>" + text_element("span", "soft", entry.subtitle)) + "</th><td>" +
         entry.picture + "</td><td>" + typeset(entry.reason) + "</td><td>" + typeset(entry.next) + "</td></tr>";
}

std::string counted(const std::vector<index_entry>& entries) {
  std::array<std::size_t, 4> counts{};
  for (const auto& entry : entries) ++counts[static_cast<std::size_t>(urgency(entry))];
  std::string out = std::to_string(entries.size()) + (entries.size() == 1 ? " record: " : " records: ") +
                    std::to_string(counts[0]) + " held, " + std::to_string(counts[2]) + " undecided, " +
                    std::to_string(counts[3]) + " released";
  if (counts[1] > 0) out += ", " + std::to_string(counts[1]) + " not readable";
  return out + ". The most urgent first, by danger: insulation, frame, overload, the rest.";
}

}  // namespace

index_entry index_entry_of(const job::result& result, const job::pictures& plotted, std::string file,
                           std::size_t number) {
  const view shown = view_of(result);
  return {std::move(file),
          shown.title,
          shown.subtitle,
          result.decision.decision,
          shown.brief.reasons.empty() ? "" : shown.brief.reasons.front(),
          shown.brief.next.empty() ? "" : shown.brief.next.front(),
          shown.worst,
          small_svg(plotted, shown.title, "row-" + std::to_string(number))};
}

index_entry unreadable_entry(const std::string& record, const std::string& reason, std::size_t number) {
  return {"",
          record,
          "",
          {},
          reason,
          "mend the record",
          danger::other,
          small_svg({}, record, "row-" + std::to_string(number))};
}

std::string index_page(std::string_view title, std::vector<index_entry> entries) {
  std::stable_sort(entries.begin(), entries.end(), [](const auto& a, const auto& b) {
    return std::pair{urgency(a), a.worst} < std::pair{urgency(b), b.worst};
  });
  std::string rows;
  for (const auto& entry : entries) rows += row_of(entry) + "\n";
  const std::string body =
      "<header>" + text_element("h1", "", title) + text_element("p", "soft", counted(entries)) +
      "</header>\n<main>\n<section>" +
      "<table class=\"machines\"><caption>Machines, the most urgent first</caption><thead><tr><th "
      "scope=\"col\">decision</th>"
      "<th scope=\"col\">machine</th><th scope=\"col\">current over voltage</th><th scope=\"col\">first "
      "reason</th><th scope=\"col\">next step</th></tr></thead><tbody>\n" +
      rows + "</tbody></table></section>\n</main>\n<footer>" +
      text_element("p", "soft",
                   "Made by rewound from the readings entered; local codes and a licensed person decide.") +
      "</footer>";
  return framed_page(title, body);
}

}  // namespace rewound::report
