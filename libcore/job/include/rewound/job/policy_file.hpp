// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include <rewound/record/document.hpp>
#include <rewound/verdict/policy.hpp>

namespace rewound::job {

/// The policy that serves where the user names none; its text is reference/policy/default.toml.
verdict::policy default_policy();

/// The same as its document, with all keys that a policy may have a value for by default.
record::node default_policy_document();

/// Reads a policy's document. Keys it leaves out keep the default policy's values.
///
/// @throws base::error with the place, what was read and what is allowed
verdict::policy policy_from(const record::node& document);

/// Reads a policy file.
verdict::policy load_policy(const std::string& path);

}  // namespace rewound::job
