// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/checks/draw.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/checks/suspect.hpp>
#include <rewound/job/learn.hpp>

#include "judging/judge_parts.hpp"

namespace rewound::job {

/// One visit's run-ups with suspect readings found and set aside, and the curves of the rest.
struct run_up_analysis {
  std::vector<measurement::run_up> as_read;
  checks::suspect_result suspects;
  checks::draw_input input;
  checks::draw_result curves;

  const fit::current_curve* curve_of(const std::string& speed) const;

  /// A speed's record without the rows that were set aside: a reading is set aside whole, since watts and rpm of a row
  /// whose voltage was misread stand at the wrong place too.
  record::run_up_section used(record::run_up_section section) const;
};

/// Current expected at the rated voltage on a speed, where something is known of it.
using expected_currents = std::vector<std::pair<std::string, units::current>>;

/// The curves that a population lets one expect.
class known_curves {
 public:
  /// @param model  may be null: nothing is known; must outlive this
  explicit known_curves(const pooled_reference* model = nullptr);

  /// By run; none where nothing is known.
  std::vector<std::optional<checks::known_curve>> operator()(const std::vector<measurement::run_up>& runs,
                                                             fit::channel what) const;

 private:
  const pooled_reference* model_;
};

run_up_analysis analyse_run_ups(const visit_facts& visit, const expected_currents& expected,
                                const known_curves& curves = known_curves());

/// The readings of every speed and channel that was read, without suspect readings and those of a rotor at rest.
std::vector<checks::summary_input> channels_of(const visit_facts& visit, const run_up_analysis& run_ups);

/// These readings, their summaries and the curves through watts and rpm: one of each a speed and channel, in one order.
struct channel_analysis {
  std::vector<checks::summary_input> readings;
  std::vector<fit::summary_block> blocks;
  std::vector<std::optional<fit::current_curve>> curves;  ///< of currents, run_up_analysis has them

  /// Its place in all three lists; absent where it was not read.
  std::optional<std::size_t> place_of(const std::string& speed, fit::channel what) const;
  /// Null where it was not read.
  const fit::current_curve* curve_of(const std::string& speed, fit::channel what) const;
};

channel_analysis analyse_channels(std::vector<checks::summary_input> readings);

}  // namespace rewound::job
