// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>

#include <rewound/job/judge.hpp>
#include <rewound/job/result.hpp>
#include <rewound/record/record.hpp>

namespace rewound::tool {

/// One machine of a batch with what became of it: a judgement, or the reason why there is none.
struct judged_machine {
  std::string machine;  ///< its id; empty where it could not be read
  std::string file;     ///< where it stands in the input
  std::optional<record::visit_record> in;
  job::sources compare_with;  ///< what it was judged beside
  std::optional<job::result> judgement;
  std::string trouble;            ///< one line; empty with a judgement
  bool internal_trouble = false;  ///< a mistake of ours, not of the input
};

/// The form that a batch's results take: what stands first, and one piece a machine, in the order given.
class batch_sink {
 public:
  virtual ~batch_sink() = default;

  virtual std::string head() const { return ""; }

  /// What is added for a machine. Called from several threads, in any order.
  virtual std::string piece(const judged_machine& one) const = 0;
};

std::unique_ptr<batch_sink> csv_sink();
std::unique_ptr<batch_sink> json_sink();

}  // namespace rewound::tool
