// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <cmath>

#include <rewound/job/pictures.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/trend.hpp>
#include <rewound/report/view.hpp>

#include "pictures/chart.hpp"
#include "markup.hpp"
#include "page_frame.hpp"
#include "sections.hpp"

namespace rewound::report {

namespace {

/// A date on an axis of years.
double years_of(const record::date& day) {
  using namespace std::chrono;
  const year_month_day calendar{year{day.year}, month{static_cast<unsigned>(day.month)},
                                std::chrono::day{static_cast<unsigned>(day.day)}};
  constexpr double days_a_year = 365.2425;
  return 1970.0 + static_cast<double>(sys_days{calendar}.time_since_epoch().count()) / days_a_year;
}

double last_year(const job::circuit_trend& in) {
  double out = 0.0;
  for (const auto& visit : in.visits)
    if (visit.in_line) out = std::max(out, years_of(visit.day));
  return out;
}

/// The fitted line over the visits, and ahead: a little beyond where all of it lies below the minimum, else as long
/// again as the visits reach.
job::drawn_curve fitted_line(const job::circuit_trend& in) {
  job::drawn_curve out;
  const auto& line = in.line;
  if (line.line.empty()) return out;
  constexpr double beyond = 1.1;
  constexpr double least = 1.0;
  const double reach = -line.line.front().years;
  const double ahead = line.latest_years       ? beyond * *line.latest_years
                       : line.crosses_in_years ? 2.0 * *line.crosses_in_years
                                               : reach;
  for (const auto& place : line.line) {
    if (place.years > std::max(ahead, least)) break;
    out.x.push_back(last_year(in) + place.years);
    out.y.push_back(place.value);
    out.low.push_back(place.range.low);
    out.high.push_back(place.range.high);
  }
  return out;
}

/// Where the line meets the minimum, and between when.
void plot_crossing(const job::circuit_trend& in, const job::drawn_curve& line, chart& out) {
  if (!in.line.crosses_in_years || *in.line.crosses_in_years <= 0.0 || line.empty()) return;
  const double last = last_year(in);
  const double latest = in.line.latest_years ? last + *in.line.latest_years : line.x.back();
  if (in.line.earliest_years) out.span(in.minimum.value, last + *in.line.earliest_years, latest, "whisker");
  out.mark(last + *in.line.crosses_in_years, in.minimum.value, mark_shape::ring, "predicted", "",
           "meets the minimum in about " + number_text(std::floor(last + *in.line.crosses_in_years)));
  out.key_of_mark(mark_shape::ring, "predicted", "meets the minimum, with 95 %");
}

std::string circuit_svg(const job::circuit_trend& in, std::string_view id) {
  extent when;
  extent megohms;
  const auto line = fitted_line(in);
  for (const auto& visit : in.visits) {
    when.take(years_of(visit.day));
    for (const double value : {visit.at_40_C_Mohm, visit.range_Mohm.low, visit.range_Mohm.high}) megohms.take(value);
  }
  when.take(line.x);
  megohms.take(line.y);
  if (in.minimum.value > 0.0) megohms.take(in.minimum.value);
  constexpr double half_a_year = 0.5;
  when.take(when.low() - half_a_year);
  when.take(when.high() + half_a_year);
  chart out(linear_axis(when, "year", 6), logarithmic_axis(megohms, "at one minute and 40 \u00b0C, Mohm"));
  out.level(in.minimum.value, "limit", "minimum " + number_text(in.minimum.value) + " Mohm",
            !line.empty() && line.y.back() < line.y.front());
  out.band(line.x, line.low, line.high, "expected-band");
  out.line(line.x, line.low, "expected-edge");
  out.line(line.x, line.high, "expected-edge");
  out.line(line.x, line.y, "fitted-line");
  bool earlier_winding = false;
  for (const auto& visit : in.visits) {
    const double x = years_of(visit.day);
    out.whisker(x, visit.range_Mohm.low, visit.range_Mohm.high, "whisker");
    out.mark(x, visit.at_40_C_Mohm, visit.in_line ? mark_shape::disc : mark_shape::square,
             visit.in_line ? "reading" : "earlier", in.circuit + ":" + visit.day.iso(),
             visit.day.iso() + ": " + number_text(visit.at_40_C_Mohm, 0.05 * visit.at_40_C_Mohm) + " Mohm");
    earlier_winding = earlier_winding || !visit.in_line;
  }
  plot_crossing(in, line, out);
  out.key_of_mark(mark_shape::disc, "reading", "visit, with 95 %");
  if (!line.empty()) {
    out.key_of_line("fitted-line", "line through the visits");
    out.key_of_band("expected-band", "95 % of the line");
  }
  if (earlier_winding) out.key_of_mark(mark_shape::square, "earlier", "of an earlier winding");
  return out.svg({std::string(id), "", "", ""}, "Insulation resistance over the visits, " + in.circuit,
                 std::to_string(in.visits.size()) + " visits.");
}

std::string visits_as_rows(const trend_part& in) {
  std::string rows;
  for (const auto& row : in.rows)
    rows += "<tr><th scope=\"row\">" + row.day + "</th>" + text_element("td", "", row.state) +
            text_element("td", "", row.read + (row.from_curve ? " (from the curve)" : "")) +
            text_element("td", "", row.winding) + text_element("td", "", row.at_40_C) + "</tr>";
  return "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table of visits\"><table><caption>" +
         text_element(
             "span", "",
             "Corrected to 40 \u00b0C as " + in.corrected_as + (in.system_stated ? "" : ", which was not stated")) +
         "</caption><thead><tr><th scope=\"col\">visit</th><th scope=\"col\">state</th><th scope=\"col\">read, "
         "M\u03a9</th>"
         "<th scope=\"col\">winding, \u00b0C</th><th scope=\"col\">at 40 \u00b0C, M\u03a9 (95 "
         "%)</th></tr></thead><tbody>" +
         rows + "</tbody></table></div>";
}

std::string circuit_section(const job::circuit_trend& in, const trend_part& shown, std::size_t number) {
  std::vector<std::string> lines;
  for (std::size_t i = 0; i < shown.sentences.size(); ++i)
    lines.push_back(shown.sentences[i] + (shown.sources[i].empty() ? "" : " [" + shown.sources[i] + "]"));
  return "<section>" + text_element("h2", "", shown.circuit) + "<figure>" +
         circuit_svg(in, "trend-" + std::to_string(number)) + "</figure>" + text_list(lines, false) +
         visits_as_rows(shown) + "</section>\n";
}

}  // namespace

std::string trend_html(const job::trend_result& result) {
  const trend_view shown = view_of(result);
  std::string body = "<header><h1><bdi>" + escaped(shown.title) + "</bdi></h1>" +
                     text_element("p", "soft", shown.first_day + " to " + shown.last_day) + "</header>\n<main>\n";
  for (std::size_t i = 0; i < result.circuits.size(); ++i)
    body += circuit_section(result.circuits[i], shown.parts[i], i);
  if (!shown.next.empty()) body += "<section><h2>What to do next</h2>" + text_list(shown.next, true) + "</section>\n";
  body += "<section class=\"cautions\"><h2>Cautions</h2>" + text_list(shown.cautions, false) + "</section>\n</main>";
  return framed_page(shown.title, body);
}

}  // namespace rewound::report
