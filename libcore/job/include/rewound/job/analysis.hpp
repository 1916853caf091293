// SPDX-License-Identifier: MIT
#pragma once

#include <memory>

#include <rewound/job/judge.hpp>
#include <rewound/job/pictures.hpp>

namespace rewound::job {

/// What the readings of a visit say, worked out once: instruments, suspect readings, curves and summaries by channel,
/// what they are held against, insulation, coasting. Findings, pictures, causes and next steps all read it.
struct analysis;

/// Analyses one visit's record. All three arguments must live as long as what is returned.
///
/// @throws base::error (records_do_not_match) when a source is of another machine, model or rating
std::shared_ptr<const analysis> analyse(const record::visit_record& now, const sources& compare_with,
                                        const verdict::policy& policy);

/// Judges what was analysed.
result judge(const analysis& seen);

/// The pictures that go with it: the same readings are suspect, the same curves are drawn.
pictures pictures_of(const analysis& seen);

}  // namespace rewound::job
