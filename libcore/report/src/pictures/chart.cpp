// SPDX-License-Identifier: MIT
#include "chart.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <rewound/base/number_text.hpp>
#include <rewound/report/layout.hpp>

#include "pages/markup.hpp"

namespace rewound::report {

namespace {

// Sizes of a picture.
constexpr double least_left = 50.0;
constexpr double top = 50.0;
constexpr double bottom = 222.0;
constexpr double label_rows = 14.0;
constexpr double key_top = 270.0;
constexpr double key_row = 16.0;

std::string quoted(std::string_view name, std::string_view value) {
  return " " + std::string(name) + "=\"" + std::string(value) + "\"";
}

}  // namespace

std::string coordinate(double value) { return base::fixed_digits(value, 1); }

std::string stroke_from(double x1, double y1, double x2, double y2, std::string_view css_class) {
  return "<path" + quoted("class", css_class) + " d=\"M" + coordinate(x1) + " " + coordinate(y1) + "L" +
         coordinate(x2) + " " + coordinate(y2) + "\"/>";
}

double text_width(std::string_view text) {
  constexpr double a_character = 7.0;  // of 11 units high type, on the wide side
  return a_character * static_cast<double>(columns(text));
}

std::string label_at(double x, double y, std::string_view anchor, std::string_view css_class, std::string_view text) {
  return "<text x=\"" + coordinate(x) + "\" y=\"" + coordinate(y) + "\" text-anchor=\"" + std::string(anchor) + "\"" +
         quoted("class", css_class) + ">" + escaped(text) + "</text>";
}

std::string axis_at_foot(const axis& across, double left, double foot) {
  std::string out;
  double free_from = -1e9;
  for (const auto& each : across.ticks) {
    const double place = left + (plot_right - left) * across.place(each.value);
    out += stroke_from(place, foot, place, foot + 4.0, "axis");
    const double half = 0.5 * text_width(each.text);
    if (place - half < free_from || place + half > picture_width) continue;
    out += label_at(place, foot + 17.0, "middle", "small", each.text);
    free_from = place + half + 4.0;
  }
  return out + stroke_from(left, foot, plot_right, foot, "axis") +
         label_at(plot_right, foot + 33.0, "end", "small name", across.label);
}

std::string mark_at(double x, double y, mark_shape shape, std::string_view css_class) {
  const auto path = [&](std::string_view shape_class, std::initializer_list<std::array<double, 2>> corners) {
    std::string out = "<path" + quoted("class", std::string(shape_class) + " " + std::string(css_class)) + " d=\"";
    char command = 'M';
    for (const auto& [dx, dy] : corners) {
      out += command + coordinate(x + dx) + " " + coordinate(y + dy);
      command = 'L';
    }
    return out + "Z\"/>";
  };
  const auto circle = [&](std::string_view shape_class, const char* radius) {
    return "<circle" + quoted("class", std::string(shape_class) + " " + std::string(css_class)) + " cx=\"" +
           coordinate(x) + "\" cy=\"" + coordinate(y) + "\" r=\"" + radius + "\"/>";
  };
  switch (shape) {
    case mark_shape::disc: return circle("solid", "3.4");
    case mark_shape::ring: return circle("open", "4.2");
    case mark_shape::diamond: return path("open", {{0.0, -6.5}, {6.5, 0.0}, {0.0, 6.5}, {-6.5, 0.0}});
    case mark_shape::triangle: return path("open", {{0.0, -5.0}, {5.0, 4.0}, {-5.0, 4.0}});
    case mark_shape::square: return path("open", {{-3.2, -3.2}, {3.2, -3.2}, {3.2, 3.2}, {-3.2, 3.2}});
  }
  return "";
}

std::string svg_element(double wide, double high, const picture_frame& frame, std::string_view title,
                        std::string_view description, std::string_view content) {
  constexpr double heading_height = 40.0;
  const auto& name = frame.id;
  const bool headed = !frame.heading.empty();
  if (headed) high += heading_height;
  std::string out = "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"picture\" role=\"img\" viewBox=\"0 0 " +
                    coordinate(wide) + " " + coordinate(high) + "\"";
  if (!frame.css.empty()) out += " width=\"" + coordinate(2.0 * wide) + "\" height=\"" + coordinate(2.0 * high) + "\"";
  out += " aria-labelledby=\"" + name + "-title " + name + "-desc\">";
  out += "<title id=\"" + name + "-title\">" + escaped(title) + "</title><desc id=\"" + name + "-desc\">" +
         escaped(description) + "</desc>";
  if (!frame.css.empty())
    out += "<style>" + std::string(frame.css) + "</style><rect class=\"paper\" width=\"" + coordinate(wide) +
           "\" height=\"" + coordinate(high) + "\"/>";
  if (!headed) return out + std::string(content) + "</svg>";
  const auto fitting = [&](const std::string& text) {
    constexpr double a_character = 7.6;  // of the heading's type
    return shortened(text, static_cast<std::size_t>((wide - 6.0) / a_character));
  };
  out += label_at(3.0, 15.0, "start", "heading", fitting(frame.heading)) +
         label_at(3.0, 30.0, "start", "small", fitting(frame.subheading));
  out += "<g transform=\"translate(0 " + coordinate(heading_height) + ")\">";
  out += content;
  return out + "</g></svg>";
}

std::string capped(double x1, double y1, double x2, double y2, std::string_view css_class) {
  constexpr double half_cap = 3.5;
  const double across = x1 == x2 ? half_cap : 0.0, up = x1 == x2 ? 0.0 : half_cap;
  return stroke_from(x1, y1, x2, y2, css_class) + stroke_from(x1 - across, y1 - up, x1 + across, y1 + up, css_class) +
         stroke_from(x2 - across, y2 - up, x2 + across, y2 + up, css_class);
}

chart::chart(axis across, axis up) : x_(std::move(across)), y_(std::move(up)), left_(least_left) {
  constexpr double gap = 8.0;
  for (const auto& each : y_.ticks) left_ = std::max(left_, text_width(each.text) + gap);
}

double chart::across(double x) const { return left_ + (plot_right - left_) * x_.place(x); }
double chart::up(double y) const { return bottom - (bottom - top) * y_.place(y); }
double chart::kept_across(double x) const { return std::clamp(across(x), left_, plot_right); }
double chart::kept_up(double y) const { return std::clamp(up(y), top, bottom); }

void chart::band(const std::vector<double>& x, const std::vector<double>& low, const std::vector<double>& high,
                 std::string_view css_class) {
  if (x.empty() || low.size() != x.size()) return;
  std::string path;
  char command = 'M';
  for (std::size_t i = 0; i < x.size(); ++i) {
    path += command + coordinate(kept_across(x[i])) + " " + coordinate(kept_up(high[i]));
    command = 'L';
  }
  for (std::size_t i = x.size(); i-- > 0;)
    path += "L" + coordinate(kept_across(x[i])) + " " + coordinate(kept_up(low[i]));
  back_ += "<path" + quoted("class", css_class) + " d=\"" + path + "Z\"/>";
}

void chart::line(const std::vector<double>& x, const std::vector<double>& y, std::string_view css_class) {
  if (x.empty()) return;
  std::string path;
  char command = 'M';
  for (std::size_t i = 0; i < x.size(); ++i) {
    path += command + coordinate(kept_across(x[i])) + " " + coordinate(kept_up(y[i]));
    command = 'L';
  }
  front_ += "<path" + quoted("class", css_class) + " d=\"" + path + "\"/>";
}

void chart::upright(double x, std::string_view css_class, std::string_view label, int row) {
  if (x < x_.low || x > x_.high) return;
  const double place = across(x);
  const double baseline = top - 5.0 - (row == 0 ? label_rows : 0.0);
  front_ += stroke_from(place, row == 0 ? baseline + 2.0 : top - label_rows, place, bottom, css_class);
  const double wide = text_width(label);
  const double half = 0.5 * wide;
  if (row == 1 && place - wide - 6.0 > 0.0) front_ += label_at(place - 4.0, baseline - 1.0, "end", "small halo", label);
  else if (row == 1) front_ += label_at(place + 4.0, baseline - 1.0, "start", "small halo", label);
  else
    front_ += label_at(std::clamp(place, half + 2.0, picture_width - half - 2.0), baseline - 1.0, "middle",
                       "small halo", label);
}

void chart::level(double y, std::string_view css_class, std::string_view label, bool label_left) {
  if (y < y_.low || y > y_.high) return;
  const double place = up(y);
  front_ += stroke_from(left_, place, plot_right, place, css_class);
  const bool room_above = place - top > 16.0;
  const double baseline = room_above ? place - 4.0 : place + 12.0;
  front_ += label_left ? label_at(left_ + 3.0, baseline, "start", "small halo", label)
                       : label_at(plot_right - 3.0, baseline, "end", "small halo", label);
}

void chart::stroke(double x, double y, std::string_view css_class, std::string_view label) {
  if (y < y_.low || y > y_.high) return;
  constexpr double half = 9.0;
  const double place = kept_across(x);
  front_ += stroke_from(place - half, up(y), std::min(plot_right, place + half), up(y), css_class);
  const bool at_edge = plot_right - place < 2.0 * half;
  if (label.empty()) return;
  front_ +=
      label_at(at_edge ? plot_right : place - half - 3.0, up(y) + (at_edge ? 13.0 : 4.0), "end", "small halo", label);
}

void chart::whisker(double x, double low, double high, std::string_view css_class) {
  front_ += capped(kept_across(x), kept_up(low), kept_across(x), kept_up(high), css_class);
}

void chart::span(double y, double low, double high, std::string_view css_class) {
  front_ += capped(kept_across(low), kept_up(y), kept_across(high), kept_up(y), css_class);
}

void chart::mark(double x, double y, mark_shape shape, std::string_view css_class, std::string_view reading,
                 std::string_view note, std::string_view label) {
  front_ += "<g class=\"mark " + std::string(css_class) + "\"";
  if (!reading.empty()) front_ += quoted("data-reading", escaped(reading));
  front_ += ">";
  if (!note.empty()) front_ += text_element("title", "", note);
  front_ += mark_at(kept_across(x), kept_up(y), shape, css_class) + "</g>";
  if (label.empty()) return;
  const bool near_edge = kept_across(x) + 10.0 + text_width(label) > plot_right;
  front_ += label_at(kept_across(x) + (near_edge ? -10.0 : 10.0), kept_up(y) + (near_edge ? 16.0 : 4.0),
                     near_edge ? "end" : "start", "small halo", label);
}

void chart::key_entry(const std::string& sample, std::string_view text) {
  constexpr double sample_width = 26.0;
  constexpr double gap = 12.0;
  const double wide = sample_width + text_width(text);
  if (key_rows_ == 0 || key_right_ + wide > picture_width) {
    ++key_rows_;
    key_right_ = 2.0;
  }
  const double y = key_top + key_row * (key_rows_ - 1);
  key_ += "<g transform=\"translate(" + coordinate(key_right_) + " " + coordinate(y) + ")\">" + sample +
          label_at(sample_width - 4.0, 4.0, "start", "small", text) + "</g>";
  key_right_ += wide + gap;
}

void chart::key_of_line(std::string_view css_class, std::string_view text) {
  key_entry(stroke_from(0.0, 0.0, 18.0, 0.0, css_class), text);
}

void chart::key_of_band(std::string_view css_class, std::string_view text) {
  key_entry("<path" + quoted("class", css_class) + " d=\"M0.0 -5.0L18.0 -5.0L18.0 5.0L0.0 5.0Z\"/>", text);
}

void chart::key_of_interval(std::string_view css_class, std::string_view text) {
  key_entry(capped(9.0, -6.0, 9.0, 6.0, css_class), text);
}

void chart::key_of_mark(mark_shape shape, std::string_view css_class, std::string_view text) {
  key_entry(mark_at(9.0, 0.0, shape, css_class), text);
}

std::string chart::frame() const {
  std::string out = label_at(3.0, 12.0, "start", "small name", y_.label);
  for (const auto& each : y_.ticks) {
    const double place = up(each.value);
    out += stroke_from(left_, place, plot_right, place, "grid") +
           label_at(left_ - 6.0, place + 4.0, "end", "small", each.text);
  }
  return out + axis_at_foot(x_, left_, bottom);
}

std::string chart::svg(const picture_frame& frame_of, std::string_view title, std::string_view description) const {
  const double high = key_top + key_row * std::max(0, key_rows_ - 1) + 12.0;
  return svg_element(picture_width, high, frame_of, title, description, back_ + frame() + front_ + key_);
}

}  // namespace rewound::report
