// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/report/number_text.hpp>
#include <rewound/report/wording.hpp>

#include "chart.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

/// Straight lines between the points of a curve; nothing beyond them.
std::optional<double> value_at(const job::drawn_curve& curve, const std::vector<double>& y, double x) {
  for (std::size_t i = 1; i < curve.x.size() && i < y.size(); ++i)
    if (x >= curve.x[i - 1] && x <= curve.x[i] * (1.0 + 1e-9))
      return std::lerp(y[i - 1], y[i], (x - curve.x[i - 1]) / (curve.x[i] - curve.x[i - 1]));
  return std::nullopt;
}

/// What is allowed at one voltage; absent bounds are none.
struct drawn_limit {
  double volts;
  std::optional<double> low;
  std::optional<double> high;
};

/// The voltages at which a speed is told about: the rated one and today's mains.
std::vector<double> voltages_of(const job::result& result) {
  const double rated = result.machine.rated_voltage_V;
  std::vector<double> out{rated};
  const auto& mains = result.visit.supply_voltage_V;
  if (mains && number_text(*mains) != number_text(rated)) out.push_back(*mains);
  return out;
}

/// Limits of a speed's current at the rated voltage and at the mains: of the nameplate, which is one current, and by
/// good machines or the earlier visit, which are shares of what is expected there.
std::vector<drawn_limit> limits_of(const job::result& result, const job::draw_picture& plotted) {
  using enum verdict::statement;
  std::vector<drawn_limit> out;
  for (const double volts : voltages_of(result))
    for (const auto& f : result.findings) {
      if (f.subject != plotted.speed) continue;
      if (f.says == draw_against_nameplate || f.says == draw_under_nameplate_ceiling)
        out.push_back({volts, std::nullopt, f.limit_high});
      if (f.says != draw_against_reference && f.says != draw_against_earlier) continue;
      if (const auto expected = value_at(plotted.expected, plotted.expected.y, volts)) {
        const auto share = [&](const std::optional<double>& percent) {
          return percent ? std::optional{*expected * (1.0 + *percent / 100.0)} : std::nullopt;
        };
        out.push_back({volts, share(f.limit_low), share(f.limit_high)});
      }
    }
  return out;
}

/// Suspect readings far off would squeeze the rest into a line: those stand at the edge.
extent amperes_to_see(const job::draw_picture& plotted, const std::vector<drawn_limit>& limits,
                      const std::vector<double>& voltages) {
  extent out;
  for (const auto& each : plotted.readings)
    if (!each.suspect) out.take(each.y);
  out.take(plotted.fitted.y);
  for (const double volts : voltages)
    for (const auto* bound : {&plotted.fitted.low, &plotted.fitted.high})
      if (const auto there = value_at(plotted.fitted, *bound, volts)) out.take(*there);
  out.take(plotted.expected.low);
  out.take(plotted.expected.high);
  for (const auto& limit : limits)
    for (const auto& bound : {limit.low, limit.high})
      if (bound) out.take(*bound);
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

void plot_curves(const job::draw_picture& plotted, bool by_good, const std::vector<double>& voltages, chart& out) {
  out.band(plotted.expected.x, plotted.expected.low, plotted.expected.high, "expected-band");
  out.line(plotted.expected.x, plotted.expected.low, "expected-edge");
  out.line(plotted.expected.x, plotted.expected.high, "expected-edge");
  out.line(plotted.expected.x, plotted.expected.y, "expected-line");
  out.line(plotted.fitted.x, plotted.fitted.y, "fitted-line");
  if (!plotted.fitted.empty()) out.key_of_line("fitted-line", "curve through them");
  bool told = false;
  for (const double volts : voltages) {
    const auto low = value_at(plotted.fitted, plotted.fitted.low, volts);
    const auto high = value_at(plotted.fitted, plotted.fitted.high, volts);
    if (!low || !high) continue;
    out.whisker(volts, *low, *high, "whisker");
    if (!std::exchange(told, true)) out.key_of_interval("whisker", "its 95 % there");
  }
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
    const auto low = value_at(plotted.expected, plotted.expected.low, each.x);
    const auto high = value_at(plotted.expected, plotted.expected.high, each.x);
    if (low && high) outside += each.y < *low || each.y > *high ? 1 : 0;
  }
  std::string out = std::to_string(plotted.readings.size()) + " readings from " + number_text(volts.low()) + " to " +
                    number_text(volts.high()) + " V, " + number_text(amperes.low()) + " to " +
                    number_text(amperes.high()) + " A.";
  if (!plotted.expected.empty())
    out += " " + std::to_string(outside) + (outside == 1 ? " lies" : " lie") + " outside the band of what is expected.";
  if (suspects > 0) out += " " + std::to_string(suspects) + (suspects == 1 ? " looks" : " look") + " misread.";
  return out;
}

/// "allowed: up to 0.504 A" where one limit is all there is.
std::string limit_words(const std::vector<drawn_limit>& limits) {
  const auto& first = limits.front();
  const bool same = std::all_of(limits.begin(), limits.end(),
                                [&](const auto& each) { return !each.low && each.high && *each.high == *first.high; });
  return same && first.high ? "up to " + number_text(*first.high) + " A is allowed" : "allowed there";
}

}  // namespace

std::string suspect_letter(std::size_t n) {
  return n < 26 ? std::string(1, static_cast<char>('a' + n)) : std::to_string(n + 1);
}

std::string draw_svg(const job::result& result, const job::draw_picture& plotted, const picture_frame& frame) {
  const auto limits = limits_of(result, plotted);
  chart out(linear_axis(volts_to_see(result, plotted), "voltage, V", 6),
            linear_axis(amperes_to_see(plotted, limits, voltages_of(result)), "current, A", 5));
  const double rated = result.machine.rated_voltage_V;
  const auto& supply = result.visit.supply_voltage_V;
  const bool by_good = std::any_of(result.draw.begin(), result.draw.end(),
                                   [](const auto& row) { return row.judged_by == verdict::expectation::reference; });
  if (supply && number_text(*supply) != number_text(rated)) {
    // The one further left has its label on its left, under that of the other.
    out.upright(rated, "rated", "rated " + number_text(rated) + " V", rated < *supply ? 1 : 0);
    out.upright(*supply, "supply", "mains " + number_text(*supply) + " V", rated < *supply ? 0 : 1);
  } else {
    out.upright(rated, "rated", (supply ? "rated and mains " : "rated ") + number_text(rated) + " V", 1);
  }
  for (const auto& limit : limits)
    for (const auto& bound : {limit.low, limit.high})
      if (bound) out.stroke(limit.volts, *bound, "limit", "");
  plot_curves(plotted, by_good, voltages_of(result), out);
  plot_readings(plotted, amperes_to_see(plotted, limits, voltages_of(result)), out);
  if (!limits.empty()) out.key_of_line("limit", limit_words(limits));
  return out.svg(frame, "Current against voltage, speed " + plotted.speed, description_of(plotted));
}

}  // namespace rewound::report
