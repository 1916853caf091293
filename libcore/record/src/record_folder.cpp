// SPDX-License-Identifier: MIT
#include "batch_sources.hpp"

#include <algorithm>
#include <deque>
#include <queue>
#include <vector>

#include <rewound/base/checksum.hpp>
#include <rewound/base/error.hpp>

namespace rewound::record {

namespace {

namespace fs = std::filesystem;

/// Names kept at a time. The folder is gone through again for the next ones, so that any number of records fits.
constexpr std::size_t names_at_a_time = 65536;

class folder_source final : public batch_source {
 public:
  explicit folder_source(std::string path) : path_(std::move(path)) {
    refill();
    if (names_.empty())
      throw base::error(base::error_code::empty_list, {path_, 0, ""}, "a folder without records",
                        "at least one file *.toml");
  }

  std::optional<batch_item> next() override {
    if (names_.empty() && !last_.empty()) refill();
    if (names_.empty()) return std::nullopt;
    last_ = std::move(names_.front());
    names_.pop_front();
    return batch_item{"", last_, [file = (fs::path(path_) / last_).string()] { return load_record(file); }};
  }

  std::uint64_t fingerprint(const std::string& besides) const override {
    std::uint64_t sum = base::checksum_of(path_);  // a sum, since a folder tells its files in no order
    for (const auto& entry : fs::recursive_directory_iterator(path_, fs::directory_options::skip_permission_denied)) {
      const auto kind = entry.path().extension();
      std::error_code absent;
      // Tables that the records refer to count too; results that lie beside them must not.
      if ((kind == ".toml" || kind == ".csv") && !fs::equivalent(entry.path(), besides, absent))
        sum += file_fingerprint(entry.path());
    }
    return sum;
  }

 private:
  /// The first names after the last one given out.
  void refill() {
    std::priority_queue<std::string> nearest;
    std::error_code trouble;
    for (fs::directory_iterator entry(path_, trouble), end; !trouble && entry != end; entry.increment(trouble)) {
      auto name = entry->path().filename().string();
      if (entry->path().extension() != ".toml" || name <= last_) continue;
      if (nearest.size() == names_at_a_time) {
        if (name >= nearest.top()) continue;
        nearest.pop();
      }
      nearest.push(std::move(name));
    }
    if (trouble)
      throw base::error(base::error_code::file_unreadable, {path_, 0, ""}, trouble.message(),
                        "a folder that can be read");
    for (; !nearest.empty(); nearest.pop()) names_.push_front(nearest.top());
  }

  std::string path_;
  std::deque<std::string> names_;
  std::string last_;
};

}  // namespace

std::uint64_t file_fingerprint(const fs::path& file) {
  std::error_code trouble;
  auto out = base::checksum_of(file.string());
  out = base::checksum_of(std::to_string(fs::file_size(file, trouble)), out);
  return base::checksum_of(std::to_string(fs::last_write_time(file, trouble).time_since_epoch().count()), out);
}

std::unique_ptr<batch_source> record_folder(const std::string& path) { return std::make_unique<folder_source>(path); }

std::unique_ptr<batch_source> open_batch(const std::string& path) {
  return fs::is_directory(path) ? record_folder(path) : long_table(path);
}

}  // namespace rewound::record
