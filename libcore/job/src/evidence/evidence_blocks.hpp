// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/checks/fault_likelihood.hpp>
#include <rewound/checks/design_population.hpp>
#include <rewound/checks/summary.hpp>
#include <rewound/job/learn.hpp>

#include "judging/judge_parts.hpp"

namespace rewound::job {

/// One channel of one speed, three coefficients of ln value: read or not, known to what it is compared with or not.
struct evidence_block {
  std::size_t step;  ///< index of the speed
  fit::channel what;
  const checks::summary_input* input;  ///< null: not read
  std::optional<std::size_t> known;    ///< its place among the blocks of what it is compared with

  bool observed() const { return input != nullptr && known.has_value(); }
};

/// The blocks of all speeds whose current was read and is known: fastest first, amperes, watts, rpm of each.
std::vector<evidence_block> evidence_blocks(const record::visit_record& now, const pooled_reference& model,
                                            const std::vector<checks::summary_input>& channels);

/// Where the curves of these speeds are looked at; all channels, or those alone that are known.
std::vector<checks::curve_probe> probes_of(const std::vector<evidence_block>& blocks, bool known_alone);

/// An earlier visit to the machine as a reference of one, its meters' errors of the zero apart.
struct close_reading {
  reference machine;
  pooled_reference pooled;
  Eigen::MatrixXd zeros;  ///< what a standard uncertainty of each meter's zero does to its mean, one column a meter
};

close_reading read_closely(const visit_facts& visit, const std::vector<checks::summary_input>& channels,
                           const verdict::policy& policy);

/// A visit's channels as a reference of one machine.
reference reference_of_channels(const visit_facts& visit, const std::vector<checks::summary_input>& channels);

/// The readings as observations of the blocks' deviations from the mean, in coordinates in which their own noise is the
/// unit matrix; `rest` further deviations are not observed.
///
/// @param machines  what the mean was learnt from: gains of meters that read them too cancel
/// @param same_machine  whether that is this machine at an earlier visit
checks::observed_deviations observe(const visit_facts& now, const std::vector<evidence_block>& blocks,
                                    const pooled_reference& model, const std::vector<reference_machine>& machines,
                                    bool same_machine, Eigen::Index rest);

/// ln of what the mean shows at the known probes.
Eigen::VectorXd known_values(const std::vector<evidence_block>& blocks, const pooled_reference& model,
                             const std::vector<checks::curve_probe>& probes);

/// By how much level, slope and curvature of real machines differ beyond the population, where a nameplate is all that
/// is known.
const std::array<double, 3>& nameplate_misfit(fit::channel what);

/// Standard uncertainty of one reading of a channel at the rated voltage as a relative one, gain included, on this
/// bench; of an assumed meter where none is named.
double reading_uncertainty(const visit_facts& now, fit::channel what);

}  // namespace rewound::job
