// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/measurement/suspect_reading.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::verdict::rules {

/// A suspect reading with the name of its speed.
struct named_suspect {
  std::string speed;
  measurement::suspect_reading reading;
};

/// Watts of one speed that lie above volts times amperes by more than the meters can be wrong.
struct impossible_watts {
  std::string speed;
  int first;  ///< index of the first such reading
  int count;
  int of;
  double power_W;  ///< of the first
  double apparent_VA;
};

struct readings_facts {
  std::vector<named_suspect> suspects;
  std::vector<impossible_watts> watts;
  int stalled = 0;                               ///< readings with the rotor at rest, kept out of the curves
  std::vector<std::string> assumed_instruments;  ///< used, but without an accuracy in the record
};

constexpr std::string_view name(measurement::suspicion why) {
  using measurement::suspicion;
  switch (why) {
    case suspicion::digits_transposed: return "digits_transposed";
    case suspicion::decimal_slipped: return "decimal_slipped";
    case suspicion::wrong_range: return "wrong_range";
    case suspicion::off_curve: return "off_curve";
    case suspicion::readings_disagree: return "readings_disagree";
    case suspicion::falls_with_voltage: return "falls_with_voltage";
    case suspicion::rotor_at_rest: return "rotor_at_rest";
    case suspicion::reads_zero: return "reads_zero";
  }
  return "";
}

/// Whether the readings can be trusted: each suspect one is undecided until it is taken again.
inline std::vector<finding> readings(const readings_facts& facts) {
  std::vector<finding> out;
  for (const auto& [speed, reading] : facts.suspects) {
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
    out.push_back(std::move(f));
  }
  for (const auto& watts : facts.watts) {
    finding f{.check = check::readings,
              .subject = watts.speed,
              .outcome = outcome::undecided,
              .says = statement::watts_impossible,
              .quantity = "power",
              .unit = "W",
              .source = "active power never exceeds volts times amperes (mathematics; limits of error of the meters)"};
    f.value = watts.power_W;
    f.limit_high = watts.apparent_VA;
    f.numbers = {{"number", static_cast<double>(watts.first + 1), 1.0},
                 {"count", static_cast<double>(watts.count), 1.0},
                 {"of", static_cast<double>(watts.of), 1.0}};
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
  if (facts.stalled > 0)
    out.push_back({.check = check::readings,
                   .bearing = bearing::informs,
                   .says = statement::readings_stalled_kept_out,
                   .quantity = "stalled_readings",
                   .numbers = {{"count", static_cast<double>(facts.stalled), 1.0}}});
  if (!facts.assumed_instruments.empty()) {
    std::string list;
    for (const auto& instrument : facts.assumed_instruments) list += (list.empty() ? "" : ", ") + instrument;
    out.push_back({.check = check::readings,
                   .bearing = bearing::informs,
                   .says = statement::accuracy_assumed,
                   .quantity = "accuracy",
                   .source = "reference/limits/assumed_accuracy.table (common practice, no source)",
                   .texts = {{"instruments", list}}});
  }
  return out;
}

}  // namespace rewound::verdict::rules
