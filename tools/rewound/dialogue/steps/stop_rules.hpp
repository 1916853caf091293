// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include <rewound/job/expected_reading.hpp>
#include <rewound/job/result.hpp>
#include <rewound/verdict/policy.hpp>

// When the person is stopped: the findings are those of job::judge, the numbers those of
// reference/limits/practice.table.
namespace rewound::tool::dialogue {

/// Why a run-up stops.
enum class stop_reason { far_above, not_following, misread };

struct stop {
  stop_reason why;
  std::string line;  ///< what the person is told
  int index = 0;     ///< the reading it speaks of
};

/// What is known when a reading was just taken. Numbers in V and A.
struct reading_facts {
  std::string speed;
  int index = 0;  ///< the reading's place in the speed's lists
  double voltage_V = 0.0;
  double current_A = 0.0;
  double rated_V = 0.0;
  std::optional<double> rated_current_A;
  std::optional<job::expected_reading> expected;
  std::optional<double> before_V;  ///< of the reading before it, where the rotor turned at both
  std::optional<double> before_A;
  std::set<int> accepted;  ///< suspect readings that the person looked at and kept
  bool turning = true;     ///< a rotor held at rest draws far more, as it should
};

/// Everything that speaks against going on, the most pressing first.
std::vector<stop> stops_after(const reading_facts& facts, const job::result& judged, const verdict::policy& policy);

/// Whether the machine may be put under voltage, by what was judged cold.
enum class permission { granted, ask, refused };

struct energising {
  dialogue::permission permission = permission::refused;
  std::string why;  ///< empty when granted
};

/// Refused before insulation was judged, and where insulation, earth or withstand fail; left to the person where
/// insulation is undecided, or where other circuits than `winding to frame` were judged.
energising may_energise(const job::result& judged);

/// A withstand test: refused unless that circuit's insulation conforms, and wherever power is refused.
energising may_withstand(const job::result& judged, const std::string& circuit);

}  // namespace rewound::tool::dialogue
