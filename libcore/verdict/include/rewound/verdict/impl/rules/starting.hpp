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
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/starting.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// A share in percent, rounded down: never 100 where a failure stays possible, nor 0 where a success does. Two digits
/// of what is left to 100, or of a small share itself, are kept.
inline mentioned percent_short_of_certain(std::string key, double share) {
  const double gap = 100.0 * (1.0 - share);
  if (!(gap > 0.0)) return {std::move(key), 100.0};
  const double small = share > 0.0 ? std::min(gap, 100.0 * share) : gap;
  const int decimals = std::clamp(1 - static_cast<int>(std::floor(std::log10(small))), 0, 9);
  const double scale = std::pow(10.0, decimals);
  constexpr double one_digit = 5.0 / measurement::coverage_95;  // number_text then shows that many decimals
  return {std::move(key), std::floor(100.0 * share * scale) / scale, one_digit / scale};
}

inline mentioned counted(std::string key, int count) { return {std::move(key), static_cast<double>(count), 1.0}; }

inline finding starts_in(const starts_facts& facts, int most_attempts, const policy& rules) {
  const auto minimum = rules.practice.minimum_starts;
  finding f{.check = check::starting,
            .subject = facts.position,
            .quantity = "starts",
            .unit = "1",
            .source = std::string(minimum.source)};
  f.value = facts.result.share;
  f.low = facts.result.reliability_low;
  f.high = 1.0;
  f.limit_low = 1.0;
  f.numbers = {counted("attempts", facts.attempts),
               counted("successes", facts.successes),
               percent_short_of_certain("reliability_percent", facts.result.reliability_low),
               percent_short_of_certain("low_percent", facts.result.reliability.low),
               percent_short_of_certain("high_percent", facts.result.reliability.high),
               {"confidence_percent", 100.0 * rules.practice.starting_confidence.value},
               {"claimed_percent", 100.0 * rules.practice.starting_reliability.value},
               {"minimum", minimum.value, 1.0},
               counted("needed", facts.result.clean_starts_needed)};
  const auto further = facts.result.further_starts;
  const bool failed = facts.successes < facts.attempts;
  f.texts.emplace_back("more", !further || *further == 0 ? "none" : failed ? "further_failed" : "further");
  if (further) f.numbers.push_back(counted("further", *further));
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

inline finding trend_of(const tries_facts& facts, statement says, std::string quantity, std::string unit) {
  finding f{.check = check::starting,
            .subject = facts.position,
            .bearing = bearing::informs,
            .says = says,
            .quantity = std::move(quantity),
            .source = "least-squares line over the tries, Student's t"};
  const bool certain = facts.trend->certain();
  f.value = certain ? std::abs(facts.trend->slope) : facts.trend->slope;
  f.low = *f.value - facts.trend->half_width;
  f.high = *f.value + facts.trend->half_width;
  f.unit = std::move(unit);
  f.numbers = {counted("tries", static_cast<int>(facts.values.size()))};
  f.texts.emplace_back("trend", !certain ? "steady" : facts.trend->slope > 0.0 ? "rises" : "falls");
  return f;
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> starting(const std::vector<starts_facts>& positions,
                                             const std::vector<stall_facts>& stalls, const policy& rules) {
  std::vector<finding> out;
  int most = 0;
  for (const auto& facts : positions) most = std::max(most, facts.attempts);
  for (const auto& facts : positions) out.push_back(detail::starts_in(facts, most, rules));
  if (positions.empty())
    out.push_back({.check = check::starting,
                   .says = statement::starts_not_tried,
                   .quantity = "starts",
                   .numbers = {{"minimum", rules.practice.minimum_starts.value, 1.0}}});
  for (const auto& stall : stalls) {
    finding f{.check = check::starting,
              .subject = stall.speed,
              .outcome = outcome::fails,
              .says = statement::stalled_near_rating,
              .quantity = "stalled_at",
              .source = "NEMA MG 1 12.44.1 (runs at 90 % of the rated voltage)"};
    set_value(f, stall.voltage_V, 0.0, "V");
    out.push_back(std::move(f));
  }
  return out;
}

REWOUND_INLINE std::vector<finding> start_positions(const std::vector<starts_facts>& positions, const policy& rules) {
  std::vector<checks::counted_starts> counts;
  for (const auto& facts : positions) counts.push_back({facts.attempts, facts.successes});
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

REWOUND_INLINE std::vector<finding> starting_voltage(const tries_facts& facts, double rated_voltage_V,
                                                     const std::optional<double>& mains_V, const policy& rules) {
  const double highest = *std::max_element(facts.values.begin(), facts.values.end());
  const auto limit = rules.practice.starting_voltage_percent;
  finding f{.check = check::starting,
            .subject = facts.position,
            .says = statement::starting_voltage,
            .quantity = "lowest_starting_voltage",
            .source = std::string(limit.source)};
  const double percent = 100.0 / rated_voltage_V;
  set_value(f, percent * highest, percent * facts.standard_uncertainty, "%");
  f.limit_high = limit.value;
  f.outcome = rules.judge(*f.value, percent * facts.standard_uncertainty, {{}, limit.value});
  // It cannot stand in for the starts that a release needs. Below the rated voltage but above the limit it still starts
  // where it is meant to run: told as a condition, since the starts themselves decide.
  const bool starts_at_rating =
      rules.judge(*f.value, percent * facts.standard_uncertainty, {{}, 100.0}) == outcome::conforms;
  const bool least = percent * highest < rules.practice.starting_voltage_least_percent.value;
  if (least) {
    f.says = statement::starting_voltage_impossible;
    f.outcome = outcome::undecided;
    f.limit_low = rules.practice.starting_voltage_least_percent.value;
    f.source = rules.practice.starting_voltage_least_percent.source;
  } else if (f.outcome == outcome::conforms) f.bearing = bearing::informs;
  else if (starts_at_rating || detail::read_at_mains(highest, rated_voltage_V, mains_V, rules)) {
    f.bearing = bearing::informs;
    f.outcome = outcome::undecided;
    f.says = statement::starting_voltage_high;
  }
  f.numbers = {{"volts", highest, facts.standard_uncertainty},
               detail::counted("tries", static_cast<int>(facts.values.size()))};
  f.texts.emplace_back("worst", facts.values.size() == 1 ? "one" : "several");
  std::vector<finding> out{std::move(f)};
  if (facts.trend)
    out.push_back(detail::trend_of(facts, statement::starting_voltage_trend, "starting_voltage_trend", "V/try"));
  return out;
}

REWOUND_INLINE std::vector<finding> time_to_speed(const tries_facts& facts, const policy& rules) {
  finding f{.check = check::starting,
            .subject = facts.position,
            .bearing = bearing::informs,
            .says = statement::time_to_speed,
            .quantity = "time_to_speed",
            .unit = "s",
            .source = "the record's own entry"};
  f.value = *std::max_element(facts.values.begin(), facts.values.end());
  f.numbers = {detail::counted("tries", static_cast<int>(facts.values.size()))};
  f.texts.emplace_back("slowest", facts.values.size() == 1 ? "one" : "several");
  if (const auto most = rules.practice.time_to_speed_most_s; *f.value > most.value) {
    f.says = statement::time_to_speed_long;
    f.bearing = bearing::decides;
    f.outcome = outcome::undecided;
    f.limit_high = most.value;
    f.source = most.source;
  }
  std::vector<finding> out{std::move(f)};
  if (facts.trend)
    out.push_back(detail::trend_of(facts, statement::time_to_speed_trend, "time_to_speed_trend", "s/try"));
  return out;
}

}  // namespace rewound::verdict::rules
