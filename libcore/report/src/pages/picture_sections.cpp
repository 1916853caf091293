// SPDX-License-Identifier: MIT
#include <rewound/report/number_text.hpp>
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

/// The columns that decide come first: they are what a phone shows without scrolling.
std::string speeds_table(const view& shown) {
  std::string rows;
  for (const auto& row : shown.speeds) {
    rows += "<tr><th scope=\"row\">" + escaped(row.speed) + "</th><td>" + outcome_badge(row.outcome) + "</td>";
    for (const auto* cell : {&row.level, &row.at_rated, &row.expected, &row.at_supply, &row.exponent})
      rows += element("td", "", typeset(*cell));
    rows += "</tr>";
  }
  std::string heads;
  for (const auto& text : {std::string("speed"), std::string("outcome"), std::string("off by, %"),
                           "A at " + shown.rated, std::string("expected, A"),
                           "A at " + (shown.mains.empty() ? "mains" : shown.mains), std::string("grows as V to the")})
    heads += "<th scope=\"col\">" + escaped(text) + "</th>";
  return "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table of currents\"><table><caption>" +
         text_element("span", "", "With 95 % intervals, against " + shown.expectation) + "</caption><thead><tr>" +
         heads + "</tr></thead><tbody>" + rows + "</tbody></table></div>";
}

std::string draw_figure(const job::result& result, const job::pictures& plotted, std::size_t i) {
  const auto& picture = plotted.draw[i];
  return "<figure data-speed=\"" + escaped(picture.speed) + "\">" +
         text_element("figcaption", "", "Speed " + picture.speed) +
         draw_svg(result, picture, {"draw-" + std::to_string(i), ""}) + suspects_told(result, picture) + "</figure>";
}

/// A test read once is a number: a picture of one dot would say no more.
std::string insulation_number(const job::insulation_picture& plotted) {
  const auto& only = plotted.readings.front();
  return "<p class=\"number\" data-reading=\"" + escaped(plotted.circuit + ":" + std::to_string(only.index)) + "\">" +
         typeset(plotted.circuit + ": " + number_text(only.y) + " Mohm at " + number_text(only.x) + " s") + "</p>";
}

std::string section(std::string_view title, const std::string& content) {
  return content.empty() ? "" : element("section", "", text_element("h2", "", title) + content);
}

}  // namespace

std::string deciding_figure(const view& shown, const job::result& result, const job::pictures& plotted) {
  for (std::size_t i = 0; i < plotted.draw.size(); ++i)
    if (plotted.draw[i].speed == shown.deciding) return draw_figure(result, plotted, i);
  return "";
}

std::string draw_section(const view& shown, const job::result& result, const job::pictures& plotted) {
  if (plotted.draw.empty()) return "";
  std::string figures;
  for (std::size_t i = 0; i < plotted.draw.size(); ++i)
    if (plotted.draw[i].speed != shown.deciding) figures += draw_figure(result, plotted, i);
  if (has_steps(result)) figures += figure("All speeds", steps_svg(result, {"steps", ""}), "");
  return element("div", "block",
                 "<h2>Current of each speed</h2>" + speeds_table(shown) +
                     (figures.empty() ? "" : element("div", "figures", figures)));
}

std::string other_pictures_section(const job::result& result, const job::pictures& plotted) {
  std::string figures, numbers;
  for (std::size_t i = 0; i < plotted.insulation.size(); ++i) {
    const auto& each = plotted.insulation[i];
    if (each.readings.size() == 1 && each.earlier.empty()) numbers += insulation_number(each);
    else
      figures += figure("Insulation, " + each.circuit,
                        insulation_svg(result, each, {"insulation-" + std::to_string(i), ""}), "");
  }
  if (plotted.heat_run) figures += figure("Heat run", heat_svg(*plotted.heat_run, result, {"heat", ""}), "");
  if (plotted.coast_down) figures += figure("Coast-down", coast_svg(*plotted.coast_down, {"coast", ""}), "");
  return section("Insulation, heat and friction",
                 numbers + (figures.empty() ? "" : element("div", "figures", figures)));
}

std::string causes_section(const view& shown) {
  std::string content = text_list(shown.causes, false);
  if (!shown.telling.empty())
    content += "<h3>What would tell most about the cause</h3>" + text_list(shown.telling, false);
  return section("What may stand behind it, by the readings and the machine model", content);
}

}  // namespace rewound::report
