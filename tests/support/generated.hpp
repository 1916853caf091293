// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <optional>
#include <random>
#include <vector>

#include <judged.hpp>

// Random numbers and the verdict of a record, for laws over many records.
namespace rewound::testing {

using numbers = std::mt19937_64;

inline double between(numbers& random, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(random);
}

inline double factor(numbers& random, double low, double high) {
  return std::exp(between(random, std::log(low), std::log(high)));
}

template <class Of>
const Of& one_of(numbers& random, const std::vector<Of>& all) {
  return all[std::uniform_int_distribution<std::size_t>(0, all.size() - 1)(random)];
}

inline job::result judged(const record::visit_record& in, const std::optional<record::visit_record>& earlier = {}) {
  return job::judge(in, {earlier, {}}, job::default_policy());
}

inline bool released(const record::visit_record& in, const std::optional<record::visit_record>& earlier = {}) {
  return judged(in, earlier).decision.decision == verdict::decision::release;
}

}  // namespace rewound::testing
