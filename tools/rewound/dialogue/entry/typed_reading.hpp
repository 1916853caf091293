// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

// Numbers with their units as a person types them: `110 0.61`, `610mA`, `1.2k`, `high 110 .61 48W`.
namespace rewound::tool::dialogue {

/// What a number's unit says it is; `plain` where no unit was typed.
enum class quantity {
  plain,
  voltage,
  current,
  power,
  rotation,
  resistance,
  time,
  temperature,
  length,
  frequency,
  percent
};

/// One typed number in the SI unit of its quantity (rpm and degC for rotation and temperature).
struct typed_number {
  double value = 0.0;
  quantity what = quantity::plain;
  double typed = 0.0;     ///< as the digits say it, before its unit
  double factor = 1.0;    ///< of the unit or the bare prefix
  bool prefixed = false;  ///< k, M, m ... was typed: the value is in the SI unit whatever the prompt's unit is

  /// The number in a prompt's own unit: as typed where nothing was written behind it.
  ///
  /// @param unit_in_si  size of the prompt's unit, 1e6 for megohms
  double in(double unit_in_si) const { return prefixed || what != quantity::plain ? value / unit_in_si : value; }
};

/// One typed line: perhaps a speed's name first, then numbers; `stalled` anywhere says that the rotor stood still.
struct typed_line {
  std::optional<std::string> speed;
  std::vector<typed_number> numbers;
  bool stalled = false;
};

/// Whether a word is taken for a number, with or without its unit: 2, .5, 5A.
bool is_typed_number(std::string_view word);

/// Takes a line apart.
///
/// @param speeds  names that a line may begin with; a colon behind one that is a number tells it from a reading: `2:
/// 110 .61`
/// @throws base::error (out_of_range) naming the word that is neither a number, a unit nor a speed, or the number that
/// a
///         speed is named by as well
typed_line parse_line(std::string_view text, const std::vector<std::string>& speeds);

/// A single number of a quantity, or of none stated.
///
/// @param unit_in_si  size of the prompt's unit
/// @throws base::error (out_of_range) for anything else
double parse_number(std::string_view text, quantity expected, double unit_in_si);

/// Two numbers, each of its quantity: placed by their units where these tell them apart, otherwise as they stand.
///
/// @param first_unit, second_unit  sizes of the prompt's units in SI
/// @throws base::error (out_of_range) for other than two, or units of another quantity
std::pair<double, double> parse_pair(std::string_view text, quantity first, double first_unit, quantity second,
                                     double second_unit);

/// Whether a number may be meant for a quantity: without unit or prefix, or with those that fit it.
bool fits(const typed_number& number, quantity what, double unit_in_si);

}  // namespace rewound::tool::dialogue
