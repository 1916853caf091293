// SPDX-License-Identifier: MIT
#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

#include "markup.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

std::string rows_of(const view& shown, verdict::check check) {
  std::string out;
  for (const auto& line : shown.findings) {
    if (line.check != check) continue;
    out += "<tr><td>" + outcome_badge(line.outcome, line.noted) + "</td><td>" + typeset(line.sentence);
    if (!line.source.empty()) out += " " + element("cite", "", typeset(line.source));
    out += "</td></tr>";
  }
  return out;
}

std::string readings_table(std::string_view name, std::string_view x_name, std::string_view y_name,
                           const std::vector<job::drawn_reading>& readings) {
  std::string rows;
  for (const auto& each : readings) {
    rows += "<tr><th scope=\"row\">" + std::to_string(each.index + 1) + "</th>" +
            text_element("td", "", number_text(each.x)) + text_element("td", "", number_text(each.y)) + "<td>" +
            (each.suspect   ? "looks misread"
             : each.at_rest ? "rotor at rest"
                            : "") +
            "</td></tr>";
  }
  return "<table><caption>" + escaped(name) + "</caption><thead><tr><th scope=\"col\">no.</th><th scope=\"col\">" +
         escaped(x_name) + "</th><th scope=\"col\">" + escaped(y_name) +
         "</th><th scope=\"col\">remark</th></tr></thead><tbody>" + rows + "</tbody></table>";
}

}  // namespace

std::string findings_section(const view& shown) {
  std::string body;
  for (std::size_t i = 0; i < verdict::check_names.size(); ++i) {
    const auto check = static_cast<verdict::check>(i);
    const std::string rows = rows_of(shown, check);
    if (rows.empty()) continue;
    body +=
        "<tbody><tr><th scope=\"rowgroup\" colspan=\"2\">" + escaped(heading(check)) + "</th></tr>" + rows + "</tbody>";
  }
  return "<section><h2>Everything that was judged</h2><table class=\"findings\"><caption>Findings, each with the "
         "source of its limit"
         "</caption><thead><tr><th scope=\"col\">outcome</th><th scope=\"col\">what was found</th></tr></thead>" +
         body + "</table></section>";
}

std::string readings_section(const job::pictures& plotted) {
  std::string tables;
  for (const auto& each : plotted.draw) tables += readings_table("Speed " + each.speed, "V", "A", each.readings);
  for (const auto& each : plotted.insulation)
    tables += readings_table("Insulation, " + each.circuit, "s", "Mohm", each.readings);
  if (plotted.heat_run) tables += readings_table("Heat run", "s", "K", plotted.heat_run->readings);
  if (plotted.coast_down) tables += readings_table("Coast-down", "s", "rpm", plotted.coast_down->readings);
  return tables.empty() ? "" : "<section><h2>Readings</h2>" + element("div", "tables", tables) + "</section>";
}

std::string cautions_section(const view& shown) {
  return "<section class=\"cautions\"><h2>Cautions</h2>" + text_list(shown.cautions, false) + "</section>";
}

}  // namespace rewound::report
