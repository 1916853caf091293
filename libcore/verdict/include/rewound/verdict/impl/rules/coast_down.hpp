// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/checks/coast_down.hpp>
#include <rewound/checks/friction_level.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/coast_down.hpp>

namespace rewound::verdict::rules {

namespace detail {

inline constexpr std::array<std::string_view, 3> friction_names{"constant", "linear", "quadratic"};
inline constexpr double rpm_per_rad_s = 30.0 / std::numbers::pi;

inline finding coast_finding(statement says, bearing weight = bearing::informs) {
  return {.check = check::coast_down,
          .bearing = weight,
          .says = says,
          .quantity = "deceleration",
          .source = "dw/dt = -(c0 + c1 w + c2 w2), fitted"};
}

inline void tell_share(finding& f, const std::string& key, const measurement::uncertain<double>& part, double total) {
  // Whole percents at least: shares that are rounded coarsely would not add up.
  f.numbers.push_back({key, 100.0 * part.value / total, std::min(0.5, 100.0 * part.standard_uncertainty / total)});
}

inline finding terms_told(const checks::coast_down_result& now) {
  auto f = coast_finding(statement::coast_down_terms);
  set_value(f, now.deceleration.value * rpm_per_rad_s, now.deceleration.standard_uncertainty * rpm_per_rad_s, "rpm/s");
  f.numbers = {{"rpm", now.compare_at * rpm_per_rad_s, 0.5}, {"stop", now.stop_s, 0.05}};
  for (std::size_t k = 0; k < 3; ++k)
    tell_share(f, std::string(friction_names[k]), now.parts[k], now.deceleration.value);
  f.texts = {{"stops", std::isfinite(now.stop_s) ? "yes" : "no"}};
  return f;
}

inline finding torque_told(double inertia, const checks::coast_down_result& now) {
  auto f = coast_finding(statement::coast_down_torque);
  f.quantity = "friction_torque";
  set_value(f, inertia * now.deceleration.value, inertia * now.deceleration.standard_uncertainty, "N m");
  for (std::size_t k = 0; k < 3; ++k)
    f.numbers.push_back({std::string(friction_names[k]), inertia * now.parts[k].value,
                         0.1 * inertia * now.deceleration.standard_uncertainty});
  f.numbers.push_back({"watts", inertia * now.deceleration.value * now.compare_at,
                       inertia * now.deceleration.standard_uncertainty * now.compare_at});
  f.numbers.push_back({"rpm", now.compare_at * rpm_per_rad_s, 0.5});
  return f;
}

/// A term that these readings cannot tell apart from the others is told and not judged: the total judges.
inline bool untold(std::string_view term, double u_percent, double limit_percent) {
  return term != "total" && 2.0 * measurement::coverage_95 * u_percent > limit_percent;
}

/// What one term, or all together, grew by, in percent of the earlier total.
inline finding growth(const compared_coast_downs& compared, std::string_view term,
                      const measurement::uncertain<double>& now, const measurement::uncertain<double>& before,
                      const policy& rules) {
  const auto limit = rules.practice.coast_down_growth_percent;
  const double total = compared.earlier->deceleration.value;
  const double percent = 100.0 * (now.value - before.value) / total;
  const double u = 100.0 * std::hypot(now.standard_uncertainty, before.standard_uncertainty) / total;
  auto f = coast_finding(statement::coast_down_growth);
  f.subject = std::string(term);
  f.quantity = "friction_growth";
  set_value(f, percent, u, "%");
  f.limit_high = limit.value;
  f.source = limit.source;
  f.texts = {{"friction_term", std::string(term)}};
  if (untold(term, u, limit.value)) return f;
  f.bearing = bearing::decides;
  f.outcome = rules.judge(percent, u, {{}, limit.value});
  return f;
}

inline void judge_growth(const compared_coast_downs& compared, const policy& rules, std::vector<finding>& out) {
  out.push_back(growth(compared, "total", compared.now.deceleration, compared.earlier->deceleration, rules));
  for (std::size_t k = 0; k < 3; ++k)
    if (compared.now.fitted.at(k) || compared.earlier->fitted.at(k))
      out.push_back(growth(compared, friction_names[k], compared.now.parts[k], compared.earlier->parts[k], rules));
}

/// One term, or all together, beside good machines, in percent of their mean of all friction. Less friction than theirs
/// is no fault. The machine's own earlier visit knows it better: beside one, more friction than good machines is told
/// as a condition of a release and does not hold.
inline finding beside_good(const compared_coast_downs& compared, std::string_view term,
                           const checks::friction_excess& excess, const policy& rules) {
  auto f = coast_finding(statement::coast_down_beside_good);
  const double u = 100.0 * excess.standard_uncertainty;
  f.subject = std::string(term);
  f.quantity = "friction_beside_good_machines";
  set_value(f, 100.0 * excess.value, u, "%");
  f.limit_high = 100.0 * excess.limit;
  const auto& spread =
      term == "total" ? rules.practice.friction_spread_percent : rules.practice.friction_term_spread_percent;
  f.source = "spread of the good machines; " + std::string(spread.source);
  f.numbers = {{"machines", static_cast<double>(compared.good_machines), 1.0}};
  f.texts = {{"friction_term", std::string(term)}};
  const auto judged = rules.judge(*f.value, u, {{}, f.limit_high});
  if (judged == outcome::undecided && untold(term, u, *f.limit_high)) return f;
  f.outcome = judged;
  if (!compared.earlier || compared.earlier->status != checks::coast_down_status::fitted) {
    f.bearing = bearing::decides;
  } else if (judged == outcome::fails) {
    f.outcome = outcome::undecided;
    f.says = statement::coast_down_as_before;
  }
  return f;
}

inline void judge_beside_good(const compared_coast_downs& compared, const policy& rules, std::vector<finding>& out) {
  out.push_back(beside_good(compared, "total", compared.good->excess[0], rules));
  for (std::size_t k = 0; k < 3; ++k)
    out.push_back(beside_good(compared, friction_names[k], compared.good->excess[k + 1], rules));
}

}  // namespace detail

REWOUND_INLINE std::vector<finding> coast_down(const record::coast_down_section& of,
                                               const compared_coast_downs& compared, const policy& rules) {
  using checks::coast_down_status;
  std::vector<finding> out;
  if (compared.now.status != coast_down_status::fitted) {
    const bool few = compared.now.status == coast_down_status::too_few_readings;
    out.push_back(detail::coast_finding(few ? statement::coast_down_too_few : statement::coast_down_not_slowing,
                                        bearing::decides));
    out.back().outcome = outcome::undecided;
    return out;
  }
  out.push_back(detail::terms_told(compared.now));
  if (of.inertia_kgm2) out.push_back(detail::torque_told(*of.inertia_kgm2, compared.now));
  if (compared.earlier_shaft_differs) out.push_back(detail::coast_finding(statement::coast_down_shaft_differs));
  else if (compared.earlier && compared.earlier->status == coast_down_status::fitted)
    detail::judge_growth(compared, rules, out);
  if (compared.good) detail::judge_beside_good(compared, rules, out);
  return out;
}

}  // namespace rewound::verdict::rules
