// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <rewound/record/record.hpp>

// Facts that the record's lists of numbers cannot hold: they stand under its free keys, [checks], so that every report
// and the result show them.
namespace rewound::tool::dialogue {

/// An insulation reading beyond the tester's range.
struct over_range_note {
  std::string circuit;
  double time_s = 0.0;
  std::string at_least_Mohm;  ///< as noted: the number, without unit

  std::string key() const;  ///< under [checks]
};

/// All of a record.
std::vector<over_range_note> over_range_notes(const record::visit_record& in);

/// That of one circuit at one time.
std::optional<over_range_note> over_range_at(const record::visit_record& in, const std::string& circuit, double time_s);

/// The record without what is noted of a circuit at one time.
record::visit_record without_over_range(record::visit_record in, const std::string& circuit, double time_s);

/// "winding to frame 60 s at least 2000 Mohm, over range", as lists and the journal show it.
std::string over_range_words(const over_range_note& note);

/// The keys under [checks] that a person answered with yes or no: all but what is noted here.
std::vector<std::string> answered_checks(const record::visit_record& in);

/// What a rehearsal's record holds as not right under [checks]: rehearsed readings never release a machine.
inline constexpr const char* no_rehearsal_key = "readings of a test, not of a rehearsal";

/// Whether the record says that it was made in a rehearsal.
bool is_rehearsal(const record::visit_record& in);

}  // namespace rewound::tool::dialogue
