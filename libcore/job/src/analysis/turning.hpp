// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <optional>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/mechanics.hpp>

#include "judging/judge_parts.hpp"

namespace rewound::job {

/// Of the readings that serve and lie within a share of the rated voltage, the nearest to it.
template <class Serves>
const record::run_up_row* nearest_to_rated(const record::visit_record& in, const record::run_up_section& run,
                                           double near, const Serves& serves) {
  const record::run_up_row* out = nullptr;
  const double rated = in.machine.rated_voltage_V;
  for (const auto& row : run.rows) {
    const double off = std::abs(row.voltage_V - rated);
    if (!serves(row) || off > near * rated) continue;
    if (out == nullptr || off < std::abs(out->voltage_V - rated)) out = &row;
  }
  return out;
}

/// Within a twentieth (common practice, no source), where the rotor turned and its speed was read.
const record::run_up_row* rotation_near_rated(const record::visit_record& in, const record::run_up_section& run);

/// Voltages at which the rotor stood still with current on it. None where no row of the record turns: the column may
/// not have been filled in.
std::vector<double> stood_at(const record::visit_record& in, const record::run_up_section& run);

/// Turns of the field of the marked poles a minute, of two where none are marked.
double field_of(const record::machine_section& of, double hertz);

/// By how much a small rotor usually turns slower than its field at most.
verdict::practice_limit usual_slip_of(const record::machine_section& of, const verdict::policy& policy);

/// Whether a turning at a voltage is that of the plate, within what slip, voltage and the tachometer allow.
bool turns_as_plate(const record::visit_record& in, const record::run_up_row& row, const verdict::policy& policy);

/// Whether the plate's turning and poles can both be true.
bool plate_can_turn(const record::machine_section& of);

/// Whether a machine that came in as found takes less current since, nearer to its plate, or turns faster, and on no
/// speed the contrary: what it was then is no measure of what it should be.
bool mended_since(const record::visit_record& now, const record::visit_record& before);

/// A rotor that turns with its fan on far slower than at the earlier visit, than its plate or than its poles let it;
/// the first of these that says so.
std::optional<verdict::rules::slow_turning> slow_turning_of(const visit_facts& now,
                                                            const std::optional<visit_facts>& before,
                                                            const verdict::policy& policy);

}  // namespace rewound::job
