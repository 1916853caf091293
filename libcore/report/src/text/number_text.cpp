// SPDX-License-Identifier: MIT
#include <rewound/report/number_text.hpp>

#include <algorithm>
#include <cmath>

#include <rewound/base/number_text.hpp>
#include <rewound/measurement/rounding.hpp>

namespace rewound::report {

namespace {

std::string fixed(double value, int decimals) {
  double shown = measurement::rounded(value, decimals);
  if (shown == 0.0) shown = 0.0;  // no "-0"
  return base::fixed_digits(shown, std::max(0, decimals));
}

}  // namespace

std::string number_text(double value, double half_width) {
  if (!std::isfinite(value)) return std::isnan(value) ? "not known" : (value > 0.0 ? "unlimited" : "-unlimited");
  // Within the range of everyday readings; beyond it decimals stop making sense.
  if (half_width > 0.0 && std::isfinite(half_width))
    return fixed(value, std::clamp(measurement::decimals_for(half_width), -6, 9));
  auto text = base::general_digits(value, 4);
  const bool exponent_form = text.find('e') != std::string::npos;
  if (exponent_form && std::abs(value) >= 1.0 && std::abs(value) < 1e9) return fixed(value, 0);
  return text;
}

std::string with_uncertainty(double value, double half_width) {
  return number_text(value, half_width) + " +- " + number_text(half_width, half_width);
}

std::string probability_text(double probability) {
  if (probability > 0.999) return "over 0.999";
  if (probability < 0.001) return "under 0.001";
  return fixed(probability, 3);
}

}  // namespace rewound::report
