// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/base/error.hpp>
#include <rewound/record/record.hpp>

namespace rewound::record {

/// Something in a record that cannot be.
struct problem {
  base::error_code code;
  std::string path;         ///< such as run_up[0].current_A[2], as the lists of a file are counted
  std::string read;         ///< what stands there
  std::string allowed;      ///< what may stand there
  bool of_several = false;  ///< follows from several values together
};

/// All that cannot be in a record, whatever made it: lengths, ranges, numbers that are none, speeds that are not
/// listed, entries that contradict each other. Empty for a record that can be judged.
std::vector<problem> problems_of(const visit_record& in);

/// What every entry of the library calls before it works with a record.
///
/// @throws base::error for one problem, base::errors for several
void validate(const visit_record& in);

/// A path for people: positions from one, speeds and circuits by name: run_up "low", current_A, reading 3.
std::string words_of_path(const std::string& path, const visit_record& in);

}  // namespace rewound::record

#ifndef REWOUND_COMPILED
#include <rewound/record/impl/validate.hpp>
#endif
