// SPDX-License-Identifier: MIT
#include <rewound/report/batch_row.hpp>
#include <rewound/report/json.hpp>

#include "batch/sink.hpp"

namespace rewound::tool {

namespace {

class comma_separated final : public batch_sink {
  std::string head() const override { return report::batch_head(); }

  std::string piece(const judged_machine& one) const override {
    return one.judgement ? report::batch_row(one.file, *one.judgement)
                         : report::batch_trouble_row(one.machine, one.file, one.trouble);
  }
};

class json_lines final : public batch_sink {
  std::string piece(const judged_machine& one) const override {
    return one.judgement ? report::json_line(one.file, *one.judgement)
                         : report::json_trouble_line(one.machine, one.file, one.trouble);
  }
};

}  // namespace

std::unique_ptr<batch_sink> csv_sink() { return std::make_unique<comma_separated>(); }
std::unique_ptr<batch_sink> json_sink() { return std::make_unique<json_lines>(); }

}  // namespace rewound::tool
