// SPDX-License-Identifier: MIT
#pragma once

#include <optional>

#include <rewound/job/reference.hpp>
#include <rewound/job/result.hpp>
#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// What a record may be compared with; the best that is there decides, the reference of good machines first.
struct sources {
  std::optional<record::visit_record> earlier;  ///< an earlier visit of the same machine
  std::optional<reference> good;                ///< what good machines of the model draw
};

/// Judges one visit's record.
///
/// @throws base::error (records_do_not_match) when a source is of another machine, model or rating
result judge(const record::visit_record& now, const sources& compare_with, const verdict::policy& policy);

}  // namespace rewound::job
