// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <condition_variable>
#include <cstddef>
#include <exception>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

namespace rewound::tool {

/// Work on items one after another by several threads, handed on in the order in which they came.
///
/// At most eight items a thread are on their way, so that memory stays bounded however long one of them takes.
///
/// @param take  () -> std::optional<Item>, none after the last; one call at a time
/// @param work  (Item&), several at once; must not throw
/// @param hand_on  (Item&), one call at a time, in order
/// What `take` or `hand_on` throws ends the work and is thrown again here.
template <class Take, class Work, class HandOn>
void in_order(unsigned threads, Take take, Work work, HandOn hand_on) {
  using item = typename decltype(take())::value_type;
  const std::size_t room = 8 * static_cast<std::size_t>(threads);
  std::vector<std::optional<item>> done(room);
  std::mutex turn;
  std::condition_variable moved;
  std::size_t taken = 0, handed = 0;
  bool ended = false;   // nothing more is taken; what is on its way is still handed on
  bool failed = false;  // nothing more is handed on either
  std::exception_ptr trouble;

  const auto one_after_another = [&] {
    std::unique_lock lock(turn);
    for (;;) {
      moved.wait(lock, [&] { return ended || taken - handed < room; });
      if (ended) return;
      auto next = take();
      if (!next) break;
      const std::size_t place = taken++ % room;
      lock.unlock();
      work(*next);
      lock.lock();
      done[place] = std::move(next);
      for (; !failed && handed < taken && done[handed % room]; ++handed) {
        failed = true;  // unless it returns
        hand_on(*done[handed % room]);
        failed = false;
        done[handed % room].reset();
      }
      moved.notify_all();
    }
    ended = true;
    moved.notify_all();
  };
  const auto guarded = [&] {
    try {
      one_after_another();
    } catch (...) {
      const std::lock_guard lock(turn);
      if (!trouble) trouble = std::current_exception();
      ended = true;
      moved.notify_all();
    }
  };
  std::vector<std::thread> others;
  for (unsigned i = 1; i < threads; ++i) others.emplace_back(guarded);
  guarded();
  for (auto& other : others) other.join();
  if (trouble) std::rethrow_exception(trouble);
}

}  // namespace rewound::tool
