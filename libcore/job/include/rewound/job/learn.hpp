// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include <rewound/fit/mean_shape.hpp>
#include <rewound/job/reference.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// A reference with its machines pooled: which coefficients stand where, their mean and spread.
struct pooled_reference {
  struct block_key {
    std::string speed;
    fit::channel what;
  };
  std::vector<block_key> blocks;        ///< three coefficients each, in this order
  std::vector<fit::mean_shape> curves;  ///< one a block: what its machines have in common
  std::vector<fit::mean_shape> shapes;  ///< of these, what they do beyond a parabola
  fit::population population;

  /// Where a speed's channel stands among the blocks; absent where no machine was read so.
  std::optional<std::size_t> place_of(const std::string& speed, fit::channel what) const;
};

/// Standard deviations of level, slope and curvature of ln current between what is pooled, and how many machines that
/// belief is worth.
struct curve_spread {
  double level;
  double exponent;
  double curvature;
  double weight;
};

/// Between good machines of one model, and between two visits to one machine that did not change; from the policy.
curve_spread between_machines(const verdict::policy& policy);
curve_spread between_visits(const verdict::policy& policy);

/// Probability that machines of a model spread wider than is believed; good machines that do not, lower it.
double doubt_of_spread(std::size_t machines, const verdict::policy& policy);

/// The blocks of one record: one a speed and channel read, suspect readings and a rotor at rest left out.
std::vector<fit::summary_block> summary_of(const record::visit_record& in);

/// One record as a reference of its own, model or not: what the machine drew at an earlier visit.
reference reference_of(const record::visit_record& in);

/// Learns a reference from records of good machines of one model. A machine that is very improbable beside the
/// others is set aside and named, where there are four or more.
///
/// @throws base::error records_do_not_match for other models, ratings or shaft conditions; repeated for one visit
///         given twice; empty_list without records
reference learn(const std::vector<record::visit_record>& records, const verdict::policy& policy);

/// Machines that are improbable beside the others but were kept, since fewer than four can outvote none.
std::vector<std::string> kept_though_unlike(const reference& in, const verdict::policy& policy);

/// Joins references of one model; machines set aside are weighed again.
reference merge(const std::vector<reference>& parts, const verdict::policy& policy);

/// Mean and spread of a reference's machines.
pooled_reference pool_reference(const reference& in, const curve_spread& prior);

/// Mean and spread of some of a reference's blocks under another belief about the spread.
///
/// @param shapes  the reference pooled before, whose shapes are kept
/// @param places  where the three coefficients of each block wanted begin in `shapes`
/// @param spread  covariance believed in, three rows a block wanted
fit::population population_with_spread(const reference& in, const pooled_reference& shapes,
                                       const std::vector<Eigen::Index>& places, const Eigen::MatrixXd& spread,
                                       const verdict::policy& policy);

/// A population of which nothing is known: blocks of every speed and channel about 0, shapes as of all machines.
pooled_reference unknown_population(const record::machine_section& machine);

/// The reference as a TOML file's text, format "rewound-reference/1".
std::string reference_text(const reference& in, const verdict::policy& policy);

}  // namespace rewound::job
