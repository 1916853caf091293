// SPDX-License-Identifier: MIT
#include <rewound/report/parameters.hpp>

#include <vector>

#include <nlohmann/json.hpp>

#include <rewound/report/layout.hpp>
#include <rewound/report/number_text.hpp>

namespace rewound::report {

namespace {

using nlohmann::ordered_json;

std::string basis_text(const job::whatif_basis& in) {
  std::vector<std::string> parts;
  for (const auto& channel : in.read)
    parts.push_back(channel == "current" ? "amperes" : channel == "power" ? "watts" : "rpm");
  if (in.resistance) parts.emplace_back("ohms of the main winding");
  if (in.nameplate_current) parts.emplace_back("the marked current");
  if (in.nameplate_power) parts.emplace_back("the marked power");
  std::string out;
  for (const auto& part : parts) out += (out.empty() ? "" : ", ") + part;
  return out;
}

std::vector<std::string> remarks(const job::parameters_result& in) {
  std::vector<std::string> out;
  std::string open;
  for (const auto& each : in.parameters)
    if (!each.determined) open += (open.empty() ? "" : ", ") + std::string(each.name);
  if (!open.empty())
    out.push_back("the readings do not determine: " + open + "; their intervals are those of fan machines in general");
  constexpr double poor = 3.0;
  if (in.basis.misfit > poor)
    out.push_back("no simulated design agrees well with what was read (squared misfit " +
                  number_text(in.basis.misfit, 0.5) + " times what is allowed for); take the values as rough");
  out.emplace_back(
      "ohms are full values seen from the main winding, warm as it ran; from a model and a fit, not from tests on the "
      "parts");
  return out;
}

}  // namespace

parameters_view view_of(const job::parameters_result& in) {
  parameters_view out;
  out.title = in.machine + ": parameters of its equivalent circuit, from " + basis_text(in.basis);
  for (const auto& each : in.parameters) {
    const double half = 0.5 * (each.range.high - each.range.low);
    out.rows.push_back({std::string(each.name), each.determined ? number_text(each.value, half) : "-",
                        number_text(each.range.low, half) + " to " + number_text(each.range.high, half),
                        std::string(each.unit), each.determined});
  }
  out.remarks = remarks(in);
  return out;
}

std::string parameters_text(const job::parameters_result& result) {
  const parameters_view in = view_of(result);
  std::string out = wrapped("", "  ", in.title) + "\n";
  out += cell("parameter", 25) + cell("value", 9) + cell("95 % interval", 20) + "unit\n";
  for (const auto& row : in.rows)
    out += cell(row.name, 25) + cell(row.value, 9) + cell(row.interval, 20) + row.unit +
           (row.determined ? "" : " (not determined)") + "\n";
  std::string rest = "\n" + listed("Remarks", in.remarks);
  rest.pop_back();
  return out + rest;
}

std::string parameters_json(const job::parameters_result& in) {
  ordered_json out{{"format", "rewound-parameters/1"}, {"machine", in.machine}};
  out["parameters"] = ordered_json::array();
  for (const auto& each : in.parameters)
    out["parameters"].push_back({{"parameter", each.name},
                                 {"unit", each.unit},
                                 {"value", each.value},
                                 {"low", each.range.low},
                                 {"high", each.range.high},
                                 {"determined", each.determined}});
  out["basis"] = {{"read", in.basis.read}, {"resistance", in.basis.resistance}, {"misfit", in.basis.misfit}};
  out["remarks"] = view_of(in).remarks;
  return out.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace rewound::report
