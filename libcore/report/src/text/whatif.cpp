// SPDX-License-Identifier: MIT
#include <rewound/report/whatif.hpp>

#include <array>
#include <cmath>
#include <utility>

#include <nlohmann/json.hpp>

#include <rewound/report/layout.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::report {

namespace {

using nlohmann::ordered_json;

/// What a person is shown; the heat in the copper alone is for programs.
constexpr std::array shown_quantities{
    std::pair{job::whatif_quantity::current, "amps"}, std::pair{job::whatif_quantity::power, "watts"},
    std::pair{job::whatif_quantity::flux, "flux"}, std::pair{job::whatif_quantity::rise, "rise"}};
constexpr std::array<const char*, job::whatif_quantity_count> quantity_keys{"current", "power", "copper_heat", "flux",
                                                                            "rise"};

double percent_of(double ratio) { return 100.0 * (ratio - 1.0); }

/// "+2.0 (1.7..2.3)": a tenth of a percent where the interval is that narrow, else whole percents.
std::string change_cell(const job::whatif_value& value) {
  const double low = percent_of(value.range.low), high = percent_of(value.range.high),
               percent = percent_of(value.ratio);
  if (low == 0.0 && high == 0.0) return "0";
  const bool fine = high - low < 2.0 && std::abs(low) < 9.9 && std::abs(high) < 9.9;
  const double step = fine ? 0.5 : 5.0;  // half-widths that number_text() shows by tenths and by units
  const auto text = number_text(percent, step);
  return (percent > 0.0 && text != "0" ? "+" : "") + text + " (" + number_text(low, step) + ".." +
         number_text(high, step) + ")";
}

std::string volts_and_hertz(double volts, double hertz) {
  return number_text(volts) + " V, " + number_text(hertz) + " Hz";
}

std::string case_head(const job::whatif_result& in, job::whatif_case what) {
  const auto rated = volts_and_hertz(in.rated_voltage_V, in.rated_frequency_Hz);
  const auto mains = volts_and_hertz(in.mains_voltage_V, in.mains_frequency_Hz);
  switch (what) {
    case job::whatif_case::new_winding: return "New winding at " + rated + " as rated";
    case job::whatif_case::mains: return "Present winding on mains of " + mains;
    case job::whatif_case::new_winding_on_mains: break;
  }
  return "New winding on mains of " + mains;
}

const char* case_key(job::whatif_case what) {
  switch (what) {
    case job::whatif_case::new_winding: return "new_winding";
    case job::whatif_case::mains: return "mains";
    case job::whatif_case::new_winding_on_mains: break;
  }
  return "new_winding_on_mains";
}

std::string channel_words(const std::string& channel) {
  return channel == "current" ? "amps" : channel == "power" ? "watts" : "rpm";
}

/// Where the numbers come from.
std::string basis_sentence(const job::whatif_basis& in) {
  std::string from;
  for (const auto& channel : in.read) from += (from.empty() ? "the run-up's " : " and ") + channel_words(channel);
  const auto add = [&](bool there, const char* words) {
    if (there) from += (from.empty() ? "" : ", ") + std::string(words);
  };
  add(in.resistance, "the main winding's ohms");
  add(in.nameplate_current, "the marked current");
  add(in.nameplate_power, "the marked watts");
  return "rests on " + from + "; " + std::to_string(in.designs) +
         (in.designs == 1 ? " simulated design comes nearest to them" : " simulated designs come nearest to them");
}

/// Turns and wire for a wanted current.
std::string wanted_sentence(const job::whatif_result& in) {
  const auto& turns = in.wanted->turns;
  const double step = 0.005;
  return "for " + number_text(in.wanted->current_A) + " A on the fastest speed: turns times " +
         number_text(turns.ratio, step) + " (95 % interval " + number_text(turns.range.low, step) + " to " +
         number_text(turns.range.high, step) + "), wire of " + number_text(in.change.wire_area_factor, step) +
         " times the cross-section, " + number_text(std::sqrt(in.change.wire_area_factor), step) +
         " times the diameter, which fills the same room";
}

/// What the reader should know before relying on the numbers.
std::vector<std::string> remarks_of(const job::whatif_result& in) {
  std::vector<std::string> out;
  constexpr double poor = 2.0;  // times what the uncertainties explain
  if (in.basis.misfit > poor)
    out.push_back("no simulated design agrees well with what was read (squared misfit " + number_text(in.basis.misfit) +
                  " where 1 is usual): the machine may be faulty or misread; judge its record first");
  if (in.basis.nameplate_current)
    out.push_back(
        "the fastest speed was not read turning: with the nameplate alone the intervals are wide; a run-up with watts "
        "and rpm narrows them");
  else if (in.basis.read.size() < 3) out.push_back("watts and rpm in the run-up would narrow the intervals");
  for (const auto& row : in.rows) {
    if (!row.read && row.what == in.rows.front().what)
      out.push_back("speed " + row.speed + " was not read; its control is a guess");
    constexpr double sure = 0.95;
    if (row.running < sure)
      out.push_back("speed " + row.speed + ", " + case_head(in, row.what) +
                    ": it may not keep turning (probability that it does " + probability_text(row.running) +
                    "); the changes are those of a machine that turns");
  }
  return out;
}

std::vector<std::string> whatif_cautions() {
  return {
      "These are changes that a model of the machine expects, not readings: wind, then raise the voltage step by step "
      "behind "
      "a fuse and a residual-current device, and read.",
      "Whether a machine may be wound or run so is for local codes and a licensed person to decide."};
}

ordered_json row_json(const job::whatif_row& row) {
  ordered_json out{{"case", case_key(row.what)}, {"speed", row.speed}, {"read", row.read}, {"running", row.running}};
  for (std::size_t q = 0; q < row.values.size(); ++q) {
    if (row.running == 0.0) out[quantity_keys[q]] = nullptr;
    else
      out[quantity_keys[q]] = {{"percent", percent_of(row.values[q].ratio)},
                               {"low", percent_of(row.values[q].range.low)},
                               {"high", percent_of(row.values[q].range.high)}};
  }
  return out;
}

}  // namespace

whatif_view view_of(const job::whatif_result& in) {
  whatif_view out;
  out.title = in.machine + ", what would change against the present winding at " +
              volts_and_hertz(in.rated_voltage_V, in.rated_frequency_Hz);
  const auto factor = [&](double value) { return in.wanted ? number_text(value, 0.005) : number_text(value); };
  out.change = "turns times " + factor(in.change.turns_factor) + ", area of the wire times " +
               factor(in.change.wire_area_factor) + ", mains " +
               volts_and_hertz(in.mains_voltage_V, in.mains_frequency_Hz);
  if (in.wanted) out.wanted = wanted_sentence(in);
  out.basis = basis_sentence(in.basis);
  for (const auto& shown : shown_quantities) out.heads.emplace_back(shown.second);
  const job::whatif_row* last = nullptr;
  for (const auto& row : in.rows) {
    if (last == nullptr || last->what != row.what)
      out.parts.push_back({case_head(in, row.what) + ", change in % (95 % interval)", {}});
    last = &row;
    whatif_line line{row.speed, {}};
    if (row.running > 0.0)
      for (const auto& shown : shown_quantities)
        line.changes.push_back(change_cell(row.values[static_cast<std::size_t>(shown.first)]));
    out.parts.back().lines.push_back(std::move(line));
  }
  out.remarks = remarks_of(in);
  out.cautions = whatif_cautions();
  return out;
}

std::string whatif_text(const job::whatif_result& result) {
  const whatif_view in = view_of(result);
  std::string out = wrapped("", "  ", in.title) + wrapped("", "  ", in.change) +
                    (in.wanted.empty() ? "" : wrapped("", "  ", in.wanted)) + wrapped("", "  ", in.basis);
  const auto finished = [](std::string line) {
    line.erase(line.find_last_not_of(' ') + 1);
    return line + "\n";
  };
  for (const auto& part : in.parts) {
    out += "\n" + part.heading + "\n";
    std::string head = cell("speed", 8);
    for (const auto& each : in.heads) head += cell(each, 18);
    out += finished(head);
    for (const auto& line : part.lines) {
      std::string cells = cell(line.speed, 8);
      for (const auto& each : line.changes) cells += cell(each, 18);
      out += finished(line.changes.empty() ? cells + "stands still" : cells);
    }
  }
  out += "\n" + listed("Remarks", in.remarks);
  std::string cautions = listed("Cautions", in.cautions);
  cautions.pop_back();
  return out + cautions;
}

std::string whatif_json(const job::whatif_result& in) {
  const whatif_view shown = view_of(in);
  ordered_json out{{"format", "rewound-whatif/1"},           {"machine", in.machine},
                   {"turns_factor", in.change.turns_factor}, {"wire_area_factor", in.change.wire_area_factor},
                   {"rated_voltage_V", in.rated_voltage_V},  {"rated_frequency_Hz", in.rated_frequency_Hz},
                   {"mains_voltage_V", in.mains_voltage_V},  {"mains_frequency_Hz", in.mains_frequency_Hz}};
  if (in.wanted)
    out["for_current"] = {{"current_A", in.wanted->current_A},
                          {"turns_factor", in.wanted->turns.ratio},
                          {"low", in.wanted->turns.range.low},
                          {"high", in.wanted->turns.range.high}};
  out["basis"] = {{"read", in.basis.read},
                  {"nameplate_current", in.basis.nameplate_current},
                  {"nameplate_power", in.basis.nameplate_power},
                  {"resistance", in.basis.resistance},
                  {"designs", in.basis.designs},
                  {"misfit", in.basis.misfit}};
  out["changes"] = ordered_json::array();
  for (const auto& row : in.rows) out["changes"].push_back(row_json(row));
  out["remarks"] = shown.remarks;
  out["cautions"] = shown.cautions;
  return out.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace rewound::report
