// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <rewound/job/reference.hpp>
#include <rewound/record/batch_source.hpp>
#include <rewound/verdict/policy.hpp>

#include "batch/results_file.hpp"
#include "batch/sink.hpp"

namespace rewound::tool {

/// What a batch is judged by.
struct batch_standards {
  std::vector<job::reference> references;  ///< a record is held against the one of its model
  verdict::policy policy;
};

/// Judges what the source has left and adds it to the results, in the order given.
///
/// @throws base::error when the source breaks off or the results cannot be written
void run_batch(record::batch_source& source, const batch_standards& standards, const batch_sink& sink, unsigned threads,
               results_file& results);

}  // namespace rewound::tool
