// SPDX-License-Identifier: MIT
#include <nlohmann/json.hpp>

#include <rewound/report/index_page.hpp>

namespace rewound::report {

namespace {

std::optional<verdict::decision> decision_named(std::string_view text) {
  for (const auto each : {verdict::decision::release, verdict::decision::hold, verdict::decision::undecided})
    if (verdict::name(each) == text) return each;
  return std::nullopt;
}

}  // namespace

std::string index_line(const index_entry& entry) {
  const nlohmann::ordered_json line{{"file", entry.file},
                                    {"machine", entry.machine},
                                    {"subtitle", entry.subtitle},
                                    {"decision", entry.decision ? verdict::name(*entry.decision) : ""},
                                    {"reason", entry.reason},
                                    {"next", entry.next},
                                    {"danger", static_cast<int>(entry.worst)},
                                    {"picture", entry.picture}};
  return line.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

index_entry index_entry_from(std::string_view line) {
  const auto in = nlohmann::ordered_json::parse(line);
  return {in.at("file"),
          in.at("machine"),
          in.at("subtitle"),
          decision_named(in.at("decision").get<std::string>()),
          in.at("reason"),
          in.at("next"),
          static_cast<danger>(in.at("danger").get<int>()),
          in.at("picture")};
}

}  // namespace rewound::report
