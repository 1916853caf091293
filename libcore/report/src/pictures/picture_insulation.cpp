// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <rewound/report/number_text.hpp>

#include "chart.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

constexpr double ten_minutes_s = 600.0;

const verdict::finding* finding_of(const job::result& result, verdict::check check, std::string_view circuit,
                                   std::string_view quantity) {
  for (const auto& f : result.findings)
    if (f.check == check && f.subject == circuit && f.quantity == quantity) return &f;
  return nullptr;
}

double mentioned_in(const verdict::finding& f, std::string_view key) {
  for (const auto& number : f.numbers)
    if (number.key == key) return number.value;
  return std::nan("");
}

/// The minimum is asked at 40 degC; in the picture it stands where a reading at the winding's temperature would meet
/// it.
std::optional<double> minimum_as_read(const job::result& result, std::string_view circuit) {
  const auto* f = finding_of(result, verdict::check::insulation, circuit, "insulation_at_40_C");
  if (f == nullptr || !f->limit_low || !f->value) return std::nullopt;
  const double out = *f->limit_low * mentioned_in(*f, "read") / *f->value;
  return std::isfinite(out) && out > 0.0 ? std::optional{out} : std::nullopt;
}

/// What ten minutes have to show for the smallest polarization index allowed.
std::optional<double> ten_minutes_for_index(const job::result& result, const job::insulation_picture& plotted) {
  for (const auto& f : result.findings) {
    if (f.check != verdict::check::polarization_index || f.subject != plotted.circuit || !f.limit_low) continue;
    for (const auto& each : plotted.readings)
      if (std::abs(each.x - 60.0) < 0.5) return *f.limit_low * each.y;
  }
  return std::nullopt;
}

std::optional<std::size_t> at_ten_minutes(const job::drawn_curve& curve) {
  for (std::size_t i = 0; i < curve.x.size(); ++i)
    if (std::abs(curve.x[i] - ten_minutes_s) < 0.5) return i;
  return std::nullopt;
}

bool read_at_ten_minutes(const job::insulation_picture& plotted) {
  return std::any_of(plotted.readings.begin(), plotted.readings.end(),
                     [](const auto& each) { return std::abs(each.x - ten_minutes_s) < 0.5; });
}

std::string megohms(double value) { return number_text(value, 0.05 * value) + " Mohm"; }

void plot_predicted(const job::insulation_picture& plotted, chart& out) {
  const auto place = at_ten_minutes(plotted.fitted);
  if (!place || read_at_ten_minutes(plotted)) return;
  const auto& curve = plotted.fitted;
  out.whisker(ten_minutes_s, curve.low[*place], curve.high[*place], "whisker");
  out.mark(ten_minutes_s, curve.y[*place], mark_shape::ring, "predicted", "",
           "ten minutes, predicted: " + megohms(curve.y[*place]), megohms(curve.y[*place]));
  out.key_of_mark(mark_shape::ring, "predicted", "ten minutes, predicted, 95 %");
}

std::string description_of(const job::insulation_picture& plotted, const std::optional<double>& minimum) {
  std::string out;
  for (const auto& each : plotted.readings) out += number_text(each.x) + " s " + number_text(each.y) + " Mohm. ";
  if (minimum) out += "The minimum, at the winding's temperature, is " + megohms(*minimum) + ".";
  return out;
}

axis time_axis(const job::insulation_picture& plotted) {
  extent seconds;
  for (const auto* list : {&plotted.readings, &plotted.earlier})
    for (const auto& each : *list) seconds.take(each.x);
  seconds.take(plotted.fitted.x);
  return test_time_axis(seconds.low(), std::max(seconds.high(), 1.5 * seconds.low()));
}

axis megohm_axis(const job::insulation_picture& plotted, const std::optional<double>& minimum,
                 const std::optional<double>& for_index) {
  extent seen;
  for (const auto* list : {&plotted.readings, &plotted.earlier})
    for (const auto& each : *list) seen.take(each.y);
  seen.take(plotted.fitted.y);
  if (const auto place = at_ten_minutes(plotted.fitted)) {
    seen.take(std::max(plotted.fitted.low[*place], 0.2 * plotted.fitted.y[*place]));
    seen.take(std::min(plotted.fitted.high[*place], 5.0 * plotted.fitted.y[*place]));
  }
  if (minimum) seen.take(*minimum);
  if (for_index) seen.take(*for_index);
  return logarithmic_axis(seen, "insulation resistance, Mohm");
}

}  // namespace

std::string insulation_svg(const job::result& result, const job::insulation_picture& plotted,
                           const picture_frame& frame) {
  const auto minimum = minimum_as_read(result, plotted.circuit);
  const auto for_index = ten_minutes_for_index(result, plotted);
  chart out(time_axis(plotted), megohm_axis(plotted, minimum, for_index));
  if (minimum) out.level(*minimum, "limit", "minimum at this temperature " + megohms(*minimum));
  if (for_index) out.stroke(ten_minutes_s, *for_index, "limit", "");
  out.line(plotted.fitted.x, plotted.fitted.y, "fitted-line");
  for (const auto& each : plotted.earlier)
    out.mark(each.x, each.y, mark_shape::square, "earlier", "",
             "earlier visit: " + number_text(each.x) + " s, " + number_text(each.y) + " Mohm");
  for (const auto& each : plotted.readings)
    out.mark(each.x, each.y, mark_shape::disc, "reading", plotted.circuit + ":" + std::to_string(each.index),
             number_text(each.x) + " s, " + number_text(each.y) + " Mohm");
  out.key_of_mark(mark_shape::disc, "reading", "reading");
  if (!plotted.fitted.empty()) out.key_of_line("fitted-line", "leakage and absorption");
  if (!plotted.earlier.empty()) out.key_of_mark(mark_shape::square, "earlier", "earlier visit");
  plot_predicted(plotted, out);
  if (for_index) out.key_of_line("limit", "at ten minutes: asked by the index");
  return out.svg(frame, "Insulation resistance against time, " + plotted.circuit, description_of(plotted, minimum));
}

}  // namespace rewound::report
