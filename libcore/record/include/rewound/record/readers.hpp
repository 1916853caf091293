// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <rewound/record/fields.hpp>
#include <rewound/record/record.hpp>

namespace rewound::record {

machine_section read_machine(fields& in);
visit_section read_visit(fields& in);
resistance_section read_resistance(fields& in, const machine_section& machine);
withstand_section read_withstand(fields& in);
leakage_section read_leakage(fields& in);
cord_section read_cord(fields& in);

/// A group of equal sections has two members or more, and a speed's lead is read once.
void expect_sound_sections(const fields& root, const std::vector<resistance_section>& sections);

}  // namespace rewound::record
