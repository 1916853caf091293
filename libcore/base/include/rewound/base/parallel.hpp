// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace rewound::base {

/// Calls work(i) for every i below `count` on up to `threads` threads; each i once, in no promised order.
///
/// The first exception stops the handing out of work and is thrown again here.
template <class Work>
void for_each_index(std::size_t count, int threads, const Work& work) {
  std::atomic<std::size_t> next = 0;
  std::exception_ptr trouble;
  std::mutex trouble_lock;
  const auto run = [&] {
    try {
      for (std::size_t i = next++; i < count; i = next++) work(i);
    } catch (...) {
      const std::lock_guard hold(trouble_lock);
      if (!trouble) trouble = std::current_exception();
      next = count;
    }
  };
  {
    std::vector<std::jthread> helpers;
    const std::size_t wanted = std::min(count, static_cast<std::size_t>(threads));
    for (std::size_t i = 1; i < wanted; ++i) helpers.emplace_back(run);
    run();
  }
  if (trouble) std::rethrow_exception(trouble);
}

}  // namespace rewound::base
