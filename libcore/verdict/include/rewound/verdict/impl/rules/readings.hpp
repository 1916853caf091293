// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/measurement/suspect_reading.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/readings.hpp>

namespace rewound::verdict::rules {

REWOUND_INLINE std::vector<finding> readings(const std::vector<named_suspect>& suspects,
                                             const std::vector<impossible_watts>& watts,
                                             const std::vector<contradiction>& contradictions, int stalled,
                                             const std::vector<std::string>& assumed) {
  std::vector<finding> out;
  for (const auto& [speed, reading] : suspects) {
    finding f{.check = check::readings,
              .subject = speed,
              .outcome = outcome::undecided,
              .says = statement::reading_suspect,
              .quantity = reading.voltage ? "voltage" : "current",
              .source = "common practice, no source (search for misread values)"};
    f.value = reading.read;
    f.unit = reading.voltage ? "V" : "A";
    f.numbers.push_back({"number", static_cast<double>(reading.index + 1), 1.0});
    if (reading.would_fit) f.numbers.push_back({"would_fit", *reading.would_fit});
    f.texts.emplace_back("why", name(reading.why));
    f.texts.emplace_back("zero_first", name(reading.why) == std::string_view("reads_zero") ? "yes" : "no");
    f.texts.emplace_back("which", "reading " + std::to_string(reading.index + 1));
    out.push_back(std::move(f));
  }
  for (const auto& each : watts) {
    finding f{.check = check::readings,
              .subject = each.speed,
              .outcome = outcome::undecided,
              .says = statement::watts_impossible,
              .quantity = "power",
              .unit = "W",
              .source = "active power never exceeds volts times amperes (mathematics; limits of error of the meters)"};
    f.value = each.power_W;
    f.limit_high = each.apparent_VA;
    f.numbers = {{"number", static_cast<double>(each.first + 1), 1.0},
                 {"count", static_cast<double>(each.count), 1.0},
                 {"of", static_cast<double>(each.of), 1.0}};
    out.push_back(std::move(f));
  }
  for (const auto& each : contradictions) {
    finding f{.check = check::readings,
              .subject = each.place,
              .outcome = outcome::undecided,
              .says = statement::entries_contradict,
              .quantity = "consistency",
              .source = each.source};
    f.texts = {{"place", each.place}, {"first", each.first}, {"second", each.second}};
    out.push_back(std::move(f));
  }
  if (out.empty())
    out.push_back({.check = check::readings,
                   .outcome = outcome::conforms,
                   .says = statement::readings_plain,
                   .quantity = "suspect_readings",
                   .value = 0.0,
                   .unit = "1",
                   .source = "common practice, no source (search for misread values)"});
  if (stalled > 0)
    out.push_back({.check = check::readings,
                   .bearing = bearing::informs,
                   .says = statement::readings_stalled_kept_out,
                   .quantity = "stalled_readings",
                   .numbers = {{"count", static_cast<double>(stalled), 1.0}}});
  if (!assumed.empty()) {
    std::string list;
    for (const auto& instrument : assumed) list += (list.empty() ? "" : ", ") + instrument;
    out.push_back({.check = check::readings,
                   .bearing = bearing::informs,
                   .says = statement::accuracy_assumed,
                   .quantity = "accuracy",
                   .source = "reference/limits/assumed_accuracy.table (common practice, no source)",
                   .texts = {{"instruments", list}}});
  }
  return out;
}

REWOUND_INLINE std::vector<finding> meters(const std::vector<low_reading>& low, bool ammeter_averages,
                                           const policy& rules) {
  std::vector<finding> out;
  for (const auto& each : low) {
    finding f{.check = check::readings,
              .subject = each.place,
              .bearing = bearing::informs,
              .says = statement::readings_low_on_range,
              .quantity = "share_of_range",
              .unit = "%",
              .source = std::string(rules.practice.low_on_range_percent.source)};
    f.value = 100.0 * each.value / each.full_scale;
    f.limit_low = rules.practice.low_on_range_percent.value;
    f.numbers = {{"read", each.value}, {"full", each.full_scale}};
    f.texts = {{"meter", each.meter}, {"of", each.unit}};
    out.push_back(std::move(f));
  }
  if (!ammeter_averages) return out;
  const auto& row = tables::assumed_accuracy[static_cast<std::size_t>(tables::assumed_accuracy_key::averaging)];
  finding f{.check = check::readings,
            .bearing = bearing::informs,
            .says = statement::ammeter_averages,
            .quantity = "averaging",
            .unit = "%",
            .source = std::string(row.source)};
  f.value = row.reading_percent;
  out.push_back(std::move(f));
  return out;
}

}  // namespace rewound::verdict::rules
