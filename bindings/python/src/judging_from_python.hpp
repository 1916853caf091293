// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/job/judge.hpp>
#include <rewound/verdict/policy.hpp>

#include "pybind.hpp"

namespace rewound::python {

/// The policy of a path, of a dict with the policy file's keys, or the default one.
verdict::policy policy_from_python(const py::object& policy);

/// What a record is judged beside; null where there is none.
job::sources sources_of(const job::reference* good, const record::visit_record* earlier);

}  // namespace rewound::python
