// SPDX-License-Identifier: MIT
#pragma once

// How good machines of any model differ, learnt from references of several models: an empirical prior of the shop's own
// in place of ours.

#include <cstddef>
#include <string>
#include <vector>

#include <rewound/job/learn.hpp>
#include <rewound/job/reference.hpp>
#include <rewound/record/document.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// Standard deviations of level, slope and curvature of ln current between good machines of a model.
struct machine_spread {
  double level_percent = 0.0;
  double exponent = 0.0;
  double curvature = 0.0;
  double level_uncertainty_percent = 0.0;  ///< standard uncertainty of level_percent
  std::size_t references = 0;              ///< with two machines or more
  std::size_t machines = 0;                ///< in these
};

/// Learns how good machines of any model differ. The policy's own belief counts as a few machines; references of one
/// machine say nothing.
///
/// @throws base::error empty_list without references, or when none of them has two machines
/// Source: restricted maximum likelihood by expectation-maximisation, N. M. Laird, J. H. Ware, Biometrics 38 (1982)
/// 963-974; gains of meters that differ between machines are taken off.
machine_spread learn_spread(const std::vector<reference>& references, const verdict::policy& policy);

/// The policy with a learnt spread as its own belief.
verdict::policy with_spread(verdict::policy policy, const machine_spread& spread);

/// Whether a policy believes in another spread than ours.
bool has_own_spread(const verdict::policy& policy);

/// The spread as a TOML file's text, format "rewound-spread/1".
std::string spread_text(const machine_spread& in);

/// Reads a spread. @throws base::error with the place, what was read and what is allowed
machine_spread spread_from(const record::node& document);
machine_spread load_spread(const std::string& path);

}  // namespace rewound::job
