// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string_view>

#include <rewound/fit/summary_block.hpp>
#include <rewound/machine/fan_population.hpp>
#include <rewound/record/record.hpp>

namespace rewound::job {

/// What a record says of its machine before it runs, for the population of designs. Poles as marked, or of the
/// synchronous speed nearest above the fastest rpm read; absent where there is neither.
machine::machine_kind machine_kind_of(const record::visit_record& in);

/// Frequency of the supply that the run-ups were made on: the rated one where the record does not say [Hz].
double run_up_frequency_Hz(const record::visit_record& in);

/// Whether the machine model and its designs can stand for it: windings of several pole numbers and
/// commutator machines are outside them.
bool has_designs(const record::visit_record& in);

/// The windings of a single-phase machine.
enum class winding { main, auxiliary };

/// Which winding a section of a record is, by its name; absent where the name says neither or both.
std::optional<winding> winding_of(std::string_view section);

/// Ohms that the main winding should have, by what is expected of it or by wire, turns and mean turn, else those that
/// were read; absent where the record knows none.
std::optional<double> main_winding_ohm(const record::visit_record& in);

/// Turns in series of the main winding, where they were noted.
std::optional<double> main_winding_turns(const record::visit_record& in);

/// By how much a model machine may miss a real one, as a standard deviation of ln value:
/// reference/machines/model_misfit.table.
double model_misfit(fit::channel what);

}  // namespace rewound::job
