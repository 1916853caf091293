// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <fstream>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include <rewound/job/judge.hpp>
#include <rewound/job/policy_file.hpp>

// Records altered as text and judged, the way a user's file is.
namespace rewound::testing {

/// A record's text. Every alteration throws when what it should replace is not there exactly once, so that a test
/// cannot judge an unaltered record by mistake.
class record_text {
 public:
  explicit record_text(std::string text) : text_(std::move(text)) {}

  /// reference/records/good/gh07_after_repair.toml: released as it stands.
  static record_text good() {
    std::ifstream in(std::string(REWOUND_REFERENCE_DIR) + "/records/good/gh07_after_repair.toml");
    std::ostringstream all;
    all << in.rdbuf();
    if (!in || all.str().empty()) throw std::runtime_error("cannot read the good record");
    return record_text(all.str());
  }

  record_text replaced(std::string_view from, std::string_view to) const {
    const auto place = text_.find(from);
    if (place == std::string::npos) throw std::runtime_error("not in the record: " + std::string(from));
    if (text_.find(from, place + 1) != std::string::npos)
      throw std::runtime_error("more than once in the record: " + std::string(from));
    std::string out = text_;
    out.replace(place, from.size(), to);
    return record_text(out);
  }

  record_text without(std::string_view part) const { return replaced(part, ""); }
  record_text with(std::string_view part) const { return record_text(text_ + "\n" + std::string(part)); }

  record::visit_record record() const { return record::record_from(record::read_toml_text(text_, "record.toml")); }

  job::result judged(const std::optional<record::visit_record>& earlier = {},
                     const verdict::policy& policy = job::default_policy()) const {
    return job::judge(record(), {earlier, {}}, policy);
  }

 private:
  std::string text_;
};

inline const record_text good = record_text::good();

inline verdict::policy policy_of(const std::string& lines) {
  return job::policy_from(record::read_toml_text("format = \"rewound-policy/1\"\n" + lines, "policy.toml"));
}

/// The findings of one check, in order.
inline std::vector<verdict::finding> findings_of(const job::result& result, verdict::check check) {
  std::vector<verdict::finding> out;
  for (const auto& f : result.findings)
    if (f.check == check) out.push_back(f);
  return out;
}

/// The first finding that says this; throws when there is none.
inline verdict::finding finding_saying(const job::result& result, verdict::statement says) {
  for (const auto& f : result.findings)
    if (f.says == says) return f;
  throw std::runtime_error("no finding says " + std::to_string(static_cast<int>(says)));
}

inline bool says(const job::result& result, verdict::statement what) {
  return std::any_of(result.findings.begin(), result.findings.end(), [&](const auto& f) { return f.says == what; });
}

/// Checks that stand in the way of a release: open findings and needed checks that left none.
inline bool stands_in_the_way(const job::result& result, verdict::check check) {
  const auto& decision = result.decision;
  return std::any_of(decision.open.begin(), decision.open.end(),
                     [&](std::size_t place) { return result.findings[place].check == check; }) ||
         std::find(decision.absent.begin(), decision.absent.end(), check) != decision.absent.end();
}

}  // namespace rewound::testing
