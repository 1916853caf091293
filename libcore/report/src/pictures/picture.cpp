// SPDX-License-Identifier: MIT
#include <rewound/base/error.hpp>
#include <rewound/report/picture.hpp>
#include <rewound/report/view.hpp>

#include "picture_css.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

void expect_something(bool there, const char* field, const char* allowed) {
  if (!there) throw base::error(base::error_code::empty_list, {"", 0, field}, "nothing to draw", allowed);
}

template <class Pictures, class Name>
std::size_t place_of(const Pictures& list, std::string_view subject, const char* field, const Name& name) {
  expect_something(!list.empty(), field, "a record with readings of this kind");
  if (subject.empty()) return 0;
  std::string known;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (name(list[i]) == subject) return i;
    known += (i == 0 ? "" : ", ") + name(list[i]);
  }
  throw base::error(base::error_code::not_a_choice, {"", 0, field}, "\"" + std::string(subject) + "\"",
                    "one of " + known);
}

std::string plotted_as(const job::result& result, const job::pictures& plotted, picture_kind kind,
                       std::string_view subject) {
  const auto& visit = result.visit;
  const auto frame_of = [&](const std::string& what) {
    return picture_frame{"picture", detail::picture_css, view_of(result).title,
                         (what.empty() ? "" : what + ", ") + visit.day.iso() + ", " + state_words(visit.state)};
  };
  switch (kind) {
    case picture_kind::draw: {
      const auto& each =
          plotted.draw[place_of(plotted.draw, subject, "run_up", [](const auto& one) { return one.speed; })];
      return draw_svg(result, each, frame_of("speed " + each.speed));
    }
    case picture_kind::steps:
      expect_something(has_steps(result), "run_up", "a record with two speeds or more that were run");
      return steps_svg(result, frame_of("all speeds"));
    case picture_kind::insulation: {
      const auto& each = plotted.insulation[place_of(plotted.insulation, subject, "insulation",
                                                     [](const auto& one) { return one.circuit; })];
      return insulation_svg(result, each, frame_of(each.circuit));
    }
    case picture_kind::heat_run:
      expect_something(plotted.heat_run.has_value(), "heat_run", "a record with a heat run");
      return heat_svg(*plotted.heat_run, result, frame_of("heat run"));
    case picture_kind::coast_down:
      expect_something(plotted.coast_down.has_value(), "coast_down", "a record with a coast-down");
      return coast_svg(*plotted.coast_down, frame_of("coast-down"));
  }
  return "";
}

}  // namespace

std::string picture_file(const job::result& result, const job::pictures& plotted, picture_kind kind,
                         std::string_view subject) {
  return plotted_as(result, plotted, kind, subject) + "\n";
}

}  // namespace rewound::report
