// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/verdict/policy.hpp>

#include "pybind.hpp"

namespace rewound::python {

/// The policy of a path, of a dict with the policy file's keys, or the default one.
verdict::policy policy_from_python(const py::object& policy);

}  // namespace rewound::python
