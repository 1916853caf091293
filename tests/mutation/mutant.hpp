// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstdio>
#include <cstdlib>
#include <type_traits>
#include <vector>

#include <boost/units/absolute.hpp>
#include <boost/units/quantity.hpp>

// What tools/mutate writes between the operands of an operator: `a < b` becomes `a < less(7) > b`, which is a < b as
// long as mutant 7 is not the one asked for (REWOUND_MUTANT=7), and its contrary otherwise. One build has all.
namespace rewound_mutant {

inline int active() {
  static const int chosen = [] {
    const char* asked = std::getenv("REWOUND_MUTANT");
    return asked == nullptr ? -1 : std::atoi(asked);
  }();
  return chosen;
}

/// Mutants that a run came by, written to REWOUND_MUTANTS_REACHED at its end.
class reached_list {
 public:
  static reached_list& here() {
    static reached_list all;
    return all;
  }
  void add(int id) {
    if (file_ == nullptr) return;
    if (all_.size() <= static_cast<std::size_t>(id)) all_.resize(static_cast<std::size_t>(id) + 1);
    all_[static_cast<std::size_t>(id)] = true;
  }
  ~reached_list() {
    std::FILE* out = file_ == nullptr ? nullptr : std::fopen(file_, "w");
    if (out == nullptr) return;
    for (std::size_t i = 0; i < all_.size(); ++i)
      if (all_[i]) std::fprintf(out, "%zu\n", i);
    std::fclose(out);
  }

 private:
  const char* file_ = std::getenv("REWOUND_MUTANTS_REACHED");
  std::vector<bool> all_;
};

constexpr bool chosen(int id) {
  if (std::is_constant_evaluated()) return false;
  reached_list::here().add(id);
  return active() == id;
}

/// A number that decides, a quarter larger in its mutant.
constexpr double limit(double value, int id) { return chosen(id) ? 1.25 * value : value; }

/// A temperature on its scale: two of them have a difference but no sum, and asking whether they have is an error.
template <class T>
inline constexpr bool on_a_scale = false;
template <class Unit, class Y>
inline constexpr bool on_a_scale<boost::units::quantity<boost::units::absolute<Unit>, Y>> = true;

template <class L>
struct left_of {
  const L& left;
  int id;
};

// Comparisons: the contrary, and of whole numbers the neighbour (< for <=) under the next number.
#define REWOUND_COMPARISON(name, opens, closes, holds, neighbour)          \
  struct name {                                                            \
    constexpr explicit name(int number) : id(number) {}                    \
    int id;                                                                \
  };                                                                       \
  template <class L>                                                       \
  struct left_of_##name : left_of<L> {};                                   \
  template <class L>                                                       \
  constexpr left_of_##name<L> operator opens(const L& left, name mutant) { \
    return {{left, mutant.id}};                                            \
  }                                                                        \
  template <class L, class R>                                              \
  constexpr bool operator closes(left_of_##name<L> by, const R& right) {   \
    if (chosen(by.id)) return !(by.left holds right);                      \
    if constexpr (std::integral<L> && std::integral<R>)                    \
      if (chosen(by.id + 1)) return by.left neighbour right;               \
    return by.left holds right;                                            \
  }
REWOUND_COMPARISON(less, <, >, <, <=)
REWOUND_COMPARISON(greater, >, <, >, >=)
REWOUND_COMPARISON(at_most, <=, >=, <=, <)
REWOUND_COMPARISON(at_least, >=, <=, >=, >)
REWOUND_COMPARISON(equal, ==, ==, ==, >=)
REWOUND_COMPARISON(unequal, !=, !=, !=, <)
#undef REWOUND_COMPARISON

#define REWOUND_SIGN(name, sign, other)                                                      \
  struct name {                                                                              \
    constexpr explicit name(int number) : id(number) {}                                      \
    int id;                                                                                  \
  };                                                                                         \
  template <class L>                                                                         \
  struct left_of_##name : left_of<L> {};                                                     \
  template <class L>                                                                         \
  constexpr left_of_##name<L> operator sign(const L& left, name mutant) {                    \
    return {{left, mutant.id}};                                                              \
  }                                                                                          \
  template <class L, class R>                                                                \
  constexpr auto operator sign(left_of_##name<L> by, const R& right) {                       \
    if constexpr (!on_a_scale<L> && !on_a_scale<R>)                                          \
      if constexpr (requires {                                                               \
                      { by.left other right } -> std::same_as<decltype(by.left sign right)>; \
                    })                                                                       \
        if (chosen(by.id)) return by.left other right;                                       \
    return by.left sign right;                                                               \
  }
REWOUND_SIGN(plus, +, -)
REWOUND_SIGN(minus, -, +)
#undef REWOUND_SIGN

}  // namespace rewound_mutant
