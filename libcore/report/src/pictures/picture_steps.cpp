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
  std::optional<double> spread;  ///< half of what 95 of 100 good machines lie within
  std::optional<double> allowed_low;
  std::optional<double> allowed_high;
};

void take_limits(const job::result& result, rung& each) {
  using enum verdict::statement;
  for (const auto& f : result.findings) {
    if (f.subject != each.speed) continue;
    if (f.says == draw_against_nameplate || f.says == draw_under_nameplate_ceiling)
      if (f.limit_high) each.allowed_high = std::min(*f.limit_high, each.allowed_high.value_or(*f.limit_high));
    if ((f.says != draw_against_reference && f.says != draw_against_earlier) || !each.expected) continue;
    if (f.limit_low) each.allowed_low = *each.expected * (1.0 + *f.limit_low / 100.0);
    if (!f.limit_high) continue;
    const double high = *each.expected * (1.0 + *f.limit_high / 100.0);
    each.allowed_high = std::min(high, each.allowed_high.value_or(high));
  }
}

std::vector<rung> rungs_of(const job::result& result) {
  std::vector<rung> out;
  for (const auto& row : result.draw) {
    if (!row.at_rated) continue;
    rung each{row.speed,
              units::in_amperes(row.at_rated->value),
              measurement::coverage_95 * units::in_amperes(row.at_rated->standard_uncertainty),
              {},
              {},
              {},
              {}};
    if (row.expected_at_rated) each.expected = units::in_amperes(*row.expected_at_rated);
    if (each.expected && row.expected_spread_percent)
      each.spread = *each.expected * measurement::coverage_95 * *row.expected_spread_percent / 100.0;
    take_limits(result, each);
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
    if (each.expected && each.spread) {
      seen.take(*each.expected - *each.spread);
      seen.take(*each.expected + *each.spread);
    }
    for (const auto& bound : {each.allowed_low, each.allowed_high})
      if (bound) seen.take(*bound);
  }
  return linear_axis(seen, "current at the rated voltage, A", 5);
}

/// The band of what is expected, about a level.
std::string box(double left, double right, double y) {
  constexpr double half = 7.0;
  return "<path class=\"expected-band\" d=\"M" + coordinate(left) + " " + coordinate(y - half) + "L" +
         coordinate(right) + " " + coordinate(y - half) + "L" + coordinate(right) + " " + coordinate(y + half) + "L" +
         coordinate(left) + " " + coordinate(y + half) + "Z\"/>";
}

std::string plotted_rung(const rung& in, const axis& scale, double y) {
  const auto place = [&](double amperes) { return ladder_left + (plot_right - ladder_left) * scale.place(amperes); };
  std::string out = label_at(3.0, y + 4.0, "start", "name", shortened(in.speed, 12)) +
                    stroke_from(ladder_left, y, plot_right, y, "grid");
  if (in.expected && in.spread) out += box(place(*in.expected - *in.spread), place(*in.expected + *in.spread), y);
  if (in.expected) out += stroke_from(place(*in.expected), y - 9.0, place(*in.expected), y + 9.0, "expected-line");
  for (const auto& bound : {in.allowed_low, in.allowed_high})
    if (bound) out += stroke_from(place(*bound), y - 9.0, place(*bound), y + 9.0, "limit");
  out += capped(place(in.amperes - in.half), y, place(in.amperes + in.half), y, "whisker");
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
  double key = base + 50.0;
  double right = 0.0;
  const auto entry = [&](const std::string& sample, const std::string& words) {
    const double wide = 26.0 + text_width(words);
    if (right > 0.0 && right + wide > picture_width) right = 0.0, key += 16.0;
    content += "<g transform=\"translate(" + coordinate(right) + " " + coordinate(key) + ")\">" + sample +
               label_at(24.0, 4.0, "start", "small", words) + "</g>";
    right += wide + 12.0;
  };
  const auto any = [&](std::optional<double> rung::*what) {
    return std::any_of(rungs.begin(), rungs.end(), [&](const auto& each) { return (each.*what).has_value(); });
  };
  entry(capped(2.0, 0.0, 18.0, 0.0, "whisker") + mark_at(10.0, 0.0, mark_shape::disc, "reading"), "this visit, 95 %");
  if (expected) entry(stroke_from(10.0, -6.0, 10.0, 6.0, "expected-line"), "expected");
  if (any(&rung::spread)) entry(box(2.0, 18.0, 0.0), "95 of 100 good ones");
  if (any(&rung::allowed_high)) entry(stroke_from(10.0, -6.0, 10.0, 6.0, "limit"), "allowed");
  std::string told;
  for (const auto& each : rungs) told += each.speed + " " + with_uncertainty(each.amperes, each.half) + " A. ";
  return svg_element(picture_width, key + 14.0, frame, "Current of each speed at the rated voltage", told, content);
}

}  // namespace rewound::report
