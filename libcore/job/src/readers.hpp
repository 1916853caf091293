// SPDX-License-Identifier: MIT
#pragma once

#include <rewound/job/record.hpp>

#include "fields.hpp"

namespace rewound::job {

machine_section read_machine(fields& in);
visit_section read_visit(fields& in);

}  // namespace rewound::job
