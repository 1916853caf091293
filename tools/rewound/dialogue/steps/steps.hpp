// SPDX-License-Identifier: MIT
#pragma once

#include "dialogue/session.hpp"
#include "dialogue/steps/timed_run.hpp"

// The steps of the dialogue. Each asks, keeps and remarks until the person leaves it (step_left) or it is complete.
namespace rewound::tool::dialogue {

/// Repeats a step's questions where undo or drop came between, or one of them was left, until they are answered.
template <class Questions>
auto looking_again(const Questions& questions) {
  for (;;) {
    try {
      return questions();
    } catch (const look_again&) {
    }
  }
}

/// The winding's temperature last read in this record, or the air's.
std::optional<double> likely_winding_C(const record::visit_record& in);

/// What is read before a hand goes near the machine.
void cautions_before_touching(session& at);

void earth_step(session& at);
void resistance_step(session& at);
void insulation_step(session& at, const pace& speed_of_time);
void withstand_step(session& at);
/// Today's mains, once a session where they are not known: one of the voltages at which each speed is read.
void mains_question(session& at);
void run_up_step(session& at, const std::string& speed);
void leakage_step(session& at);
void starting_step(session& at);
void coast_down_step(session& at);
void heat_run_step(session& at, const pace& speed_of_time);
void checks_step(session& at);

}  // namespace rewound::tool::dialogue
