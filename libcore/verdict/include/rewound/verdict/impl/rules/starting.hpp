// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/repeated_tries.hpp>
#include <rewound/checks/start_positions.hpp>
#include <rewound/checks/starting.hpp>
#include <rewound/measurement/binomial.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/impl/words.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/starting.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// A share in percent, rounded down: never 100 where a failure stays possible, nor 0 where a success does. Two digits
/// of what is left to 100, or of a small share itself, are kept.
inline mentioned percent_short_of_certain(std::string key, double share) {
  const double gap = 100.0 * (1.0 - share);
  if (!(gap > 0.0)) return {std::move(key), 100.0};
  constexpr double rounding = 1e-9;  // 0.9 % is 90 hundredths, whatever the product of shares falls short of it
  const double small = share > 0.0 ? std::min(gap, 100.0 * share) : gap;
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(small * (1.0 + rounding)))), 0, 9);
  const double scale = std::pow(10.0, decimals);
  constexpr double one_digit = 5.0 / measurement::coverage_95;  // number_text then shows that many decimals
  const double digits = 100.0 * share * scale;
  return {std::move(key), std::floor(digits * (1.0 + rounding)) / scale, one_digit / scale};
}

inline mentioned counted(std::string key, int count) { return {std::move(key), static_cast<double>(count), 1.0}; }

inline finding starts_in(const record::machine_section& of, const position_tries& tries,
                         const checks::starting_result& proved, int most_attempts, const policy& rules) {
  const auto minimum = rules.practice.minimum_starts;
  finding f{.check = check::starting,
            .subject = tries.position,
            .quantity = "starts",
            .unit = "1",
            .source = std::string(minimum.source)};
  f.value = proved.share;
  f.low = proved.reliability_low;
  f.high = 1.0;
  f.limit_low = 1.0;
  f.numbers = {counted("attempts", tries.attempts),
               counted("successes", tries.successes),
               percent_short_of_certain("reliability_percent", proved.reliability_low),
               percent_short_of_certain("low_percent", proved.reliability.low),
               percent_short_of_certain("high_percent", proved.reliability.high),
               {"confidence_percent", 100.0 * rules.practice.starting_confidence.value},
               {"claimed_percent", 100.0 * rules.practice.starting_reliability.value},
               {"minimum", minimum.value, 1.0},
               counted("needed", proved.clean_starts_needed)};
  const auto further = proved.further_starts;
  const bool failed = tries.successes < tries.attempts;
  f.texts.emplace_back("more", !further || *further == 0 ? "none" : failed ? "further_failed" : "further");
  if (further) f.numbers.push_back(counted("further", *further));
  f.texts.emplace_back("start_parts", word_of(record::words::running_circuit, of.running_circuit));
  if (failed) {
    f.says = statement::starts_failed;
    f.outcome = outcome::fails;
  } else if (most_attempts < minimum.value) {
    f.says = statement::starts_too_few;
    f.outcome = outcome::undecided;
  } else {
    f.says = statement::starts_clean;
    f.outcome = outcome::conforms;
  }
  return f;
}

inline void tell_trend(const position_tries& tries, std::size_t count,
                       const std::optional<checks::repeated_tries_result>& trend, statement says, std::string quantity,
                       std::string unit, std::vector<finding>& out) {
  if (!trend) return;
  finding f{.check = check::starting,
            .subject = tries.position,
            .bearing = bearing::informs,
            .says = says,
            .quantity = std::move(quantity),
            .source = "least-squares line over the tries, Student's t"};
  const bool certain = trend->certain();
  f.value = certain ? std::abs(trend->slope) : trend->slope;
  f.low = *f.value - trend->half_width;
  f.high = *f.value + trend->half_width;
  f.unit = std::move(unit);
  f.numbers = {counted("tries", static_cast<int>(count))};
  f.texts.emplace_back("trend", !certain ? "steady" : trend->slope > 0.0 ? "rises" : "falls");
  out.push_back(std::move(f));
}

inline void tell_stalls(const record::visit_record& in, std::vector<finding>& out) {
  const double near_rating = in.machine.rated_voltage_V * (1.0 - tables::supply_window.front().voltage_percent / 100.0);
  for (const auto& section : in.run_up)
    for (const auto& row : section.rows) {
      if (row.turns() || row.voltage_V < near_rating) continue;
      finding f{.check = check::starting,
                .subject = section.speed,
                .outcome = outcome::fails,
                .says = statement::stalled_near_rating,
                .quantity = "stalled_at",
                .source = "NEMA MG 1 12.44.1 (runs at 90 % of the rated voltage)"};
      set_value(f, row.voltage_V, 0.0, "V");
      out.push_back(std::move(f));
    }
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> starting(const record::visit_record& in,
                                             const std::vector<position_tries>& positions,
                                             const std::vector<checks::starting_result>& proved, const policy& rules) {
  std::vector<finding> out;
  int most = 0;
  for (const auto& tries : positions) most = std::max(most, tries.attempts);
  for (std::size_t i = 0; i < positions.size(); ++i)
    out.push_back(detail::starts_in(in.machine, positions[i], proved[i], most, rules));
  if (positions.empty())
    out.push_back({.check = check::starting,
                   .says = statement::starts_not_tried,
                   .quantity = "starts",
                   .numbers = {{"minimum", rules.practice.minimum_starts.value, 1.0}}});
  detail::tell_stalls(in, out);
  return out;
}

REWOUND_INLINE std::vector<finding> standing_still(const std::string& speed, const checks::standstill_result& seen,
                                                   const std::string& turned_then, const policy& rules) {
  const auto margin = rules.practice.standstill_margin_percent;
  if (seen.ratio <= 1.0 + margin.value / 100.0) return {};
  finding f{.check = check::starting,
            .subject = speed,
            .outcome = outcome::fails,
            .says = statement::stalled_where_others_turn,
            .quantity = "stalled_at",
            .source = std::string(margin.source)};
  set_value(f, seen.stood.value(), 0.0, "V");
  f.limit_high = (1.0 + margin.value / 100.0) * seen.turned_from.value();
  f.numbers = {{"turned_from", seen.turned_from.value(), 1.0}};
  f.texts.emplace_back("turned_then", turned_then);
  return {std::move(f)};
}

REWOUND_INLINE std::vector<finding> start_positions(const std::vector<position_tries>& positions, const policy& rules) {
  std::vector<checks::counted_starts> counts;
  for (const auto& tries : positions) counts.push_back({tries.attempts, tries.successes});
  const auto compared = checks::start_positions(counts);
  if (!compared) return {};
  const auto limit = rules.practice.starting_difference;
  const auto& worst = positions[compared->worst];
  finding f{.check = check::starting,
            .subject = worst.position,
            .bearing = bearing::informs,
            .says = compared->probability <= limit.value ? statement::starts_differ : statement::starts_no_difference,
            .quantity = "difference_between_positions",
            .unit = "1",
            .source = "Fisher's exact test, times the positions compared; " + std::string(limit.source) +
                      "; interval of the difference: Newcombe 1998, method 10 (from memory)"};
  f.value = compared->probability;
  f.limit_low = limit.value;
  f.numbers = {detail::counted("attempts", worst.attempts), detail::counted("successes", worst.successes),
               detail::counted("other_attempts", compared->others.attempts),
               detail::counted("other_successes", compared->others.successes),
               detail::counted("comparisons", static_cast<int>(positions.size()))};
  const auto& others = compared->others;
  const double share = static_cast<double>(worst.successes) / worst.attempts;
  const double elsewhere = static_cast<double>(others.successes) / others.attempts;
  const double confidence = rules.practice.starting_confidence.value;
  const auto between = measurement::difference_of_proportions(others.successes, others.attempts, worst.successes,
                                                              worst.attempts, confidence);
  const auto percent = [](std::string key, double of_one) { return mentioned{std::move(key), 100.0 * of_one, 1.0}; };
  f.numbers.push_back(percent("fewer_percent", elsewhere - share));
  f.numbers.push_back(percent("fewer_low", between.low));
  f.numbers.push_back(percent("fewer_high", between.high));
  f.numbers.push_back({"confidence_percent", 100.0 * confidence});
  return {std::move(f)};
}

namespace detail {

/// Where the test was made no lower voltage was tried: the entry bounds the lowest one and does not measure it.
inline bool read_at_mains(double volts, double rated_voltage_V, const std::optional<double>& mains_V,
                          const policy& rules) {
  const double near = rules.practice.starting_at_mains_percent.value / 100.0 * rated_voltage_V;
  return std::abs(volts - rated_voltage_V) <= near || (mains_V && std::abs(volts - *mains_V) <= near);
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> starting_voltage(const record::visit_record& in, const position_tries& tries,
                                                     double standard_uncertainty_V,
                                                     const std::optional<checks::repeated_tries_result>& trend,
                                                     const policy& rules) {
  const auto& volts = tries.lowest_V;
  const double rated_voltage_V = in.machine.rated_voltage_V;
  const double highest = *std::max_element(volts.begin(), volts.end());
  const auto limit = rules.practice.starting_voltage_percent;
  finding f{.check = check::starting,
            .subject = tries.position,
            .says = statement::starting_voltage,
            .quantity = "lowest_starting_voltage",
            .source = std::string(limit.source)};
  const double percent = 100.0 / rated_voltage_V;
  set_value(f, percent * highest, percent * standard_uncertainty_V, "%");
  f.limit_high = limit.value;
  f.outcome = rules.judge(*f.value, percent * standard_uncertainty_V, {{}, limit.value});
  // It cannot stand in for the starts that a release needs. Below the rated voltage but above the limit it still starts
  // where it is meant to run: told as a condition, since the starts themselves decide.
  const bool starts_at_rating =
      rules.judge(*f.value, percent * standard_uncertainty_V, {{}, 100.0}) == outcome::conforms;
  const bool at_mains = detail::read_at_mains(highest, rated_voltage_V, in.visit.supply_voltage_V, rules);
  const bool least = percent * highest < rules.practice.starting_voltage_least_percent.value;
  if (least) {
    f.says = statement::starting_voltage_impossible;
    f.outcome = outcome::undecided;
    f.limit_low = rules.practice.starting_voltage_least_percent.value;
    f.source = rules.practice.starting_voltage_least_percent.source;
  } else if (f.outcome == outcome::conforms) f.bearing = bearing::informs;
  else if (starts_at_rating || at_mains) {
    f.bearing = bearing::informs;
    f.outcome = outcome::undecided;
    f.says = statement::starting_voltage_high;
  }
  f.numbers = {{"volts", highest, standard_uncertainty_V}, detail::counted("tries", static_cast<int>(volts.size()))};
  f.texts.emplace_back("worst", volts.size() == 1 ? "one" : "several");
  f.texts.emplace_back("below_it", at_mains ? "untried" : "stands");  // the voltage of the test tells of no lower one
  std::vector<finding> out{std::move(f)};
  detail::tell_trend(tries, volts.size(), trend, statement::starting_voltage_trend, "starting_voltage_trend", "V/try",
                     out);
  return out;
}

REWOUND_INLINE std::vector<finding> time_to_speed(const position_tries& tries,
                                                  const std::optional<checks::repeated_tries_result>& trend,
                                                  const policy& rules) {
  const auto& seconds = tries.to_speed_s;
  finding f{.check = check::starting,
            .subject = tries.position,
            .bearing = bearing::informs,
            .says = statement::time_to_speed,
            .quantity = "time_to_speed",
            .unit = "s",
            .source = "the record's own entry"};
  f.value = *std::max_element(seconds.begin(), seconds.end());
  f.numbers = {detail::counted("tries", static_cast<int>(seconds.size()))};
  f.texts.emplace_back("slowest", seconds.size() == 1 ? "one" : "several");
  if (const auto most = rules.practice.time_to_speed_most_s; *f.value > most.value) {
    f.says = statement::time_to_speed_long;
    f.bearing = bearing::decides;
    f.outcome = outcome::undecided;
    f.limit_high = most.value;
    f.source = most.source;
  }
  std::vector<finding> out{std::move(f)};
  detail::tell_trend(tries, seconds.size(), trend, statement::time_to_speed_trend, "time_to_speed_trend", "s/try", out);
  return out;
}

}  // namespace rewound::verdict::rules
