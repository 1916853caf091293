// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <memory>
#include <mutex>
#include <utility>
#include <vector>

namespace rewound::job {

/// Values that are costly to work out, kept by exactly the numbers they depend on; the one not asked for longest gives
/// way.
///
/// May be used by several threads. Two that ask for the same new value at once both work it out, to the same result.
template <class Value>
class kept_values {
 public:
  explicit kept_values(std::size_t most) : most_(most) {}

  /// @param make  () -> Value; depends on nothing but what stands in `key`
  template <class Make>
  std::shared_ptr<const Value> get(const std::vector<double>& key, Make make) {
    {
      const std::lock_guard lock(one_at_a_time_);
      if (const auto found = kept_.find(key); found != kept_.end()) {
        found->second.asked = ++asked_;
        return found->second.value;
      }
    }
    auto made = std::make_shared<const Value>(make());
    const std::lock_guard lock(one_at_a_time_);
    auto& place = kept_[key];
    if (!place.value) place.value = std::move(made);
    place.asked = ++asked_;
    auto out = place.value;
    if (kept_.size() > most_) drop_oldest();
    return out;
  }

  void clear() {
    const std::lock_guard lock(one_at_a_time_);
    kept_.clear();
  }

 private:
  struct entry {
    std::shared_ptr<const Value> value;
    std::uint64_t asked = 0;
  };

  void drop_oldest() {
    auto oldest = kept_.begin();
    for (auto each = kept_.begin(); each != kept_.end(); ++each)
      if (each->second.asked < oldest->second.asked) oldest = each;
    kept_.erase(oldest);
  }

  std::mutex one_at_a_time_;
  std::map<std::vector<double>, entry> kept_;
  std::uint64_t asked_ = 0;
  std::size_t most_;
};

}  // namespace rewound::job
