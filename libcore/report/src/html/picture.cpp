// SPDX-License-Identifier: MIT
#include <rewound/report/picture.hpp>

#include <rewound/base/error.hpp>

#include "picture_css.hpp"
#include "pictures.hpp"

namespace rewound::report {

namespace {

std::string drawn_as(const job::result& result, const job::pictures& drawn, picture_kind kind, std::size_t place, const picture_frame& frame) {
  switch (kind) {
    case picture_kind::draw: return draw_svg(result, drawn.draw[place], frame);
    case picture_kind::steps: return steps_svg(result, frame);
    case picture_kind::insulation: return insulation_svg(result, drawn.insulation[place], frame);
    case picture_kind::heat_run: return heat_svg(*drawn.heat_run, result, frame);
    case picture_kind::coast_down: return coast_svg(*drawn.coast_down, frame);
  }
  return "";
}

[[noreturn]] void nothing_to_draw(const char* field, const char* allowed) {
  throw base::error(base::error_code::empty_list, {"", 0, field}, "nothing to draw", allowed);
}

template <class Pictures, class Name>
std::size_t place_of(const Pictures& list, std::string_view subject, const char* field, const Name& name) {
  if (list.empty()) nothing_to_draw(field, "a record with readings of this kind");
  if (subject.empty()) return 0;
  std::string known;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (name(list[i]) == subject) return i;
    known += (i == 0 ? "" : ", ") + name(list[i]);
  }
  throw base::error(base::error_code::not_a_choice, {"", 0, field}, "\"" + std::string(subject) + "\"", "one of " + known);
}

}  // namespace

std::string picture_in_page(const job::result& result, const job::pictures& drawn, picture_kind kind, std::size_t place,
                            std::string_view id) {
  return drawn_as(result, drawn, kind, place, {id, ""});
}

std::string picture_file(const job::result& result, const job::pictures& drawn, picture_kind kind, std::string_view subject) {
  std::size_t place = 0;
  if (kind == picture_kind::draw) place = place_of(drawn.draw, subject, "run_up", [](const auto& each) { return each.speed; });
  if (kind == picture_kind::insulation) place = place_of(drawn.insulation, subject, "insulation", [](const auto& each) { return each.circuit; });
  if (kind == picture_kind::steps && !has_steps(result)) nothing_to_draw("run_up", "a record with two speeds or more that were run");
  if (kind == picture_kind::heat_run && !drawn.heat_run) nothing_to_draw("heat_run", "a record with a heat run");
  if (kind == picture_kind::coast_down && !drawn.coast_down) nothing_to_draw("coast_down", "a record with a coast-down");
  return drawn_as(result, drawn, kind, place, {"picture", detail::picture_css}) + "\n";
}

}  // namespace rewound::report
