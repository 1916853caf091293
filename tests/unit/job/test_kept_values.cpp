// SPDX-License-Identifier: MIT
#include <doctest/doctest.h>

#include <thread>
#include <vector>

#include "evidence/kept_values.hpp"

using rewound::job::kept_values;

TEST_CASE("a value is worked out once for a key, and again for another") {
  kept_values<double> kept(4);
  int made = 0;
  const auto twice_of = [&](double x) {
    return *kept.get({x}, [&] {
      ++made;
      return 2.0 * x;
    });
  };
  CHECK(twice_of(3.0) == 6.0);
  CHECK(twice_of(3.0) == 6.0);
  CHECK(made == 1);
  CHECK(twice_of(3.0000000001) != 6.0);
  CHECK(made == 2);
}

TEST_CASE("of too many values the one not asked for longest gives way") {
  kept_values<int> kept(2);
  int made = 0;
  const auto get = [&](double key) { return *kept.get({key}, [&] { return ++made; }); };
  get(1.0);
  get(2.0);
  get(1.0);  // 2 is now the one not asked for longest
  get(3.0);
  CHECK(made == 3);
  get(1.0);
  CHECK(made == 3);
  get(2.0);
  CHECK(made == 4);
}

TEST_CASE("a value that was dropped stays with whoever holds it") {
  kept_values<std::vector<int>> kept(1);
  const auto held = kept.get({1.0}, [] { return std::vector<int>{1, 2, 3}; });
  kept.get({2.0}, [] { return std::vector<int>{}; });
  kept.clear();
  CHECK(held->size() == 3);
}

TEST_CASE("several threads that ask for the same values all get the same") {
  kept_values<double> kept(8);
  std::vector<double> sums(4, 0.0);
  std::vector<std::thread> threads;
  for (auto& sum : sums)
    threads.emplace_back([&kept, &sum] {
      for (int i = 0; i < 200; ++i) sum += *kept.get({static_cast<double>(i % 16)}, [i] { return 1.0 + i % 16; });
    });
  for (auto& thread : threads) thread.join();
  for (const double sum : sums) CHECK(sum == sums.front());
  CHECK(sums.front() == 200.0 + 12.0 * 120.0 + 28.0);
}
