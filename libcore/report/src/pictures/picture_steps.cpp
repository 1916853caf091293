// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/measurement/normal.hpp>
#include <rewound/report/number_text.hpp>

#include "chart.hpp"
#include "pages/markup.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

constexpr double first_rung = 34.0;
constexpr double row_height = 30.0;
constexpr double ladder_left = 84.0;

struct rung {
  std::string speed;
  double amperes;
  double half;
  std::optional<double> expected;
};

std::vector<rung> rungs_of(const job::result& result) {
  std::vector<rung> out;
  for (const auto& row : result.draw) {
    if (!row.at_rated) continue;
    rung each{row.speed,
              units::in_amperes(row.at_rated->value),
              measurement::coverage_95 * units::in_amperes(row.at_rated->standard_uncertainty),
              {}};
    if (row.expected_at_rated) each.expected = units::in_amperes(*row.expected_at_rated);
    out.push_back(std::move(each));
  }
  return out;
}

axis across(const std::vector<rung>& rungs) {
  extent seen;
  for (const auto& each : rungs) {
    seen.take(each.amperes - each.half);
    seen.take(each.amperes + each.half);
    if (each.expected) seen.take(*each.expected);
  }
  return linear_axis(seen, "current at the rated voltage, A", 5);
}

std::string plotted_rung(const rung& in, const axis& scale, double y) {
  const auto place = [&](double amperes) { return ladder_left + (plot_right - ladder_left) * scale.place(amperes); };
  std::string out = label_at(3.0, y + 4.0, "start", "name", shortened(in.speed, 12)) +
                    stroke_from(ladder_left, y, plot_right, y, "grid");
  if (in.expected) out += stroke_from(place(*in.expected), y - 9.0, place(*in.expected), y + 9.0, "expected-line");
  out += stroke_from(place(in.amperes - in.half), y, place(in.amperes + in.half), y, "whisker");
  out += "<g class=\"mark\"><title>" + escaped(in.speed + ": " + with_uncertainty(in.amperes, in.half) + " A") +
         "</title>" + mark_at(place(in.amperes), y, mark_shape::disc, "reading") + "</g>";
  return out;
}

}  // namespace

bool has_steps(const job::result& result) { return rungs_of(result).size() >= 2; }

std::string steps_svg(const job::result& result, const picture_frame& frame) {
  const auto rungs = rungs_of(result);
  const auto scale = across(rungs);
  std::string content = label_at(3.0, 12.0, "start", "small name", "speeds, fastest first as recorded");
  double y = first_rung;
  bool expected = false;
  for (const auto& each : rungs) {
    content += plotted_rung(each, scale, y);
    expected = expected || each.expected;
    y += row_height;
  }
  const double base = y - 10.0;
  content += axis_at_foot(scale, ladder_left, base);
  const double key = base + 50.0;
  content +=
      mark_at(9.0, key, mark_shape::disc, "reading") + label_at(22.0, key + 4.0, "start", "small", "this visit, 95 %");
  if (expected)
    content += stroke_from(142.0, key - 6.0, 142.0, key + 6.0, "expected-line") +
               label_at(152.0, key + 4.0, "start", "small", "expected");
  std::string told;
  for (const auto& each : rungs) told += each.speed + " " + with_uncertainty(each.amperes, each.half) + " A. ";
  return svg_element(picture_width, key + 14.0, frame.id, "Current of each speed at the rated voltage", told, frame.css,
                     content);
}

}  // namespace rewound::report
