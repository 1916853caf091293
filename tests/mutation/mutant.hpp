// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <type_traits>

#include <boost/units/absolute.hpp>
#include <boost/units/quantity.hpp>

// What tools/mutate writes between the operands of an operator: `a < b` becomes `a < less(7) > b`, which is a < b as
// long as mutant 7 is not the one asked for (REWOUND_MUTANT=7), and its contrary otherwise. One build has all.
namespace rewound_mutant {

/// What is to be done where a run comes by a mutant: nothing, nearly always.
enum class ask : unsigned char { nothing, note, change };
inline constexpr std::size_t most = 16384;
inline ask asked[most];
enum class found : unsigned char { nothing, reached, no_mutant };
inline found seen[most];

/// Mutants that a run came by are added to REWOUND_MUTANTS_REACHED at its end; with a minus those whose types have no
/// such mutant (texts have a sum but no difference).
inline void write_reached() {
  std::FILE* out = std::fopen(std::getenv("REWOUND_MUTANTS_REACHED"), "a");
  if (out == nullptr) return;
  for (std::size_t i = 0; i < most; ++i)
    if (seen[i] != found::nothing) std::fprintf(out, "%s%zu\n", seen[i] == found::reached ? "" : "-", i);
  std::fclose(out);
}

inline bool begin() {
  if (std::getenv("REWOUND_MUTANTS_REACHED") != nullptr) {
    std::memset(asked, static_cast<int>(ask::note), sizeof(asked));
    std::atexit(write_reached);
  }
  const char* mutant = std::getenv("REWOUND_MUTANT");
  if (mutant != nullptr) asked[std::atoi(mutant)] = ask::change;
  return true;
}
/// Before every constant of a header that has mutants, since each includes this one first.
inline const bool begun = begin();

[[gnu::noinline, gnu::cold]] inline bool ask_further(int id) {
  if (asked[id] == ask::change) return true;
  seen[id] = found::reached;
  return false;
}

constexpr bool chosen(int id) {
  if (std::is_constant_evaluated()) return false;
  return asked[id] != ask::nothing && ask_further(id);
}

constexpr void no_mutant(int id) {
  if (std::is_constant_evaluated()) return;
  if (asked[id] == ask::note && seen[id] == found::nothing) seen[id] = found::no_mutant;
}

/// A constant that is worked out when the program begins, not by the compiler.
template <class F>
auto at_start(F worked_out) {
  return worked_out();
}

/// A number that decides, a quarter larger in its mutant.
constexpr double limit(double value, int id) { return chosen(id) ? 1.25 * value : value; }

/// A temperature on its scale: two of them have a difference but no sum, and asking whether they have is an error.
template <class T>
inline constexpr bool on_a_scale = false;
template <class Unit, class Y>
inline constexpr bool on_a_scale<boost::units::quantity<boost::units::absolute<Unit>, Y>> = true;

/// Whether a mutant's value can stand for another: Eigen's sum and difference are of different types, but both can be
/// the matrix that they are.
enum class kind { none, same, one_matrix };
template <class Kept, class Changed>
constexpr kind kind_of() {
  if constexpr (std::same_as<Kept, Changed>) return kind::same;
  else if constexpr (requires {
                       typename Kept::PlainObject;
                       typename Changed::PlainObject;
                     })
    return kind::one_matrix;
  else return kind::none;
}

template <class L>
struct left_of {
  const L& left;
  int id;
};

// The mutant that stands between two operands, and what it and the left one are together.
#define REWOUND_BETWEEN(name, opens)                                       \
  struct name {                                                            \
    constexpr explicit name(int number) : id(number) {}                    \
    int id;                                                                \
  };                                                                       \
  template <class L>                                                       \
  struct left_of_##name : left_of<L> {};                                   \
  template <class L>                                                       \
  constexpr left_of_##name<L> operator opens(const L& left, name mutant) { \
    return {{left, mutant.id}};                                            \
  }

// Comparisons: the contrary, and of whole numbers the neighbour (< for <=) under the next number.
#define REWOUND_COMPARISON(name, opens, closes, holds, neighbour)        \
  REWOUND_BETWEEN(name, opens)                                           \
  template <class L, class R>                                            \
  constexpr bool operator closes(left_of_##name<L> by, const R& right) { \
    if (chosen(by.id)) return !(by.left holds right);                    \
    if constexpr (std::integral<L> && std::integral<R>)                  \
      if (chosen(by.id + 1)) return by.left neighbour right;             \
    return by.left holds right;                                          \
  }
REWOUND_COMPARISON(less, <, >, <, <=)
REWOUND_COMPARISON(greater, >, <, >, >=)
REWOUND_COMPARISON(at_most, <=, >=, <=, <)
REWOUND_COMPARISON(at_least, >=, <=, >=, >)
REWOUND_COMPARISON(equal, ==, ==, ==, >=)
REWOUND_COMPARISON(unequal, !=, !=, !=, <)
#undef REWOUND_COMPARISON

template <class Kept, class Changed>
constexpr auto with_sign(int id, const Kept& kept, const Changed& changed) {
  if constexpr (kind_of<Kept, Changed>() == kind::same) {
    return chosen(id) ? changed : kept;
  } else if constexpr (kind_of<Kept, Changed>() == kind::one_matrix) {
    using matrix = typename Kept::PlainObject;
    return chosen(id) ? matrix(changed) : matrix(kept);
  } else {
    no_mutant(id);
    return kept;
  }
}

#define REWOUND_SIGN(name, sign, other)                                                       \
  REWOUND_BETWEEN(name, sign)                                                                 \
  template <class L, class R>                                                                 \
  constexpr auto operator sign(left_of_##name<L> by, const R& right) {                        \
    constexpr auto mutant = [] {                                                              \
      if constexpr (on_a_scale<L> || on_a_scale<R>) return kind::none;                        \
      else if constexpr (requires(const L& a, const R& b) { a other b; })                     \
        return kind_of<decltype(by.left sign right), decltype(by.left other right)>();        \
      else return kind::none;                                                                 \
    }();                                                                                      \
    if constexpr (mutant == kind::same) {                                                     \
      return chosen(by.id) ? by.left other right : by.left sign right;                        \
    } else if constexpr (mutant == kind::one_matrix) {                                        \
      using matrix = typename std::remove_cvref_t<decltype(by.left sign right)>::PlainObject; \
      return chosen(by.id) ? matrix(by.left other right) : matrix(by.left sign right);        \
    } else {                                                                                  \
      no_mutant(by.id);                                                                       \
      return by.left sign right;                                                              \
    }                                                                                         \
  }
REWOUND_SIGN(plus, +, -)
REWOUND_SIGN(minus, -, +)
#undef REWOUND_SIGN
#undef REWOUND_BETWEEN

/// What is added or taken away, as `sum += added(7) += value`; with its other sign in the mutant.
struct added {
  constexpr explicit added(int number) : id(number) {}
  int id;
  template <class R>
  friend constexpr auto operator+=(added mutant, const R& value) {
    if constexpr (std::integral<R>) {
      return chosen(mutant.id) ? static_cast<R>(-value) : value;
    } else if constexpr (requires { -value; }) {
      return with_sign(mutant.id, value, -value);
    } else {
      no_mutant(mutant.id);
      return value;
    }
  }
};

/// A sign in front, as `negative(7) - value`.
struct negative {
  constexpr explicit negative(int number) : id(number) {}
  int id;
  template <class R>
  friend constexpr auto operator-(negative mutant, const R& value) {
    return with_sign(mutant.id, -value, value);
  }
};

}  // namespace rewound_mutant
