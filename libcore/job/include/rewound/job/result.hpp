// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <rewound/record/record.hpp>
#include <rewound/verdict/decision.hpp>
#include <rewound/verdict/draw_row.hpp>
#include <rewound/verdict/finding.hpp>
#include <rewound/verdict/next_step.hpp>
#include <rewound/verdict/policy.hpp>
#include <rewound/verdict/rules/causes.hpp>
#include <rewound/verdict/rules/readings.hpp>

namespace rewound::job {

/// The order of the speeds as judged.
struct steps_summary {
  verdict::outcome outcome = verdict::outcome::not_tested;
  std::optional<std::string> flag;      ///< swapped, reversed, merged or unclear
  std::vector<std::string> best_order;  ///< speeds sorted by falling current
  std::optional<double> voltage_V;      ///< at which they were compared
};

/// Measurements that were not made, weighed by what they would tell when they are first asked for: many readers of a
/// judgement never do. Copies share them; they may be asked for by several threads.
class pending_steps {
 public:
  using list = std::vector<verdict::next_step>;

  pending_steps() = default;
  explicit pending_steps(std::function<list()> weigh) : held_(std::make_shared<held>(std::move(weigh))) {}

  const list& get() const {
    static const list none;
    if (!held_) return none;
    std::call_once(held_->once, [&] {
      held_->steps = held_->weigh();
      held_->weigh = nullptr;
    });
    return held_->steps;
  }

 private:
  struct held {
    explicit held(std::function<list()> how) : weigh(std::move(how)) {}
    std::once_flag once;
    std::function<list()> weigh;
    list steps;
  };
  std::shared_ptr<held> held_;
};

/// Everything that a judgement came to. Numbers only; words are made in the report.
struct result {
  record::machine_section machine;
  record::visit_section visit;
  std::map<std::string, record::instrument_section> instruments;
  std::optional<record::date> earlier_visit;
  std::size_t reference_machines = 0;  ///< good machines behind the reference; 0 without one
  std::string policy_name;
  std::string supply_source;              ///< of the window round the rating, by the market
  std::vector<verdict::check> not_asked;  ///< needed by the default policy, not by this one, and not shown to conform
  std::vector<verdict::own_number> own_limits;  ///< numbers of the shop's own that lie over ours
  verdict::decided decision;
  std::vector<verdict::finding> findings;
  std::vector<verdict::draw_row> draw;
  steps_summary steps;
  std::vector<verdict::rules::named_suspect> suspects;
  std::vector<verdict::rules::ranked_cause> causes;  ///< likeliest first
  pending_steps next_steps;                          ///< measurements not made, the most telling for its minutes first
  std::optional<double> abnormality;                 ///< -log10 p of the joint comparison with healthy draw
  double longest_direct_test_s = 0.0;                ///< longest withstand test by direct voltage
  double longest_insulation_s = 0.0;                 ///< longest time a winding was under test voltage
};

}  // namespace rewound::job
