// SPDX-License-Identifier: MIT
#include <algorithm>

#include <rewound/report/number_text.hpp>

#include "chart.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

/// Times in the unit that suits how long they are.
struct time_unit {
  double seconds;
  const char* name;
};

time_unit unit_of(double longest_s) {
  if (longest_s > 3.0 * 3600.0) return {3600.0, "h"};
  if (longest_s > 300.0) return {60.0, "min"};
  return {1.0, "s"};
}

std::vector<double> over(const std::vector<double>& values, double unit) {
  std::vector<double> out;
  for (const double value : values) out.push_back(value / unit);
  return out;
}

double longest(const std::vector<job::drawn_reading>& readings, const job::drawn_curve& curve) {
  double out = curve.empty() ? 0.0 : curve.x.back();
  for (const auto& each : readings) out = std::max(out, each.x);
  return out;
}

void take(const std::vector<job::drawn_reading>& readings, double unit, extent& x, extent& y) {
  for (const auto& each : readings) {
    x.take(each.x / unit);
    y.take(each.y);
  }
}

/// The rise allowed by the class or the appliance's standard, the lowest that was judged by.
std::optional<double> allowed_rise(const job::result& result) {
  std::optional<double> out;
  for (const auto& f : result.findings)
    if (f.check == verdict::check::heat_run && f.limit_high && f.unit == "K" &&
        f.quantity.find("rise") != std::string::npos)
      out = out ? std::min(*out, *f.limit_high) : *f.limit_high;
  return out;
}

}  // namespace

std::string heat_svg(const job::heat_picture& plotted, const job::result& result, const picture_frame& frame) {
  const auto unit = unit_of(longest(plotted.readings, plotted.projected));
  const auto allowed = allowed_rise(result);
  extent x;
  extent y;
  take(plotted.readings, unit.seconds, x, y);
  x.take(over(plotted.projected.x, unit.seconds));
  y.take(plotted.projected.y);
  y.take(plotted.projected.high);
  y.take(plotted.fitted.y);
  if (allowed) y.take(*allowed);
  chart out(linear_axis(x, std::string("time, ") + unit.name, 6), linear_axis(y, "rise, K", 5));
  const auto ahead = over(plotted.projected.x, unit.seconds);
  out.band(ahead, plotted.projected.low, plotted.projected.high, "expected-band");
  out.line(ahead, plotted.projected.y, "expected-line");
  out.line(over(plotted.fitted.x, unit.seconds), plotted.fitted.y, "fitted-line");
  if (allowed) out.level(*allowed, "limit", "allowed " + number_text(*allowed) + " K");
  for (const auto& each : plotted.readings)
    out.mark(each.x / unit.seconds, each.y, mark_shape::disc, "reading", "heat_run:" + std::to_string(each.index),
             number_text(each.x / unit.seconds, 0.05) + " " + unit.name + ", " + number_text(each.y, 0.5) + " K");
  out.key_of_mark(mark_shape::disc, "reading", "reading");
  std::string told = std::to_string(plotted.readings.size()) + " readings, the last " +
                     number_text(plotted.readings.back().y, 0.5) + " K.";
  if (!plotted.fitted.empty()) out.key_of_line("fitted-line", "curve through them");
  if (!plotted.projected.empty()) {
    out.key_of_line("expected-line", "where it is going");
    out.key_of_band("expected-band", "95 %");
    told += " Goes towards " + number_text(plotted.projected.y.back(), 0.5) + " K, between " +
            number_text(plotted.projected.low.back(), 0.5) + " and " + number_text(plotted.projected.high.back(), 0.5) +
            " K.";
  }
  return out.svg(frame, "Temperature rise of the winding against time", told);
}

std::string coast_svg(const job::coast_picture& plotted, const picture_frame& frame) {
  const auto unit = unit_of(longest(plotted.readings, plotted.fitted));
  extent x;
  extent y;
  take(plotted.readings, unit.seconds, x, y);
  take(plotted.earlier, unit.seconds, x, y);
  x.take(over(plotted.fitted.x, unit.seconds));
  y.take(plotted.fitted.y);
  y.take(0.0);
  chart out(linear_axis(x, std::string("time, ") + unit.name, 6), linear_axis(y, "speed, rpm", 5));
  out.line(over(plotted.fitted.x, unit.seconds), plotted.fitted.y, "fitted-line");
  for (const auto& each : plotted.earlier)
    out.mark(each.x / unit.seconds, each.y, mark_shape::square, "earlier", "", "earlier visit");
  for (const auto& each : plotted.readings)
    out.mark(each.x / unit.seconds, each.y, mark_shape::disc, "reading", "coast_down:" + std::to_string(each.index),
             number_text(each.x) + " s, " + number_text(each.y) + " rpm");
  out.key_of_mark(mark_shape::disc, "reading", "reading");
  if (!plotted.fitted.empty()) out.key_of_line("fitted-line", "friction and fan");
  if (!plotted.earlier.empty()) out.key_of_mark(mark_shape::square, "earlier", "earlier visit");
  const std::string told = std::to_string(plotted.readings.size()) + " readings, from " +
                           number_text(plotted.readings.front().y) + " to " + number_text(plotted.readings.back().y) +
                           " rpm.";
  return out.svg(frame, "Coast-down after switching off", told);
}

}  // namespace rewound::report
