// SPDX-License-Identifier: MIT
#pragma once

#include <string>

namespace rewound::record {

/// An ordinary file open for reading: no folder, pipe or device.
class opened_file {
 public:
  /// @throws base::error file_unreadable
  explicit opened_file(const std::string& path);
  ~opened_file();
  opened_file(const opened_file&) = delete;
  opened_file& operator=(const opened_file&) = delete;

  int descriptor() const { return descriptor_; }

 private:
  int descriptor_ = -1;
};

}  // namespace rewound::record
