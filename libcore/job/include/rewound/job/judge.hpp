// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/job/record.hpp>
#include <rewound/job/result.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// Judges one visit's record.
///
/// @param earlier  an earlier visit of the same machine to compare with
/// @throws base::error (records_do_not_match) when the earlier record is of another machine or rating
result judge(const record& now, const std::optional<record>& earlier, const verdict::policy& policy);

}  // namespace rewound::job
