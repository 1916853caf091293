// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "dialogue/judging.hpp"

namespace rewound::tool::dialogue {

/// The growing curves of a record in characters, with what is expected of one speed (the fastest where none is named).
std::string drawing_of(const record::visit_record& in, const judged_by& by, const std::string& speed, bool unicode);

}  // namespace rewound::tool::dialogue
