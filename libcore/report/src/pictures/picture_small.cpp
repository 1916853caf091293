// SPDX-License-Identifier: MIT
#include <algorithm>

#include "chart.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

constexpr double small_width = 120.0;
constexpr double small_height = 60.0;
constexpr double small_edge = 5.0;

/// Both axes of a picture without ticks.
struct small_frame {
  axis across;
  axis up;

  double x(double volts) const {
    return small_edge + (small_width - 2.0 * small_edge) * std::clamp(across.place(volts), 0.0, 1.0);
  }
  double y(double amperes) const {
    const double place = std::clamp(up.place(amperes), 0.0, 1.0);
    return small_height - small_edge - (small_height - 2.0 * small_edge) * place;
  }
};

std::string curve(const small_frame& frame, const job::drawn_curve& plotted, std::string_view css_class) {
  if (plotted.empty()) return "";
  std::string path;
  for (std::size_t i = 0; i < plotted.x.size(); i += 4)
    path += (i == 0 ? "M" : "L") + coordinate(frame.x(plotted.x[i])) + " " + coordinate(frame.y(plotted.y[i]));
  return "<path class=\"" + std::string(css_class) + "\" d=\"" + path + "\"/>";
}

}  // namespace

std::string small_svg(const job::pictures& plotted, std::string_view machine, std::string_view id) {
  extent volts;
  extent amperes;
  for (const auto& speed : plotted.draw)
    for (const auto& each : speed.readings) {
      if (each.suspect) continue;
      volts.take(each.x);
      amperes.take(each.y);
    }
  const small_frame frame{linear_axis(volts, "", 2), linear_axis(amperes, "", 2)};
  std::string content;
  for (const auto& speed : plotted.draw)
    content += curve(frame, speed.expected, "expected-line") + curve(frame, speed.fitted, "fitted-line");
  for (const auto& speed : plotted.draw)
    for (const auto& each : speed.readings)
      if (each.suspect) content += mark_at(frame.x(each.x), frame.y(each.y), mark_shape::diamond, "suspect");
      else
        content += "<circle class=\"solid\" cx=\"" + coordinate(frame.x(each.x)) + "\" cy=\"" +
                   coordinate(frame.y(each.y)) + "\" r=\"1.5\"/>";
  const std::string told =
      plotted.draw.empty() ? "no run-up"
                           : std::to_string(plotted.draw.size()) + (plotted.draw.size() == 1 ? " speed" : " speeds");
  return svg_element(small_width, small_height, {std::string(id), "", "", ""},
                     "Current over voltage, " + std::string(machine), told, content);
}

}  // namespace rewound::report
