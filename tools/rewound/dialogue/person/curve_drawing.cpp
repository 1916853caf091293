// SPDX-License-Identifier: MIT
#include "dialogue/person/curve_drawing.hpp"

#include <algorithm>
#include <cmath>

#include <rewound/report/layout.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::tool::dialogue {

namespace {

using point = std::pair<double, double>;

/// The least number of 1, 2, 5 times a power of ten that is not below the value.
double round_up(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {1.0, 1.5, 2.0, 3.0, 5.0, 7.5})
    if (value <= step * power * (1.0 + 1e-9)) return step * power;
  return 10.0 * power;
}

constexpr std::size_t margin = 9;  // columns for the amperes

struct frame {
  std::size_t width;
  std::size_t height;
  double most_V;
  double most_A;
  std::vector<std::string> cells;

  void put(const point& at, char mark) {
    const auto column = std::lround(at.first / most_V * static_cast<double>(width - 1));
    const auto line = std::lround(at.second / most_A * static_cast<double>(height - 1));
    if (column < 0 || line < 0 || column >= static_cast<long>(width) || line >= static_cast<long>(height)) return;
    cells[height - 1 - static_cast<std::size_t>(line)][static_cast<std::size_t>(column)] = mark;
  }
};

std::string right_aligned(const std::string& text, std::size_t size) {
  return text.size() >= size ? text : std::string(size - text.size(), ' ') + text;
}

std::string repeated(const char* text, std::size_t count) {
  std::string out;
  for (std::size_t i = 0; i < count; ++i) out += text;
  return out;
}

std::string axis_lines(const frame& in, bool unicode) {
  std::string out = std::string(margin - 1, ' ') +
                    (unicode ? "\u2514" + repeated("\u2500", in.width) : "+" + std::string(in.width, '-')) + "\n";
  const std::string end = report::number_text(in.most_V) + " V";
  return out + std::string(margin, ' ') + "0" + right_aligned(end, in.width - 1) + "\n";
}

std::string legend(const std::vector<drawn_curve>& curves, bool expected, std::size_t columns) {
  std::string out;
  for (std::size_t i = 0; i < curves.size(); ++i)
    out += (out.empty() ? "" : ", ") + std::string(1, static_cast<char>('1' + i % 9)) + " " + curves[i].name;
  if (expected) out += ", . expected";
  return report::cell(out, std::min(columns, std::size_t{79}));
}

}  // namespace

std::string curve_drawing(const std::vector<drawn_curve>& curves, const std::vector<point>& expected, drawing_size size,
                          bool unicode) {
  double most_V = 0.0;
  double most_A = 0.0;
  const auto widen = [&](const std::vector<point>& points) {
    for (const auto& [volts, amperes] : points) {
      most_V = std::max(most_V, volts);
      most_A = std::max(most_A, amperes);
    }
  };
  for (const auto& curve : curves) widen(curve.points);
  widen(expected);
  if (most_V <= 0.0 || most_A <= 0.0) return "nothing to draw yet\n";
  const std::size_t height = std::max<std::size_t>(size.lines, 7) - 3;
  frame plot{std::max<std::size_t>(size.columns, 30) - margin, height, round_up(most_V), round_up(most_A), {}};
  plot.cells.assign(height, std::string(plot.width, ' '));
  for (const auto& each : expected) plot.put(each, '.');
  for (std::size_t i = 0; i < curves.size(); ++i)
    for (const auto& each : curves[i].points) plot.put(each, static_cast<char>('1' + i % 9));
  std::string out;
  for (std::size_t line = 0; line < height; ++line) {
    const double amperes = plot.most_A * static_cast<double>(height - 1 - line) / static_cast<double>(height - 1);
    const bool labelled = line == 0 || line == height - 1 || line == height / 2;
    std::string row = plot.cells[line];
    row.erase(row.find_last_not_of(' ') + 1);
    out += right_aligned(labelled ? report::number_text(amperes) + (line == 0 ? " A" : "") : "", margin - 2) + " " +
           (unicode ? "\u2502" : "|") + row + "\n";
  }
  std::string names = legend(curves, !expected.empty(), size.columns);
  names.erase(names.find_last_not_of(' ') + 1);
  return out + axis_lines(plot, unicode) + names + "\n";
}

}  // namespace rewound::tool::dialogue
