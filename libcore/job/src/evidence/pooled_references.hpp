// SPDX-License-Identifier: MIT
#pragma once

namespace rewound::job {

/// Forgets all references that were pooled and kept (pool_reference, population_with_spread); the answers stay the
/// same.
void forget_pooled_references();

}  // namespace rewound::job
