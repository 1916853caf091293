// SPDX-License-Identifier: MIT
#include "dialogue/facts/other_records.hpp"

#include <algorithm>
#include <filesystem>
#include <vector>

#include <rewound/base/error.hpp>

namespace rewound::tool::dialogue {

namespace {

namespace fs = std::filesystem;

/// A folder of many seasons is not read through for one question.
constexpr std::size_t looked_at = 200;

/// The other files of the folder that may be records, those changed last first.
std::vector<fs::path> files_beside(const std::string& path) {
  const auto folder = fs::absolute(path).parent_path();
  std::vector<std::pair<fs::file_time_type, fs::path>> found;
  std::error_code trouble;
  for (fs::directory_iterator entry(folder, trouble), end; !trouble && entry != end; entry.increment(trouble)) {
    std::error_code none;
    if (entry->path().extension() != ".toml" || fs::equivalent(entry->path(), path, none)) continue;
    found.emplace_back(entry->last_write_time(none), entry->path());
  }
  std::sort(found.begin(), found.end(), std::greater<>());
  if (found.size() > looked_at) found.resize(looked_at);
  std::vector<fs::path> out;
  for (auto& each : found) out.push_back(std::move(each.second));
  return out;
}

/// What is no record, or a broken one, is passed over.
template <class Wanted>
std::optional<other_record> first_of(const std::string& path, const Wanted& wanted) {
  for (const auto& file : files_beside(path)) try {
      other_record out{file.filename().string(), record::load_record(file.string())};
      if (wanted(out)) return out;
    } catch (const base::error&) {
    }
  return std::nullopt;
}

}  // namespace

std::optional<other_record> last_record_beside(const std::string& path) {
  return first_of(path, [](const other_record&) { return true; });
}

std::optional<other_record> record_beside(const std::string& path, const std::string& named) {
  return first_of(path, [&](const other_record& each) {
    return each.record.machine.id == named || each.file == named || each.file == named + ".toml";
  });
}

}  // namespace rewound::tool::dialogue
