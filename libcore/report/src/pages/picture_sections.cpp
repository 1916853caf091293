// SPDX-License-Identifier: MIT
#include <rewound/report/wording.hpp>

#include "markup.hpp"
#include "pictures/pictures.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

std::string figure(std::string_view heading, const std::string& picture, const std::string& below) {
  return element("figure", "", text_element("figcaption", "", heading) + picture + below);
}

/// What is said of each suspect reading of a speed, lettered as in the picture.
std::string suspects_told(const job::result& result, const job::draw_picture& plotted) {
  std::string items;
  std::size_t letter = 0;
  for (const auto& reading : plotted.readings) {
    if (!reading.suspect) continue;
    const std::string called = suspect_letter(letter++);
    for (const auto& f : result.findings) {
      if (f.says != verdict::statement::reading_suspect || f.subject != plotted.speed) continue;
      for (const auto& number : f.numbers)
        if (number.key == "number" && static_cast<int>(number.value) == reading.index + 1)
          items += element("li", "", text_element("b", "", called) + " " + typeset(sentence(f)));
    }
  }
  return items.empty() ? "" : element("ul", "suspects", items);
}

std::string speeds_table(const view& shown) {
  std::string rows;
  for (const auto& row : shown.speeds) {
    rows += "<tr><th scope=\"row\">" + escaped(row.speed) + "</th>";
    for (const auto* cell : {&row.at_rated, &row.expected, &row.level, &row.at_supply, &row.exponent})
      rows += element("td", "", typeset(*cell));
    rows += "<td>" + outcome_badge(row.outcome) + "</td></tr>";
  }
  return "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table of currents\"><table><caption>" +
         text_element("span", "",
                      "Current of each speed, in amperes with 95 % intervals, against " + shown.expectation) +
         "</caption><thead><tr><th scope=\"col\">speed</th><th scope=\"col\">at rated volts</th><th "
         "scope=\"col\">expected</th>"
         "<th scope=\"col\">off by, %</th><th scope=\"col\">on the mains</th><th scope=\"col\">grows as volts to the "
         "power</th>"
         "<th scope=\"col\">outcome</th></tr></thead><tbody>" +
         rows + "</tbody></table></div>";
}

std::string section(std::string_view title, const std::string& content) {
  return content.empty() ? "" : element("section", "", text_element("h2", "", title) + content);
}

}  // namespace

std::string draw_section(const view& shown, const job::result& result, const job::pictures& plotted) {
  if (plotted.draw.empty()) return "";
  std::string figures;
  for (std::size_t i = 0; i < plotted.draw.size(); ++i)
    figures += "<figure data-speed=\"" + escaped(plotted.draw[i].speed) + "\">" +
               text_element("figcaption", "", "Speed " + plotted.draw[i].speed) +
               draw_svg(result, plotted.draw[i], {"draw-" + std::to_string(i), ""}) +
               suspects_told(result, plotted.draw[i]) + "</figure>";
  if (has_steps(result)) figures += figure("All speeds", steps_svg(result, {"steps", ""}), "");
  return section("Current against voltage", element("div", "figures", figures) + speeds_table(shown));
}

std::string insulation_section_of(const job::result& result, const job::pictures& plotted) {
  std::string figures;
  for (std::size_t i = 0; i < plotted.insulation.size(); ++i)
    figures += figure(plotted.insulation[i].circuit,
                      insulation_svg(result, plotted.insulation[i], {"insulation-" + std::to_string(i), ""}), "");
  return section("Insulation against time", figures.empty() ? "" : element("div", "figures", figures));
}

std::string running_section(const job::result& result, const job::pictures& plotted) {
  std::string figures;
  if (plotted.heat_run) figures += figure("Heat run", heat_svg(*plotted.heat_run, result, {"heat", ""}), "");
  if (plotted.coast_down) figures += figure("Coast-down", coast_svg(*plotted.coast_down, {"coast", ""}), "");
  return section("Heat and friction", figures.empty() ? "" : element("div", "figures", figures));
}

std::string causes_section(const view& shown) {
  std::string content = text_list(shown.causes, false);
  if (!shown.telling.empty())
    content += "<h3>What would tell most about the cause</h3>" + text_list(shown.telling, false);
  return section("What may stand behind it, by the readings and the machine model", content);
}

}  // namespace rewound::report
