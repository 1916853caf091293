// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/job/judge.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::tool::dialogue {

/// What a session's record is judged by: the same as `rewound judge` is given.
struct judged_by {
  job::sources compare_with;
  verdict::policy policy;
};

}  // namespace rewound::tool::dialogue
