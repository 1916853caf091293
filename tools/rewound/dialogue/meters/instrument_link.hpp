// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <string>
#include <variant>

#include <rewound/record/record.hpp>

#include "dialogue/meters/scpi.hpp"

namespace rewound::tool::dialogue {

/// A line to one instrument that answers queries, over TCP or a serial port. Opened at the first query, kept open, and
/// opened anew once where it was dropped in between.
class instrument_link {
 public:
  /// @param meter  with address and query (job::read_record sees to their form)
  explicit instrument_link(const record::instrument_section& meter);
  ~instrument_link();
  instrument_link(instrument_link&&) noexcept;
  instrument_link(const instrument_link&) = delete;
  instrument_link& operator=(const instrument_link&) = delete;
  instrument_link& operator=(instrument_link&&) = delete;

  /// Asks for one reading and waits no longer than the meter's timeout. Never throws for what an instrument does.
  std::variant<double, no_reading> read();

 private:
  struct connection;
  std::string address_;
  std::string query_;
  double timeout_s_;
  std::unique_ptr<connection> open_;
};

}  // namespace rewound::tool::dialogue
