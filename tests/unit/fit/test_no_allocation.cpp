// SPDX-License-Identifier: MIT
#include <atomic>
#include <cstdlib>
#include <new>
#include <vector>

#include <doctest/doctest.h>

#include <rewound/fit/batch_fit.hpp>
#include <rewound/fit/batch_prediction.hpp>

namespace {

std::atomic<std::size_t> allocations_of_this_program{0};

}  // namespace

// Inlined, the pair below looks to GCC 12 as if malloc's memory were deleted.
#pragma GCC diagnostic ignored "-Wmismatched-new-delete"

void* operator new(std::size_t bytes) {
  ++allocations_of_this_program;
  if (void* const place = std::malloc(bytes > 0 ? bytes : 1)) return place;
  throw std::bad_alloc();
}
// A sort's own buffer comes by this one and goes by the same delete.
void* operator new(std::size_t bytes, const std::nothrow_t&) noexcept {
  ++allocations_of_this_program;
  return std::malloc(bytes > 0 ? bytes : 1);
}
void operator delete(void* place) noexcept { std::free(place); }
void operator delete(void* place, std::size_t) noexcept { std::free(place); }

namespace {

using namespace rewound;

/// Allocations of one fit and one prediction of so many curves, half of them with a reading that is absent.
std::size_t allocations_of(std::size_t count, fit::curve_family family, bool robust, fit::instruction_set set) {
  const auto parameters = static_cast<std::size_t>(family == fit::curve_family::power ? 2 : 3);
  std::vector<double> voltage, current, weight(8 * count, 1.0), rated(count, 230.0);
  for (std::size_t i = 0; i < 8 * count; ++i) {
    const double x = 0.4 + 0.1 * static_cast<double>(i % 8);
    voltage.push_back(230.0 * x);
    current.push_back(0.2 * x + 0.1 * x * x * x + ((i * 7919) % 13 < 2 ? 2e-2 : 1e-4 * static_cast<double>(i % 3)));
    if (i % 16 == 3) weight[i] = 0.0;
  }
  std::vector<double> fitted(parameters * count), covariance(parameters * parameters * count), chi2(count);
  std::vector<double> value(count), low(count), high(count);
  std::vector<int> degrees(count);
  std::vector<unsigned char> certified(count);
  const fit::curve_table table{count, 8, voltage.data(), current.data(), weight.data(), rated.data()};
  const fit::fit_table fits{fitted.data(), covariance.data(), chi2.data(), degrees.data(), certified.data()};
  const double at = 240.0;
  const fit::prediction_points points{&at, 1, true, rated.data()};
  const fit::prediction_table predicted{value.data(), low.data(), high.data()};
  const std::size_t before = allocations_of_this_program;
  fit::fit_batch(table, family, robust, 0, count, fits, set);
  fit::predict_batch(fits, family, points, 0.95, true, 0, count, predicted, set);
  return allocations_of_this_program - before;
}

}  // namespace

TEST_CASE("a curve more costs no allocation") {
  for (const auto set : fit::instruction_sets()) {
    using enum fit::curve_family;
    struct {
      fit::curve_family family;
      bool robust;
    } const kinds[] = {{power, false}, {power, true}, {log_quadratic, false}, {magnetising, false}};
    for (const auto& kind : kinds) {
      allocations_of(1, kind.family, kind.robust, set);  // what is kept after a first call
      CHECK(allocations_of(3000, kind.family, kind.robust, set) == allocations_of(1, kind.family, kind.robust, set));
    }
  }
  const std::size_t before = allocations_of_this_program;
  CHECK(std::vector<double>(10).size() == 10);
  CHECK(allocations_of_this_program > before);  // the count itself counts
}
