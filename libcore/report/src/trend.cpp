// SPDX-License-Identifier: MIT
#include <rewound/report/trend.hpp>

#include <cmath>

#include <nlohmann/json.hpp>

#include <rewound/report/layout.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

#include "trend_words.hpp"

namespace rewound::report {

std::vector<std::string> trend_advice(const job::trend_result& in) {
  std::vector<std::string> out;
  for (const auto& circuit : in.circuits)
    for (const auto& finding : circuit.findings)
      if (finding.outcome == verdict::outcome::fails || finding.outcome == verdict::outcome::undecided)
        out.push_back(advice(finding));
  return out;
}

std::vector<std::string> trend_cautions() {
  return {
      discharge_caution(0.0),
      "A trend says what the readings did, not what the winding will do; it takes no test's place. Local codes and a "
      "licensed person decide."};
}

namespace {

using nlohmann::ordered_json;

std::string visits_table(const job::circuit_trend& circuit) {
  std::string out = "  " + cell("visit", 12) + cell("state", 14) + cell("read, Mohm", 12) + cell("winding, degC", 15) +
                    "at 40 degC, Mohm (95 %)\n";
  for (const auto& visit : circuit.visits) {
    const double half = (visit.range_Mohm.high - visit.range_Mohm.low) / 2.0;
    out += "  " + cell(visit.day.iso(), 12) + cell(state_words(visit.state), 14) +
           cell(number_text(visit.read_Mohm) + (visit.read ? "" : " *"), 12) +
           cell(number_text(visit.winding_C) + (visit.winding_from_air ? " (air)" : ""), 15) +
           number_text(visit.at_40_C_Mohm, half) + " (" + number_text(visit.range_Mohm.low, half) + " to " +
           number_text(visit.range_Mohm.high, half) + ")" + (visit.in_line ? "" : ", earlier winding") + "\n";
  }
  for (const auto& visit : circuit.visits)
    if (!visit.read) {
      out += "  * not read at 60 s: from the curve through the other readings\n";
      break;
    }
  return out;
}

std::string circuit_text(const job::circuit_trend& circuit) {
  std::string out = wrapped("", "  ",
                            circuit.circuit + ": insulation resistance at one minute, corrected to 40 degC (" +
                                circuit.system + (circuit.system_stated ? ")" : ", system not stated)"));
  out += visits_table(circuit);
  for (const auto& finding : circuit.findings) {
    std::string text = sentence(finding);
    if (finding.limit_low) text += " [" + finding.source + "]";
    out += wrapped("  - ", "    ", text);
  }
  return out + "\n";
}

ordered_json number_or_null(const std::optional<double>& value) {
  if (!value || !std::isfinite(*value)) return nullptr;
  return *value;
}

std::string forecast_name(checks::trend_forecast value) {
  switch (value) {
    case checks::trend_forecast::one_point: return "one_visit";
    case checks::trend_forecast::below_now: return "below_now";
    case checks::trend_forecast::crosses: return "crosses";
    case checks::trend_forecast::not_within: return "not_within";
    case checks::trend_forecast::cannot_tell: return "cannot_tell";
  }
  return "";
}

ordered_json visit_json(const job::trend_visit& visit) {
  return {{"date", visit.day.iso()},
          {"state", state_words(visit.state)},
          {"read_Mohm", visit.read_Mohm},
          {"how", visit.read ? "read" : "fitted"},
          {"winding_C", visit.winding_C},
          {"winding_from_air", visit.winding_from_air},
          {"at_40_C_Mohm", visit.at_40_C_Mohm},
          {"low", visit.range_Mohm.low},
          {"high", visit.range_Mohm.high},
          {"in_line", visit.in_line}};
}

/// Visits of the present winding, which the line's steps count by.
std::vector<const job::trend_visit*> line_of(const job::circuit_trend& in) {
  std::vector<const job::trend_visit*> out;
  for (const auto& visit : in.visits)
    if (visit.in_line) out.push_back(&visit);
  return out;
}

ordered_json circuit_json(const job::circuit_trend& in) {
  ordered_json out{{"circuit", in.circuit},
                   {"system", in.system},
                   {"system_stated", in.system_stated},
                   {"minimum_Mohm", in.minimum.value},
                   {"minimum_source", in.minimum.source}};
  out["visits"] = ordered_json::array();
  for (const auto& visit : in.visits) out["visits"].push_back(visit_json(visit));
  out["log_slope_per_year"] = nullptr;
  out["log_slope_u"] = nullptr;
  if (in.line.slope_per_year) {
    out["log_slope_per_year"] = number_or_null(in.line.slope_per_year->value);
    out["log_slope_u"] = number_or_null(in.line.slope_per_year->standard_uncertainty);
  }
  out["steps"] = ordered_json::array();
  const auto line = line_of(in);
  for (const auto& step : in.line.steps)
    out["steps"].push_back({{"after", line[step.index]->day.iso()},
                            {"factor", step.factor},
                            {"low", number_or_null(step.range.low)},
                            {"high", number_or_null(step.range.high)}});
  out["forecast"] = {{"outcome", forecast_name(in.line.forecast)},
                     {"years", number_or_null(in.line.crosses_in_years)},
                     {"earliest_years", number_or_null(in.line.earliest_years)},
                     {"latest_years", number_or_null(in.line.latest_years)}};
  out["messages"] = ordered_json::array();
  for (const auto& finding : in.findings) out["messages"].push_back(sentence(finding));
  return out;
}

}  // namespace

std::string trend_text(const job::trend_result& result) {
  std::string out = wrapped("", "  ",
                            result.machine + ", insulation over " + std::to_string(result.visits.size()) +
                                (result.visits.size() == 1 ? " visit, " : " visits, ") + result.visits.front().iso() +
                                (result.visits.size() == 1 ? "" : " to " + result.visits.back().iso()));
  out += "\n";
  for (const auto& circuit : result.circuits) out += circuit_text(circuit);
  out += listed("What to do next", trend_advice(result));
  std::string cautions = listed("Cautions", trend_cautions());
  cautions.pop_back();
  return out + cautions;
}

std::string trend_json(const job::trend_result& result) {
  ordered_json out{{"format", "rewound-trend/1"}, {"machine", result.machine}, {"horizon_years", result.horizon_years}};
  out["circuits"] = ordered_json::array();
  for (const auto& circuit : result.circuits) out["circuits"].push_back(circuit_json(circuit));
  out["next"] = trend_advice(result);
  out["cautions"] = trend_cautions();
  return out.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace rewound::report
