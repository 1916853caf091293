// SPDX-License-Identifier: MIT
#include <rewound/report/json.hpp>

#include <cmath>

#include <nlohmann/json.hpp>

#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

#include "words/cause_words.hpp"

namespace rewound::report {

namespace {

using nlohmann::ordered_json;

constexpr std::string_view result_format = "rewound-result/1";

ordered_json number(const std::optional<double>& value) {
  if (!value || !std::isfinite(*value)) return nullptr;
  return *value;
}

ordered_json amperes_or_null(const std::optional<measurement::uncertain<units::current>>& value) {
  if (!value) return nullptr;
  return units::in_amperes(value->value);
}

/// Numbers that the sentence mentions besides the value, by name: such as the ohms at 25 degC, or what both standards
/// ask.
ordered_json numbers_json(const verdict::finding& f) {
  ordered_json out = ordered_json::object();
  for (const auto& mentioned : f.numbers) out[mentioned.key] = number(mentioned.value);
  return out;
}

ordered_json finding_json(const verdict::finding& f) {
  return {{"check", verdict::name(f.check)},
          {"subject", f.subject},
          {"outcome", verdict::name(f.outcome)},
          {"quantity", f.quantity},
          {"value", number(f.value)},
          {"unit", f.unit},
          {"low", number(f.low)},
          {"high", number(f.high)},
          {"limit_low", number(f.limit_low)},
          {"limit_high", number(f.limit_high)},
          {"source", f.source},
          {"message", sentence(f)},
          {"numbers", numbers_json(f)},
          {"bearing", f.bearing == verdict::bearing::decides   ? "decides"
                      : f.bearing == verdict::bearing::informs ? "informs"
                      : f.bearing == verdict::bearing::noted   ? "noted"
                                                               : "does_not_apply"}};
}

std::string expectation_name(verdict::expectation value) {
  switch (value) {
    case verdict::expectation::none: return "none";
    case verdict::expectation::nameplate: return "nameplate";
    case verdict::expectation::nameplate_ceiling: return "nameplate_ceiling";
    case verdict::expectation::earlier: return "earlier";
    case verdict::expectation::reference: return "reference";
  }
  return "";
}

ordered_json draw_json(const verdict::draw_row& row) {
  ordered_json out{{"speed", row.speed}, {"level_percent", nullptr}, {"level_low", nullptr}, {"level_high", nullptr}};
  if (row.level_percent) {
    const double half = measurement::coverage_95 * row.level_percent->standard_uncertainty;
    out["level_percent"] = row.level_percent->value;
    out["level_low"] = row.level_percent->value - half;
    out["level_high"] = row.level_percent->value + half;
  }
  out["exponent"] = row.exponent ? number(row.exponent->value) : ordered_json(nullptr);
  out["exponent_u"] = row.exponent ? number(row.exponent->standard_uncertainty) : ordered_json(nullptr);
  out["outcome"] = verdict::name(row.outcome);
  out["flag"] = row.flag == verdict::draw_flag::none   ? ordered_json(nullptr)
                : row.flag == verdict::draw_flag::high ? ordered_json("high")
                                                       : ordered_json("low");
  out["judged_by"] = expectation_name(row.judged_by);
  out["current_at_rated_A"] = amperes_or_null(row.at_rated);
  out["current_at_rated_u_A"] =
      row.at_rated ? number(units::in_amperes(row.at_rated->standard_uncertainty)) : ordered_json(nullptr);
  out["expected_at_rated_A"] =
      row.expected_at_rated ? number(units::in_amperes(*row.expected_at_rated)) : ordered_json(nullptr);
  out["current_at_supply_A"] = amperes_or_null(row.at_supply);
  out["extrapolated"] = row.extrapolated;
  return out;
}

ordered_json suspect_json(const verdict::rules::named_suspect& suspect) {
  return {{"speed", suspect.speed},
          {"index", suspect.reading.index},
          {"quantity", suspect.reading.voltage ? "voltage" : "current"},
          {"explanation", verdict::rules::name(suspect.reading.why)},
          {"read", suspect.reading.read},
          {"would_fit", number(suspect.reading.would_fit)},
          {"set_aside", suspect.reading.set_aside}};
}

ordered_json cause_json(const verdict::rules::ranked_cause& in) {
  ordered_json evidence = ordered_json::array();
  for (const auto& factor : in.factors)
    evidence.push_back({{"from", evidence_name(factor.from)}, {"log_factor", factor.log_factor}});
  return {{"cause", verdict::name(in.cause)}, {"probability", in.probability}, {"evidence", std::move(evidence)}};
}

ordered_json meaning_json(const verdict::meaning& in) {
  return {{"probability", in.probability},
          {"cause", verdict::name(in.likeliest)},
          {"cause_probability", in.cause_probability}};
}

ordered_json step_json(const verdict::next_step& in) {
  return {{"measurement", verdict::name(in.measurement)},
          {"minutes", verdict::minutes(in.measurement)},
          {"bits", in.bits},
          {"high", in.high ? meaning_json(*in.high) : ordered_json(nullptr)},
          {"as_expected", meaning_json(in.as_expected)},
          {"low", meaning_json(in.low)}};
}

ordered_json judgement_json(const job::result& result) {
  const view shown = view_of(result);
  ordered_json out{{"format", result_format},    {"machine", result.machine.id}, {"date", result.visit.day.iso()},
                   {"decision", shown.decision}, {"reasons", shown.reasons},     {"policy", result.policy_name}};
  out["own_limits"] = ordered_json::array();
  for (const auto& own : result.own_limits)
    out["own_limits"].push_back({{"limit", own.name}, {"value", own.value}, {"source", own.source}});
  out["findings"] = ordered_json::array();
  for (const auto& finding : result.findings) out["findings"].push_back(finding_json(finding));
  out["draw"] = ordered_json::array();
  for (const auto& row : result.draw) out["draw"].push_back(draw_json(row));
  out["steps"] = {{"outcome", verdict::name(result.steps.outcome)},
                  {"flag", result.steps.flag ? ordered_json(*result.steps.flag) : ordered_json(nullptr)},
                  {"best_order", result.steps.best_order},
                  {"voltage_V", number(result.steps.voltage_V)}};
  out["suspect_readings"] = ordered_json::array();
  for (const auto& suspect : result.suspects) out["suspect_readings"].push_back(suspect_json(suspect));
  out["causes"] = ordered_json::array();
  for (const auto& cause : result.causes) out["causes"].push_back(cause_json(cause));
  out["next"] = shown.next;
  out["next_measurements"] = ordered_json::array();
  for (const auto& step : result.next_steps.get()) out["next_measurements"].push_back(step_json(step));
  out["conditions"] = shown.conditions;
  out["brief"] = {{"reasons", shown.brief.reasons},
                  {"likely", shown.brief.likely},
                  {"next", shown.brief.next},
                  {"conditions", shown.brief.conditions},
                  {"cautions", shown.brief.cautions}};
  out["cautions"] = shown.cautions;
  out["abnormality"] = number(result.abnormality);
  return out;
}

/// @param indent  blanks a level; negative: all on one line
std::string dumped(const ordered_json& in, int indent) {
  return in.dump(indent, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace

std::string json_report(const job::result& result) { return dumped(judgement_json(result), 2); }

std::string json_line(std::string_view file, const job::result& result) {
  auto out = judgement_json(result);
  out["file"] = file;
  return dumped(out, -1);
}

std::string json_trouble_line(std::string_view machine, std::string_view file, std::string_view trouble) {
  return dumped(
      {{"format", result_format}, {"machine", machine}, {"decision", nullptr}, {"file", file}, {"error", trouble}}, -1);
}

}  // namespace rewound::report
