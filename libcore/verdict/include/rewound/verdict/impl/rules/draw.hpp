// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/base/compiled.hpp>
#include <rewound/measurement/distribution.hpp>
#include <rewound/verdict/draw_row.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/draw.hpp>

namespace rewound::verdict::rules {

namespace detail {

/// Largest input allowed over the marked one: the shop's own percentage, or the standard's table.
inline limit nameplate_ceiling(std::string_view quantity, double marked, const policy& rules) {
  if (const auto& own = rules.replaced.nameplate_upper_percent)
    return {marked * (1.0 + own->value / 100.0), own->source};
  for (const auto& row : tables::nameplate_deviation)
    if (row.quantity == quantity && marked > row.above && marked <= row.up_to)
      return {std::max(marked * (1.0 + row.upper_percent / 100.0), marked + row.or_at_least), std::string(row.source)};
  base::expect(false, "marked", marked, "a value within reference/limits/nameplate_deviation.table");
  return {};
}

inline finding not_run(const std::string& speed) {
  return {.check = check::draw, .subject = speed, .says = statement::speed_not_run, .quantity = "current_at_rated"};
}

inline finding unusable(const draw_row& row) {
  return {.check = check::draw,
          .subject = row.speed,
          .outcome = outcome::undecided,
          .says = statement::speed_without_usable_reading,
          .quantity = "current_at_rated"};
}

/// @param again  how a reading near the rated voltage is to be taken again: a key of the words of "reread"
inline finding current_finding(const draw_row& row, statement says, const char* again = "again") {
  finding f{.check = check::draw, .subject = row.speed, .says = says, .quantity = "current_at_rated"};
  set_value(f, units::in_amperes(row.at_rated->value), units::in_amperes(row.at_rated->standard_uncertainty), "A");
  f.texts.emplace_back("extrapolated", row.extrapolated ? "yes" : "no");
  for (const auto* key : {"reread", "reread_short"}) f.texts.emplace_back(key, row.extrapolated ? "there" : again);
  return f;
}

/// Outcome of a current against a mark that holds so far both ways: sound machines lie anywhere within it, others
/// anywhere (JCGM 106:2012, clause 6: what is known beforehand and the measurement together).
inline outcome within_mark(const measurement::uncertain<double>& percent, double tolerance, const policy& rules) {
  const double share = rules.practice.healthy_share.value;
  const double spread = rules.practice.fault_spread_percent.value;
  const double kept =
      measurement::conformity_probability(percent.value, percent.standard_uncertainty, {-tolerance, tolerance});
  const double inside = share / (2.0 * tolerance) * kept;
  const double density =
      std::exp(-0.5 * std::pow(percent.value / spread, 2)) / (spread * std::sqrt(2.0 * std::numbers::pi));
  const double outside = (1.0 - share) * density * (1.0 - kept);
  return by_probability(inside / std::max(inside + outside, 1e-300), rules.practice.conforming_probability.value,
                        rules.practice.failing_probability.value);
}

/// The fastest speed against a mark whose tolerance the record states.
inline void hold_to_mark(finding& f, draw_row& row, double marked, double tolerance, const policy& rules) {
  f.limit_low = marked * (1.0 - tolerance / 100.0);
  f.limit_high = marked * (1.0 + tolerance / 100.0);
  f.source = "rated_tolerance_percent of the record";
  f.outcome = row.outcome = within_mark(*row.level_percent, tolerance, rules);
  const bool below = f.outcome != outcome::conforms && row.level_percent->value < 0.0;
  f.says = below ? statement::draw_far_below_nameplate : statement::draw_against_nameplate;
  if (f.outcome == outcome::fails) row.flag = row.level_percent->value > 0.0 ? draw_flag::high : draw_flag::low;
}

/// Which rows of the table hold for a machine's current; power has the same in both markets.
inline std::string_view current_rows_for(const record::machine_section& of, const policy& rules) {
  if (rules.market_of(of) == market::iec) return "current_A";
  return of.phases == 3 ? "nema_current_A" : "ul_current_A";
}

/// Fastest speed against the marked current; slower ones only against the same ceiling. There is no lower limit in
/// the standard; a draw far below the mark is nevertheless looked into before it is called right.
inline finding against_nameplate(draw_row& row, const record::machine_section& of, bool fastest, const policy& rules) {
  const double marked = *of.rated_current_A;
  const auto ceiling = nameplate_ceiling(current_rows_for(of, rules), marked, rules);
  const bool switched = of.running_circuit == record::running_circuit::start_winding_switched;
  finding f =
      current_finding(row, fastest ? statement::draw_against_nameplate : statement::draw_under_nameplate_ceiling,
                      switched ? "switched" : "again");
  row.judged_by = fastest ? expectation::nameplate : expectation::nameplate_ceiling;
  f.limit_high = ceiling.value;
  f.source = ceiling.source;
  f.numbers.push_back({"marked", marked, 0.005});
  const double u = units::in_amperes(row.at_rated->standard_uncertainty);
  f.outcome = rules.judge(*f.value, u, {{}, ceiling.value});
  if (f.outcome == outcome::fails) row.flag = draw_flag::high;
  if (fastest) {
    row.expected_at_rated = units::amperes(marked);
    row.level_percent = {100.0 * (*f.value / marked - 1.0), 100.0 * u / marked};
    const auto low = rules.practice.nameplate_low_percent;
    if (rules.judge(*f.value, u, {marked * (1.0 - low.value / 100.0), {}}) == outcome::fails) {
      f.says = statement::draw_far_below_nameplate;
      f.limit_low = marked * (1.0 - low.value / 100.0);
      f.source = low.source;
      f.outcome = outcome::undecided;
      row.flag = draw_flag::low;
    }
  }
  row.outcome = f.outcome;
  return f;
}

/// A slower speed under the ceiling may still draw next to nothing: an open tap passes every upper limit.
inline void look_into_small(finding& f, draw_row& row, const draw_row& faster, const policy& rules) {
  const auto least = rules.practice.slower_low_percent;
  const double reach = least.value / 100.0 * units::in_amperes(faster.at_rated->value);
  const double u = units::in_amperes(row.at_rated->standard_uncertainty);
  if (rules.judge(*f.value, u, {reach, {}}) == outcome::conforms) return;
  f.says = statement::draw_far_below_faster;
  f.limit_low = reach;
  f.source = least.source;
  f.numbers.push_back(
      {"faster", units::in_amperes(faster.at_rated->value), units::in_amperes(faster.at_rated->standard_uncertainty)});
  if (f.outcome == outcome::conforms) f.outcome = outcome::undecided;
  row.outcome = f.outcome;
  row.flag = draw_flag::low;
}

/// Of an undecided level: what would decide it. The probability asked for needs a standard uncertainty of so much;
/// which part stands in the way, and can more readings, a better meter or more good machines get it there?
inline void tell_what_settles(finding& f, const draw_row& row, const measurement::tolerance& limits,
                              const policy& rules) {
  if (f.outcome != outcome::undecided || !row.uncertainty) {
    f.texts.emplace_back("settled_by", "again");
    return;
  }
  const auto& parts = *row.uncertainty;
  const double away =
      std::min(std::abs(row.level_percent->value - *limits.low), std::abs(row.level_percent->value - *limits.high));
  const double enough = away / measurement::normal_quantile(rules.practice.conforming_probability.value);
  const auto rest = [enough](double a, double b) { return std::sqrt(std::max(0.0, enough * enough - a * a - b * b)); };
  constexpr double most_readings = 30.0;  // beyond that nobody reads on
  const double needed = rest(parts.gain, parts.expectation) > 0.0
                            ? row.readings * std::pow(parts.readings / rest(parts.gain, parts.expectation), 2)
                            : most_readings + 1.0;
  std::string how = "nothing";
  if (needed <= most_readings) {
    how = "readings";
    f.numbers.push_back({"more", std::max(1.0, std::ceil(needed - row.readings)), 1.0});
  } else if (parts.gain > parts.expectation && rest(parts.readings, parts.expectation) > 0.0) {
    how = "meter";
    const double gain = rest(parts.readings, parts.expectation) * std::sqrt(3.0);  // limit of a rectangular error
    f.numbers.push_back({"accuracy", gain, 0.05 * gain});
  } else if (rest(parts.readings, parts.gain) > 0.0) {
    how = row.judged_by == expectation::reference ? "machines" : "earlier";
  }
  f.texts.emplace_back("settled_by", how);
}

/// Outcome of a deviation beside good machines, with what is known beforehand: most machines that come to the bench are
/// healthy and lie within the spread of good ones, the others anywhere (JCGM 106:2012, clause 6: prior and measurement
/// together). With one good machine the mean is known to its spread only, and the readings alone would tell next to
/// nothing.
///
/// @param percent          the deviation, with the uncertainty of readings and mean
/// @param healthy_spread   standard deviation between good machines, percent
inline outcome beside_good(const measurement::uncertain<double>& percent, double healthy_spread,
                           const measurement::tolerance& limits, const policy& rules) {
  const double u = percent.standard_uncertainty;
  const double share = rules.practice.healthy_share.value;
  double within = 0.0;
  double all = 0.0;
  for (const auto& [spread, weight] :
       {std::pair{healthy_spread, share}, std::pair{rules.practice.fault_spread_percent.value, 1.0 - share}}) {
    const double total = spread * spread + u * u;
    const double density = weight * std::exp(-0.5 * percent.value * percent.value / total) / std::sqrt(total);
    const double kept = spread * spread / total;
    all += density;
    within += density * measurement::conformity_probability(kept * percent.value, std::sqrt(kept) * u, limits);
  }
  return by_probability(within / all, rules.practice.conforming_probability.value,
                        rules.practice.failing_probability.value);
}

/// Standard deviation between good machines, percent: that of a good machine's level less what readings and mean add.
inline double between_good_machines(const draw_row& row) {
  const double all = *row.expected_spread_percent, known = row.level_percent->standard_uncertainty;
  return std::sqrt(std::max(0.0, all * all - known * known));
}

/// How far a level may lie off. Where good machines of the model themselves spread more than the limit of practice has
/// room for, what they keep within of the known mean but for the false alarms that are accepted: no good machine is
/// held for being as unlike those known as good ones are. A few machines say little of a spread, unless the shop knows
/// its own from others; and no spread lets everything pass.
inline limit allowed_level(const draw_row& row, bool spread_known, const policy& rules) {
  const auto& practice = rules.practice;
  limit out{practice.level_percent.value, std::string(practice.level_percent.source)};
  if (row.judged_by != expectation::reference || !row.expected_spread_percent || !spread_known) return out;
  const double of_mean = row.uncertainty ? row.uncertainty->expectation : 0.0;
  const double kept = std::min(practice.level_widened_percent.value,
                               measurement::normal_quantile(1.0 - practice.false_alarm_percent.value / 200.0) *
                                   std::hypot(between_good_machines(row), of_mean));
  if (kept <= out.value) return out;
  return {kept, "what good machines of the model keep within but for the accepted share of false alarms (" +
                    std::string(practice.false_alarm_percent.source) + ")"};
}

inline finding against_curve(draw_row& row, bool spread_known, const policy& rules) {
  const auto allowed = allowed_level(row, spread_known, rules);
  const auto says =
      row.judged_by == expectation::reference ? statement::draw_against_reference : statement::draw_against_earlier;
  finding f{.check = check::draw, .subject = row.speed, .says = says, .quantity = "level", .source = allowed.source};
  const auto& level = *row.level_percent;
  set_value(f, level.value, level.standard_uncertainty, "%");
  f.limit_low = -allowed.value;
  f.limit_high = allowed.value;
  const measurement::tolerance limits{-allowed.value, allowed.value};
  f.outcome = row.judged_by == expectation::reference && row.expected_spread_percent
                  ? beside_good(level, between_good_machines(row), limits, rules)
                  : rules.judge(level.value, level.standard_uncertainty, limits);
  const double now = units::in_amperes(row.at_rated->value);
  const double u = units::in_amperes(row.at_rated->standard_uncertainty);
  f.numbers = {{"now", now, u}, {"expected", units::in_amperes(*row.expected_at_rated), u}};
  f.texts.emplace_back("extrapolated", row.extrapolated ? "yes" : "no");
  row.outcome = f.outcome;
  tell_what_settles(f, row, {-allowed.value, allowed.value}, rules);
  if (f.outcome == outcome::fails) row.flag = level.value > 0.0 ? draw_flag::high : draw_flag::low;
  return f;
}

/// All speeds together: how rarely a healthy machine is as far off, beside how rarely it may be.
inline finding all_speeds(double p_value, const limit& least, statement says, bool reading_in_doubt,
                          const policy& rules) {
  finding f{.check = check::draw,
            .subject = "all speeds",
            .says = says,
            .quantity = "joint_p_value",
            .unit = "1",
            .source = least.source};
  f.value = p_value;
  f.limit_low = least.value;
  f.outcome = p_value >= least.value ? outcome::conforms : outcome::fails;
  // Who misread one reading may have misread another by less: a doubtful run-up condemns by more evidence only.
  const double more_evidence = rules.practice.doubtful_evidence_factor.value;
  if (f.outcome == outcome::fails && reading_in_doubt && p_value >= least.value / more_evidence)
    f.outcome = outcome::undecided;
  return f;
}

/// The joint test has a stated false-alarm rate; when it fails, the speed farthest off carries the flag.
inline finding joint(compared_draw& compared, const policy& rules) {
  const auto alarm = rules.practice.false_alarm_percent;
  finding f = all_speeds(*compared.joint_p_value, {alarm.value / 100.0, std::string(alarm.source)},
                         compared.good_machines > 0 ? statement::draw_joint_reference : statement::draw_joint_test,
                         compared.reading_in_doubt, rules);
  if (compared.good_machines > 0) f.numbers.push_back({"machines", static_cast<double>(compared.good_machines), 1.0});
  if (f.outcome != outcome::fails) return f;
  draw_row* worst = nullptr;
  double worst_ratio = 0.0;
  for (auto& row : compared.rows) {
    if (!row.level_percent) continue;
    const double ratio = std::abs(row.level_percent->value) / row.level_percent->standard_uncertainty;
    if (ratio < worst_ratio) continue;
    worst_ratio = ratio;
    worst = &row;
  }
  if (worst != nullptr && worst->flag == draw_flag::none)
    worst->flag = worst->level_percent->value > 0.0 ? draw_flag::high : draw_flag::low;
  return f;
}

/// The plate says less of a machine than good ones of its model do, and its design may be one that nobody drew: it
/// condemns by more evidence only, where circuit and control are stated and the fastest speed does not cast doubt on
/// the plate itself. Silent otherwise.
inline std::optional<finding> joint_by_nameplate(const compared_draw& compared, const record::machine_section& of,
                                                 const policy& rules) {
  const bool stated = of.running_circuit != record::running_circuit::unknown &&
                      (of.speeds.size() < 2 || of.speed_control != record::speed_control::unknown);
  const bool plate_in_doubt = compared.rows.front().flag == draw_flag::low;
  if (!compared.nameplate_p_value || !stated || plate_in_doubt) return std::nullopt;
  const auto more_evidence = rules.practice.doubtful_evidence_factor;
  const limit least{rules.practice.false_alarm_percent.value / 100.0 / more_evidence.value,
                    std::string(more_evidence.source)};
  finding f =
      all_speeds(*compared.nameplate_p_value, least, statement::draw_joint_nameplate, compared.reading_in_doubt, rules);
  if (f.outcome == outcome::conforms) return std::nullopt;
  return f;
}

/// By the ohms of its winding alone: too wide to let a machine pass, wide enough to be believed when it lies outside.
inline finding by_winding(draw_row& row, const measurement::uncertain<double>& log_current) {
  finding f = current_finding(row, statement::draw_by_winding);
  const double factor = std::exp(measurement::coverage_95 * log_current.standard_uncertainty);
  f.numbers.push_back({"expected", std::exp(log_current.value), std::exp(log_current.value) * 0.05});
  f.limit_low = std::exp(log_current.value) / factor;
  f.limit_high = std::exp(log_current.value) * factor;
  f.source = "machine model over reference/machines/fan_designs.table (common practice, no source)";
  f.outcome = row.outcome = outcome::undecided;
  if (*f.value > *f.limit_high) row.flag = draw_flag::high;
  if (*f.value < *f.limit_low) row.flag = draw_flag::low;
  row.expected_at_rated = units::amperes(std::exp(log_current.value));
  row.expected_spread_percent = 100.0 * log_current.standard_uncertainty;
  f.texts.emplace_back("against_winding", row.flag == draw_flag::none ? "within" : "outside");
  return f;
}

/// The watts of a speed under the marked ones; far below them it is looked into, as amperes are.
inline finding against_marked_watts(draw_row& row, const measurement::uncertain<double>& watts, double marked_W,
                                    const policy& rules) {
  finding f = rules::power(row.speed, marked_W, watts, rules);
  row.judged_by = expectation::nameplate;
  const auto low = rules.practice.nameplate_low_percent;
  const double least = marked_W * (1.0 - low.value / 100.0);
  if (rules.judge(watts.value, watts.standard_uncertainty, {least, {}}) == outcome::fails) {
    f.limit_low = least;
    f.source = low.source;
    f.outcome = outcome::undecided;
    row.flag = draw_flag::low;
  }
  if (f.outcome == outcome::fails) row.flag = draw_flag::high;
  row.outcome = f.outcome;
  return f;
}

/// What a slower speed of such machines draws, told beside the ceiling: by the fastest speed of the same machine, its
/// control and rpm and the designs of its kind, or by the usual step and its spread where no design is like it.
inline void tell_usual(finding& f, const compared_draw& compared, std::size_t place, const policy& rules) {
  const auto& fastest = compared.rows.front().at_rated;
  const bool by_designs = place < compared.log_slower_by_fastest.size() && compared.log_slower_by_fastest[place];
  f.texts.emplace_back("usually", place > 0 && fastest ? "told" : "not");
  if (place == 0 || !fastest) return;
  const double n = static_cast<double>(place);
  const measurement::uncertain<double> by_step{
      std::log(units::in_amperes(fastest->value)) - n * rules.practice.nameplate_step.value,
      std::sqrt(n) * rules.practice.nameplate_step_spread.value};
  const auto& log_usual = by_designs ? *compared.log_slower_by_fastest[place] : by_step;
  const double wide = measurement::normal_quantile(0.5 + rules.practice.slower_spread_likely.value / 200.0) *
                      log_usual.standard_uncertainty;
  const auto tell = [&](const char* key, double log_amperes) {
    const double amperes = std::exp(log_amperes);
    f.numbers.push_back({key, amperes, 0.02 * amperes});
  };
  tell("usual", log_usual.value);
  tell("usual_low", log_usual.value - wide);
  tell("usual_high", log_usual.value + wide);
}

/// A plate that is marked in watts alone: the fastest speed by its watts, a slower one by its own or by drawing less
/// than the fastest, which shows as little as a ceiling does.
inline finding by_watts(draw_row& row, std::size_t place, const compared_draw& compared, double marked_W,
                        const policy& rules) {
  const auto& watts = compared.watts.at(place);
  if (watts && place == 0) return against_marked_watts(row, *watts, marked_W, rules);
  if (watts) {
    finding f = rules::power(row.speed, marked_W, *watts, rules);
    row.judged_by = expectation::nameplate_ceiling;
    row.outcome = f.outcome;
    if (f.outcome == outcome::fails) row.flag = draw_flag::high;
    return f;
  }
  const auto& fastest = compared.rows.front();
  if (place == 0 || !compared.watts.front() || !fastest.at_rated) {
    finding f = current_finding(row, statement::draw_watts_not_read);
    f.numbers.push_back({"marked", marked_W, 0.5});
    f.outcome = row.outcome = outcome::undecided;
    return f;
  }
  finding f = current_finding(row, statement::draw_below_fastest);
  const double most = units::in_amperes(fastest.at_rated->value);
  const double u = std::hypot(units::in_amperes(row.at_rated->standard_uncertainty),
                              units::in_amperes(fastest.at_rated->standard_uncertainty));
  f.limit_high = most;
  tell_usual(f, compared, place, rules);
  f.source = "common practice, no source (a slower speed draws no more than the fastest)";
  f.outcome = row.outcome = rules.judge(*f.value, u, {{}, most});
  return f;
}

/// Neither amperes nor watts are marked: what they are limited for is heat, and that can be measured.
inline finding by_heat(draw_row& row, bool settles, const std::optional<measurement::uncertain<double>>& by_winding) {
  finding f = current_finding(row, settles ? statement::draw_by_heat : statement::draw_needs_heat);
  f.source = "common practice, no source (a marked current limits heat)";
  f.outcome = settles ? outcome::conforms : outcome::undecided;
  f.texts.emplace_back("by_winding", by_winding ? "told" : "not");
  if (!by_winding) return f;
  // Told with its width: what designs of the kind with such a winding take.
  const double wide = measurement::coverage_95 * by_winding->standard_uncertainty;
  const auto told = [&](const char* key, double amperes) { f.numbers.push_back({key, amperes, 0.05 * amperes}); };
  told("winding_low", std::exp(by_winding->value - wide));
  told("winding_high", std::exp(by_winding->value + wide));
  return f;
}

inline finding one_speed(const record::machine_section& of, std::size_t place, compared_draw& compared, bool earlier,
                         const policy& rules) {
  auto& row = compared.rows[place];
  const bool fastest = place == 0;
  if (!row.at_rated) return unusable(row);
  if (row.judged_by == expectation::earlier || row.judged_by == expectation::reference)
    return against_curve(row,
                         compared.own_spread ||
                             static_cast<double>(compared.good_machines) >= rules.practice.level_widened_machines.value,
                         rules);
  if (earlier) {
    finding f = current_finding(row, statement::earlier_speed_missing);
    f.outcome = row.outcome = outcome::undecided;
    return f;
  }
  if (of.rated_current_A) {
    finding f = against_nameplate(row, of, fastest, rules);
    if (fastest && of.rated_tolerance_percent)
      hold_to_mark(f, row, *of.rated_current_A, *of.rated_tolerance_percent, rules);
    tell_usual(f, compared, place, rules);
    return f;
  }
  if (of.rated_power_W) return by_watts(row, place, compared, *of.rated_power_W, rules);
  if (fastest && compared.log_current_by_winding) {
    finding f = by_winding(row, *compared.log_current_by_winding);
    if (row.flag != draw_flag::none && !compared.heat_settles) return f;
  }
  finding f = by_heat(row, compared.heat_settles, fastest ? compared.log_current_by_winding : std::nullopt);
  tell_usual(f, compared, place, rules);
  row.outcome = f.outcome;
  return f;
}

}  // namespace detail

REWOUND_INLINE draw_judgement draw(const record::visit_record& in, compared_draw compared, const policy& rules) {
  std::vector<finding> out;
  const bool earlier = std::any_of(compared.rows.begin(), compared.rows.end(), [](const auto& row) {
    return row.judged_by == expectation::earlier || row.judged_by == expectation::reference;
  });
  for (std::size_t i = 0; i < compared.rows.size(); ++i) {
    auto& row = compared.rows[i];
    const bool run = std::any_of(in.run_up.begin(), in.run_up.end(),
                                 [&](const auto& section) { return section.speed == row.speed; });
    out.push_back(run ? detail::one_speed(in.machine, i, compared, earlier, rules) : detail::not_run(row.speed));
    const auto says = out.back().says;
    const bool weakly = says == statement::draw_under_nameplate_ceiling || says == statement::draw_below_fastest ||
                        (says == statement::draw_by_heat && i > 0);
    if (weakly && compared.rows.at(i - 1).at_rated)
      detail::look_into_small(out.back(), row, compared.rows[i - 1], rules);
    if (out.back().outcome == outcome::undecided && row.outcome == outcome::not_tested)
      row.outcome = outcome::undecided;
  }
  if (compared.joint_p_value) out.push_back(detail::joint(compared, rules));
  if (const auto joint = detail::joint_by_nameplate(compared, in.machine, rules)) out.push_back(*joint);
  // An earlier visit shows change, not rightness: the marked current stands beside it.
  if (earlier && in.machine.rated_current_A && compared.rows.front().at_rated) {
    draw_row fastest = compared.rows.front();
    out.push_back(detail::against_nameplate(fastest, in.machine, true, rules));
    if (compared.rows.front().flag == draw_flag::none) compared.rows.front().flag = fastest.flag;
  }
  // Nor was the earlier visit itself ever judged where nothing is marked.
  if (!in.machine.rated_current_A && !in.machine.rated_power_W &&
      compared.rows.front().judged_by == expectation::earlier)
    out.push_back({.check = check::draw,
                   .bearing = bearing::informs,
                   .says = statement::earlier_never_judged,
                   .quantity = "level"});
  if (compared.earlier_without_common_speed)
    out.push_back({.check = check::draw,
                   .bearing = bearing::informs,
                   .says = statement::earlier_without_common_speed,
                   .quantity = "level"});
  for (const auto& row : compared.rows)
    if (row.at_rated && row.far_from_rated)
      out.push_back({.check = check::draw,
                     .subject = row.speed,
                     .bearing = bearing::informs,
                     .says = statement::not_run_at_rated,
                     .quantity = "current_at_rated"});
  if (compared.visit_in_reference)
    out.push_back({.check = check::draw,
                   .bearing = bearing::informs,
                   .says = statement::visit_in_reference,
                   .quantity = "level"});
  if (compared.earlier_same_day)
    out.push_back(
        {.check = check::draw, .bearing = bearing::informs, .says = statement::earlier_same_day, .quantity = "level"});
  if (compared.earlier_shaft_differs)
    out.push_back({.check = check::draw,
                   .bearing = bearing::informs,
                   .says = statement::earlier_shaft_differs,
                   .quantity = "level"});
  if (compared.reference_shaft_differs)
    out.push_back({.check = check::draw,
                   .bearing = bearing::informs,
                   .says = statement::reference_shaft_differs,
                   .quantity = "level"});
  return {std::move(out), std::move(compared.rows)};
}

REWOUND_INLINE finding draw_on_mains(const record::visit_record& in, const draw_row& row, double highest_read_V,
                                     const std::optional<checks::rise_result>& rise, bool heat_settles,
                                     const policy& rules) {
  const double mains_V = *in.visit.supply_voltage_V;
  const auto rarely = rules.practice.mains_rise_percent;
  finding f{.check = check::draw,
            .subject = row.speed,
            .bearing = bearing::informs,
            .says = statement::draw_on_mains,
            .quantity = "exponent_to_mains",
            .source = std::string(rarely.source)};
  if (rise) {
    set_value(f, rise->exponent.value, rise->exponent.standard_uncertainty, "1");
    f.limit_high = rise->most;
  }
  const double now = units::in_amperes(row.at_supply->value);
  const double ratio = now / units::in_amperes(row.at_rated->value);
  f.numbers = {
      {"now", now, units::in_amperes(row.at_supply->standard_uncertainty)},
      {"at_rated", units::in_amperes(row.at_rated->value), units::in_amperes(row.at_rated->standard_uncertainty)},
      {"mains", mains_V},
      {"rise", 100.0 * (ratio - 1.0), 1.0},
      {"flux", 100.0 * (mains_V / in.machine.rated_voltage_V - 1.0), 1.0},
      {"copper", 100.0 * (ratio * ratio - 1.0), 3.0},
      {"read", highest_read_V, 0.5}};
  f.outcome = outcome::conforms;
  const bool outruns = rise && rise->probability < rarely.value / 100.0;
  const auto unread = rules.practice.mains_unread_percent;
  if (outruns) {
    f.says = statement::draw_outruns_on_mains;
  } else if (highest_read_V < (1.0 - unread.value / 100.0) * mains_V) {
    f.says = statement::draw_unread_on_mains;
    f.source = unread.source;
    f.outcome = outcome::not_tested;
    // Slower speeds are less saturated: where the fastest was read there, they need not be.
    if (rise || row.speed != in.machine.speeds.front()) return f;
  } else {
    return f;
  }
  if (heat_settles) return f;
  f.bearing = bearing::decides;
  f.outcome = outcome::undecided;
  return f;
}

REWOUND_INLINE finding step_size(const step_ratio& step, const policy& rules) {
  const auto allowed = rules.practice.step_ratio_percent;
  finding f{.check = check::steps,
            .subject = step.faster + " to " + step.slower,
            .says = statement::step_against_expected,
            .quantity = "step_ratio",
            .source = std::string(allowed.source)};
  set_value(f, step.percent.value, step.percent.standard_uncertainty, "%");
  f.limit_low = -allowed.value;
  f.limit_high = allowed.value;
  const measurement::tolerance limits{-allowed.value, allowed.value};
  f.outcome = step.healthy_spread_percent
                  ? detail::beside_good(step.percent, *step.healthy_spread_percent, limits, rules)
                  : rules.judge(step.percent.value, step.percent.standard_uncertainty, limits);
  return f;
}

REWOUND_INLINE finding power(const std::string& speed, double marked_W,
                             const measurement::uncertain<double>& measured_W, const policy& rules) {
  const auto ceiling = detail::nameplate_ceiling("power_W", marked_W, rules);
  finding f{.check = check::draw,
            .subject = speed,
            .says = statement::power_against_nameplate,
            .quantity = "power_at_rated",
            .source = ceiling.source};
  set_value(f, measured_W.value, measured_W.standard_uncertainty, "W");
  f.limit_high = ceiling.value;
  f.numbers.push_back({"marked", marked_W, 0.5});
  f.outcome = rules.judge(measured_W.value, measured_W.standard_uncertainty, {{}, ceiling.value});
  return f;
}

}  // namespace rewound::verdict::rules
