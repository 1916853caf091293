// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

#include "chart.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

/// The current that the nameplate allows at the rated voltage on a speed, where that was judged by.
std::optional<double> allowed_amperes(const job::result& result, const std::string& speed) {
  for (const auto& f : result.findings)
    if ((f.says == verdict::statement::draw_against_nameplate ||
         f.says == verdict::statement::draw_under_nameplate_ceiling) &&
        f.subject == speed)
      return f.limit_high;
  return std::nullopt;
}

/// Suspect readings far off would squeeze the rest into a line: those stand at the edge.
extent amperes_to_see(const job::draw_picture& plotted, const std::optional<double>& allowed) {
  extent out;
  for (const auto& each : plotted.readings)
    if (!each.suspect) out.take(each.y);
  out.take(plotted.fitted.y);
  out.take(plotted.expected.low);
  out.take(plotted.expected.high);
  if (allowed) out.take(*allowed);
  extent kept = out;
  for (const auto& each : plotted.readings)
    if (each.suspect && (out.empty() || (each.y < 1.4 * out.high() && each.y > out.low() / 1.4 - 0.2 * out.high())))
      kept.take(each.y);
  return kept;
}

extent volts_to_see(const job::result& result, const job::draw_picture& plotted) {
  extent out;
  const double furthest = 1.6 * std::max(result.machine.rated_voltage_V, result.visit.supply_voltage_V.value_or(0.0));
  for (const auto& each : plotted.readings)
    if (!each.suspect || each.x <= furthest) out.take(each.x);
  out.take(plotted.fitted.x);
  out.take(result.machine.rated_voltage_V);
  if (result.visit.supply_voltage_V) out.take(*result.visit.supply_voltage_V);
  return out;
}

void plot_curves(const job::draw_picture& plotted, bool by_good, chart& out) {
  out.band(plotted.expected.x, plotted.expected.low, plotted.expected.high, "expected-band");
  out.line(plotted.expected.x, plotted.expected.low, "expected-edge");
  out.line(plotted.expected.x, plotted.expected.high, "expected-edge");
  out.line(plotted.expected.x, plotted.expected.y, "expected-line");
  out.line(plotted.fitted.x, plotted.fitted.y, "fitted-line");
  if (!plotted.fitted.empty()) out.key_of_line("fitted-line", "curve through them");
  if (plotted.expected.empty()) return;
  out.key_of_line("expected-line", by_good ? "good machines, mean" : "earlier visit");
  out.key_of_band("expected-band", by_good ? "95 of 100 good ones" : "95 % if unchanged");
}

/// A reading beyond the axis stands at its edge, with its value.
std::string off_scale_label(const std::string& letter, const job::drawn_reading& reading, const extent& scale) {
  if (reading.y >= scale.low() && reading.y <= scale.high()) return letter;
  return letter + (reading.y > scale.high() ? " \u2191 " : " \u2193 ") + number_text(reading.y) + " A";
}

/// Whether a reading is told by a diamond, a triangle or a disc, and what it says on pointing.
void plot_readings(const job::draw_picture& plotted, const extent& scale, chart& out) {
  std::size_t suspects = 0;
  bool rest = false;
  for (const auto& each : plotted.readings) {
    const std::string note =
        "reading " + std::to_string(each.index + 1) + ": " + number_text(each.x) + " V, " + number_text(each.y) + " A";
    const std::string reading = plotted.speed + ":" + std::to_string(each.index);
    if (each.suspect)
      out.mark(each.x, each.y, mark_shape::diamond, "suspect", reading, note + ", looks misread",
               off_scale_label(suspect_letter(suspects++), each, scale));
    else if (each.at_rest) out.mark(each.x, each.y, mark_shape::triangle, "rest", reading, note + ", rotor at rest");
    else out.mark(each.x, each.y, mark_shape::disc, "reading", reading, note);
    rest = rest || (each.at_rest && !each.suspect);
  }
  out.key_of_mark(mark_shape::disc, "reading", "reading");
  if (suspects > 0) out.key_of_mark(mark_shape::diamond, "suspect", "looks misread");
  if (rest) out.key_of_mark(mark_shape::triangle, "rest", "rotor at rest");
}

/// Straight lines between the points of the curve.
std::optional<std::pair<double, double>> band_at(const job::drawn_curve& curve, double x) {
  for (std::size_t i = 1; i < curve.x.size(); ++i) {
    if (x < curve.x[i - 1] || x > curve.x[i]) continue;
    const double share = (x - curve.x[i - 1]) / (curve.x[i] - curve.x[i - 1]);
    return std::pair{std::lerp(curve.low[i - 1], curve.low[i], share),
                     std::lerp(curve.high[i - 1], curve.high[i], share)};
  }
  return std::nullopt;
}

std::string description_of(const job::draw_picture& plotted) {
  extent volts;
  extent amperes;
  int outside = 0;
  int suspects = 0;
  for (const auto& each : plotted.readings) {
    volts.take(each.x);
    amperes.take(each.y);
    suspects += each.suspect ? 1 : 0;
    if (each.suspect || each.at_rest) continue;
    if (const auto band = band_at(plotted.expected, each.x))
      outside += each.y < band->first || each.y > band->second ? 1 : 0;
  }
  std::string out = std::to_string(plotted.readings.size()) + " readings from " + number_text(volts.low()) + " to " +
                    number_text(volts.high()) + " V, " + number_text(amperes.low()) + " to " +
                    number_text(amperes.high()) + " A.";
  if (!plotted.expected.empty())
    out += " " + std::to_string(outside) + (outside == 1 ? " lies" : " lie") + " outside the band of what is expected.";
  if (suspects > 0) out += " " + std::to_string(suspects) + (suspects == 1 ? " looks" : " look") + " misread.";
  return out;
}

}  // namespace

std::string suspect_letter(std::size_t n) {
  return n < 26 ? std::string(1, static_cast<char>('a' + n)) : std::to_string(n + 1);
}

std::string draw_svg(const job::result& result, const job::draw_picture& plotted, const picture_frame& frame) {
  const auto allowed = allowed_amperes(result, plotted.speed);
  chart out(linear_axis(volts_to_see(result, plotted), "voltage, V", 6),
            linear_axis(amperes_to_see(plotted, allowed), "current, A", 5));
  const double rated = result.machine.rated_voltage_V;
  const auto& supply = result.visit.supply_voltage_V;
  const bool by_good = std::any_of(result.draw.begin(), result.draw.end(),
                                   [](const auto& row) { return row.judged_by == verdict::expectation::reference; });
  if (supply && number_text(*supply) != number_text(rated)) {
    out.upright(rated, "rated", "rated " + number_text(rated) + " V", 0);
    out.upright(*supply, "supply", "mains " + number_text(*supply) + " V", 1);
  } else {
    out.upright(rated, "rated", (supply ? "rated and mains " : "rated ") + number_text(rated) + " V", 1);
  }
  if (allowed) out.stroke(rated, *allowed, "limit", "allowed " + number_text(*allowed) + " A");
  plot_curves(plotted, by_good, out);
  plot_readings(plotted, amperes_to_see(plotted, allowed), out);
  return out.svg(frame.id, "Current against voltage, speed " + plotted.speed, description_of(plotted), frame.css);
}

}  // namespace rewound::report
