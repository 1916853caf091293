// SPDX-License-Identifier: MIT
#include "batch/run_batch.hpp"

#include <algorithm>
#include <numeric>
#include <optional>

#include <rewound/base/error.hpp>
#include <rewound/job/judge.hpp>

#include "batch/in_order.hpp"
#include "progress.hpp"

namespace rewound::tool {

namespace {

/// The reference of a record's model: the one that was learnt at its rating and with its shaft, or else the first.
std::optional<job::reference> reference_for(const record::visit_record& in,
                                            const std::vector<job::reference>& references) {
  const job::reference* best = nullptr;
  for (const auto& each : references) {
    if (in.machine.model != each.model) continue;
    const bool fits = each.rated_voltage_V == in.machine.rated_voltage_V &&
                      each.rated_frequency_Hz == in.machine.rated_frequency_Hz && each.shaft == in.visit.shaft;
    if (fits) return each;
    if (best == nullptr) best = &each;
  }
  return best == nullptr ? std::nullopt : std::optional(*best);
}

judged_machine judge_item(const record::batch_item& item, const batch_standards& standards) {
  judged_machine out{item.machine, item.file, {}, {}, {}, "", false};
  try {
    out.in = item.load();
    out.machine = out.in->machine.id;
    out.compare_with.good = reference_for(*out.in, standards.references);
    out.judgement = job::judge(*out.in, out.compare_with, standards.policy);
  } catch (const base::error& trouble) {
    out.trouble = trouble.what();
    out.internal_trouble = trouble.code() == base::error_code::precondition;
  } catch (const std::exception& trouble) {
    out.trouble = std::string("internal error: ") + trouble.what();
    out.internal_trouble = true;
  }
  return out;
}

batch_outcome outcome_of(const judged_machine& one) {
  if (one.internal_trouble) return batch_outcome::internal;
  if (!one.judgement) return batch_outcome::unreadable;
  switch (one.judgement->decision.decision) {
    case verdict::decision::release: return batch_outcome::release;
    case verdict::decision::hold: return batch_outcome::hold;
    case verdict::decision::undecided: return batch_outcome::not_decided;
  }
  return batch_outcome::internal;
}

struct work_piece {
  record::batch_item item;
  std::string piece;
  batch_outcome outcome = batch_outcome::internal;
};

}  // namespace

void run_batch(record::batch_source& source, const batch_standards& standards, const batch_sink& sink, unsigned threads,
               results_file& results) {
  for (std::size_t i = 0; i < results.taken_over(); ++i) source.next();
  terminal_progress progress("machines judged");
  in_order(
      threads,
      [&]() -> std::optional<work_piece> {
        auto item = source.next();
        if (!item) return std::nullopt;
        return work_piece{std::move(*item), "", {}};
      },
      [&](work_piece& one) {
        const auto judged = judge_item(one.item, standards);
        one.piece = sink.piece(judged);
        one.outcome = outcome_of(judged);
        one.item.load = nullptr;
      },
      [&](work_piece& one) {
        results.add(one.piece, one.outcome);
        progress.show(std::accumulate(results.outcomes().begin(), results.outcomes().end(), std::size_t{0}));
      });
  results.finish();
}

}  // namespace rewound::tool
