// SPDX-License-Identifier: MIT
#include "analysis/run_up_analysis.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <rewound/fit/curve_choice.hpp>

namespace rewound::job {

namespace {

measurement::run_up as_run_up(const record::run_up_section& section) {
  measurement::run_up out{section.speed, {}};
  for (std::size_t i = 0; i < section.rows.size(); ++i) {
    const auto& row = section.rows[i];
    if (row.over_range) continue;  // how far beyond nobody knows
    out.readings.push_back(
        {static_cast<int>(i), units::volts(row.voltage_V), units::amperes(row.current_A), row.turns()});
  }
  return out;
}

std::vector<measurement::run_up> run_ups_of(const record::visit_record& in) {
  std::vector<measurement::run_up> out;
  for (const auto& speed : in.machine.speeds)
    for (const auto& section : in.run_up)
      if (section.speed == speed) out.push_back(as_run_up(section));
  return out;
}

/// Readings of a channel beside the current, at the same voltages.
template <class Quantity>
checks::summary_input beside(const visit_facts& visit, const record::run_up_section& section, fit::channel what,
                             std::optional<double> record::run_up_row::*value,
                             const measurement::instrument<Quantity>& meter) {
  checks::summary_input out{section.speed, what, {}};
  for (const auto& row : section.rows) {
    const double read = (row.*value).value_or(0.0);
    if (!row.turns() || read <= 0.0 || row.voltage_V <= 0.0) continue;
    if (what == fit::channel::power && !watts_possible(visit, row)) continue;
    out.readings.push_back({row.voltage_V / visit.in.machine.rated_voltage_V, read,
                            visit.instruments.voltmeter.digit_uncertainty().value() / row.voltage_V,
                            meter.digit_uncertainty().value() / read});
  }
  return out;
}

/// What the search for misreadings takes of a channel beside the current; absent where none was read.
template <class Quantity>
std::optional<checks::channel_readings> readings_beside(const visit_facts& visit,
                                                        const std::vector<measurement::run_up>& runs,
                                                        const known_curves& known, fit::channel what,
                                                        std::optional<double> record::run_up_row::*value,
                                                        const measurement::instrument<Quantity>& meter) {
  checks::channel_readings out{what, checks::own_digits(meter), {}, known(runs, what)};
  bool any = false;
  for (const auto& run : runs) {
    out.values.emplace_back();
    const auto section = std::find_if(visit.in.run_up.begin(), visit.in.run_up.end(),
                                      [&](const auto& each) { return each.speed == run.speed; });
    for (const auto& reading : run.readings) {
      const auto& row = section->rows[static_cast<std::size_t>(reading.index)];
      const bool possible = what != fit::channel::power || watts_possible(visit, row);
      out.values.back().push_back(possible ? (row.*value).value_or(0.0) : 0.0);
      any = any || out.values.back().back() > 0.0;
    }
  }
  return any ? std::optional(std::move(out)) : std::nullopt;
}

}  // namespace

known_curves::known_curves(const pooled_reference* model) : model_(model) {}

std::vector<std::optional<checks::known_curve>> known_curves::operator()(const std::vector<measurement::run_up>& runs,
                                                                         fit::channel what) const {
  std::vector<std::optional<checks::known_curve>> out;
  if (model_ == nullptr) return out;
  for (const auto& run : runs) {
    out.emplace_back();
    const auto place = model_->place_of(run.speed, what);
    if (!place || *place >= model_->curves.size()) continue;
    constexpr Eigen::Index own = fit::parabola_terms;
    const auto at = own * static_cast<Eigen::Index>(*place);
    const auto& whole = model_->curves[*place];
    checks::known_curve curve{whole.coefficients, whole.covariance, {}};
    for (Eigen::Index k = 0; k < own; ++k)
      curve.spread[static_cast<std::size_t>(k)] = std::sqrt(model_->population.between(at + k, at + k));
    out.back() = std::move(curve);
  }
  return out;
}

const fit::current_curve* run_up_analysis::curve_of(const std::string& speed) const {
  for (const auto& entry : curves.speeds)
    if (entry.speed == speed && entry.curve) return &*entry.curve;
  return nullptr;
}

record::run_up_section run_up_analysis::used(record::run_up_section section) const {
  std::vector<record::run_up_row> rows;
  for (std::size_t i = 0; i < section.rows.size(); ++i) {
    const bool aside = std::any_of(suspects.readings.begin(), suspects.readings.end(), [&](const auto& each) {
      return each.set_aside && as_read[each.run].speed == section.speed && static_cast<std::size_t>(each.index) == i;
    });
    if (!aside) rows.push_back(std::move(section.rows[i]));
  }
  section.rows = std::move(rows);
  return section;
}

run_up_analysis analyse_run_ups(const visit_facts& visit, const expected_currents& expected,
                                const known_curves& curves) {
  run_up_analysis out;
  out.as_read = run_ups_of(visit.in);
  const auto rated = units::volts(visit.in.machine.rated_voltage_V);
  std::vector<std::optional<units::current>> known(out.as_read.size());
  for (std::size_t i = 0; i < out.as_read.size(); ++i)
    for (const auto& [speed, current] : expected)
      if (speed == out.as_read[i].speed) known[i] = current;
  const auto& meters = visit.instruments;
  checks::suspect_input search{out.as_read, meters.voltmeter, meters.ammeter, known, rated, {}, {}};
  search.known_currents = curves(out.as_read, fit::channel::current);
  for (auto&& each : {readings_beside(visit, out.as_read, curves, fit::channel::power, &record::run_up_row::power_W,
                                      meters.wattmeter),
                      readings_beside(visit, out.as_read, curves, fit::channel::rotation,
                                      &record::run_up_row::speed_rpm, meters.tachometer)})
    if (each) search.beside.push_back(each.value());
  out.suspects = checks::suspect(search);
  out.input = {out.as_read, rated, meters.voltmeter, meters.ammeter};
  for (const auto& suspect : out.suspects.readings) {
    if (!suspect.set_aside) continue;
    auto& readings = out.input.run_ups[suspect.run].readings;
    std::erase_if(readings, [&](const auto& reading) { return reading.index == suspect.index; });
  }
  out.curves = checks::draw(out.input);
  return out;
}

std::vector<checks::summary_input> channels_of(const visit_facts& visit, const run_up_analysis& run_ups) {
  std::vector<checks::summary_input> out;
  for (const auto& run : run_ups.input.run_ups) {
    checks::summary_input current{run.speed, fit::channel::current, {}};
    for (const auto& reading : run.readings)
      if (reading.turning && reading.voltage.value() > 0.0 && reading.current.value() > 0.0)
        current.readings.push_back(checks::curve_reading_of(reading, run_ups.input));
    out.push_back(std::move(current));
  }
  for (const auto& as_read : visit.in.run_up) {
    const auto section = run_ups.used(as_read);
    out.push_back(
        beside(visit, section, fit::channel::power, &record::run_up_row::power_W, visit.instruments.wattmeter));
    out.push_back(
        beside(visit, section, fit::channel::rotation, &record::run_up_row::speed_rpm, visit.instruments.tachometer));
  }
  std::erase_if(out, [](const auto& input) { return input.readings.empty(); });
  return out;
}

std::optional<std::size_t> channel_analysis::place_of(const std::string& speed, fit::channel what) const {
  for (std::size_t i = 0; i < readings.size(); ++i)
    if (readings[i].speed == speed && readings[i].what == what) return i;
  return std::nullopt;
}

const fit::current_curve* channel_analysis::curve_of(const std::string& speed, fit::channel what) const {
  const auto place = place_of(speed, what);
  return place && curves[*place] ? &*curves[*place] : nullptr;
}

channel_analysis analyse_channels(std::vector<checks::summary_input> readings) {
  channel_analysis out{std::move(readings), {}, {}};
  for (const auto& each : out.readings) {
    out.blocks.push_back(checks::summarise(each));
    out.curves.push_back(each.what == fit::channel::current ? std::nullopt : fit::fit_current_curve(each.readings));
  }
  return out;
}

}  // namespace rewound::job
