// SPDX-License-Identifier: MIT
#include <rewound/report/trend.hpp>

#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include <rewound/report/layout.hpp>
#include <rewound/report/number_text.hpp>
#include <rewound/report/view.hpp>
#include <rewound/report/wording.hpp>

namespace rewound::report {

namespace {

using nlohmann::ordered_json;

trend_row row_of(const job::trend_visit& visit) {
  const double half = (visit.range_Mohm.high - visit.range_Mohm.low) / 2.0;
  return {visit.day.iso(),
          state_words(visit.state),
          number_text(visit.read_Mohm),
          number_text(visit.winding_C) + (visit.winding_from_air ? " (air)" : ""),
          number_text(visit.at_40_C_Mohm, half) + " (" + number_text(visit.range_Mohm.low, half) + " to " +
              number_text(visit.range_Mohm.high, half) + ")",
          !visit.read,
          visit.in_line};
}

trend_part part_of(const job::circuit_trend& circuit) {
  trend_part out{circuit.circuit, circuit.system, circuit.system_stated, {}, {}, {}};
  for (const auto& visit : circuit.visits) out.rows.push_back(row_of(visit));
  for (const auto& finding : circuit.findings) {
    out.sentences.push_back(sentence(finding));
    out.sources.push_back(finding.limit_low ? finding.source : "");
  }
  return out;
}

std::string visits_table(const trend_part& in) {
  std::string out = "  " + cell("visit", 12) + cell("state", 14) + cell("read, Mohm", 12) + cell("winding, degC", 15) +
                    "at 40 degC, Mohm (95 %)\n";
  for (const auto& row : in.rows)
    out += "  " + cell(row.day, 12) + cell(row.state, 14) + cell(row.read + (row.from_curve ? " *" : ""), 12) +
           cell(row.winding, 15) + row.at_40_C + (row.in_line ? "" : ", earlier winding") + "\n";
  if (std::any_of(in.rows.begin(), in.rows.end(), [](const auto& row) { return row.from_curve; }))
    out += "  * not read at 60 s: from the curve through the other readings\n";
  return out;
}

std::string part_text(const trend_part& in) {
  std::string out = wrapped("", "  ",
                            in.circuit + ": insulation resistance at one minute, corrected to 40 degC (" +
                                in.corrected_as + (in.system_stated ? ")" : ", system not stated)"));
  out += visits_table(in);
  for (std::size_t i = 0; i < in.sentences.size(); ++i)
    out += wrapped("  - ", "    ", in.sentences[i] + (in.sources[i].empty() ? "" : " [" + in.sources[i] + "]"));
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

ordered_json circuit_json(const job::circuit_trend& in, const trend_part& shown) {
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
  out["line"] = ordered_json::array();
  for (const auto& place : in.line.line)
    out["line"].push_back({{"years", place.years},
                           {"at_40_C_Mohm", number_or_null(place.value)},
                           {"low", number_or_null(place.range.low)},
                           {"high", number_or_null(place.range.high)}});
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
  out["messages"] = shown.sentences;
  return out;
}

}  // namespace

trend_view view_of(const job::trend_result& result) {
  trend_view out;
  const auto visits = result.visits.size();
  out.title = result.machine + ", insulation over " + std::to_string(visits) + (visits == 1 ? " visit" : " visits");
  out.first_day = result.visits.front().iso();
  out.last_day = result.visits.back().iso();
  for (const auto& circuit : result.circuits) {
    out.parts.push_back(part_of(circuit));
    for (const auto& finding : circuit.findings)
      if (finding.outcome == verdict::outcome::fails || finding.outcome == verdict::outcome::undecided)
        out.next.push_back(advice(finding));
  }
  out.cautions = {discharge_caution(0.0),
                  "A trend says what the readings did, not what the winding will do; it takes no test's place. Local "
                  "codes and a licensed person decide."};
  return out;
}

std::string trend_text(const job::trend_result& result) {
  const trend_view in = view_of(result);
  std::string out =
      wrapped("", "  ", in.title + ", " + in.first_day + (result.visits.size() == 1 ? "" : " to " + in.last_day));
  out += "\n";
  for (const auto& part : in.parts) out += part_text(part);
  out += listed("What to do next", in.next);
  std::string cautions = listed("Cautions", in.cautions);
  cautions.pop_back();
  return out + cautions;
}

std::string trend_json(const job::trend_result& result) {
  const trend_view shown = view_of(result);
  ordered_json out{{"format", "rewound-trend/1"}, {"machine", result.machine}, {"horizon_years", result.horizon_years}};
  out["circuits"] = ordered_json::array();
  for (std::size_t i = 0; i < result.circuits.size(); ++i)
    out["circuits"].push_back(circuit_json(result.circuits[i], shown.parts[i]));
  out["next"] = shown.next;
  out["cautions"] = shown.cautions;
  return out.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace rewound::report
