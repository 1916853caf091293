// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "axis.hpp"

namespace rewound::report {

/// How a point is plotted; each shape keeps its meaning over all pictures.
enum class mark_shape {
  disc,      ///< a reading
  diamond,   ///< a reading that looks misread
  triangle,  ///< a reading with the rotor at rest
  ring,      ///< a predicted value
  square     ///< an earlier visit's reading
};

/// Where a picture goes: its id there, and, where it stands alone, the style that it carries and what stands above it.
struct picture_frame {
  std::string id;
  std::string_view css;
  std::string heading;
  std::string subheading;
};

/// A picture with two axes, plotted as SVG. Sizes are in units of the picture, about a pixel on a phone.
class chart {
 public:
  chart(axis across, axis up);

  void band(const std::vector<double>& x, const std::vector<double>& low, const std::vector<double>& high,
            std::string_view css_class);
  void line(const std::vector<double>& x, const std::vector<double>& y, std::string_view css_class);
  /// A horizontal interval, capped at both ends.
  void span(double y, double low, double high, std::string_view css_class);
  /// A vertical line over the whole height; its label stands above the plot: in row 0 about the line, in row 1 on its
  /// left, so that a line further right with its label in row 0 does not run through it.
  void upright(double x, std::string_view css_class, std::string_view label, int row);
  /// A horizontal line over the whole width; its label stands at its right end, or its left, above or below it.
  void level(double y, std::string_view css_class, std::string_view label, bool label_left = false);
  /// A short horizontal stroke about one place, labelled on its left, or below it where it stands at the right edge.
  void stroke(double x, double y, std::string_view css_class, std::string_view label);
  /// A vertical stroke from low to high, capped at both ends: an interval, which is no band.
  void whisker(double x, double low, double high, std::string_view css_class);
  /// A point; beyond the axes it is plotted at their edge. `reading` goes into data-reading, `note` is told on
  /// pointing, `label` stands beside it.
  void mark(double x, double y, mark_shape shape, std::string_view css_class, std::string_view reading,
            std::string_view note, std::string_view label = "");
  /// An entry of the key below the picture: a sample of a line, a band or a mark, and what it is.
  void key_of_line(std::string_view css_class, std::string_view text);
  void key_of_band(std::string_view css_class, std::string_view text);
  void key_of_interval(std::string_view css_class, std::string_view text);
  void key_of_mark(mark_shape shape, std::string_view css_class, std::string_view text);

  /// The picture as an svg element.
  ///
  /// The id of the frame begins the ids of its title and description, unique on a page.
  std::string svg(const picture_frame& frame, std::string_view title, std::string_view description) const;

 private:
  double across(double x) const;
  double up(double y) const;
  double kept_across(double x) const;
  double kept_up(double y) const;
  std::string frame() const;
  void key_entry(const std::string& sample, std::string_view text);

  axis x_;
  axis y_;
  double left_;        ///< of the plot, beyond the widest tick of the upright axis
  std::string back_;   ///< bands
  std::string front_;  ///< lines, marks and labels
  std::string key_;
  double key_right_ = 0.0;
  int key_rows_ = 0;
};

inline constexpr double picture_width = 360.0;
inline constexpr double plot_right = 346.0;

/// Number in a picture, to a tenth.
std::string coordinate(double value);

/// Width that a text takes in a picture, estimated.
double text_width(std::string_view text);

/// An svg element around plotted content, with its title and description for those who do not see it.
std::string svg_element(double width, double height, const picture_frame& frame, std::string_view title,
                        std::string_view description, std::string_view content);

/// An interval: a stroke between two places of the picture on one level or one upright, capped at both ends.
std::string capped(double x1, double y1, double x2, double y2, std::string_view css_class);

/// A straight line from one place of the picture to another.
std::string stroke_from(double x1, double y1, double x2, double y2, std::string_view css_class);

/// The axis at the foot of a plot, from `left` to plot_right: line, ticks, what it shows.
std::string axis_at_foot(const axis& across, double left, double foot);

/// A mark at a place of the picture.
std::string mark_at(double x, double y, mark_shape shape, std::string_view css_class);

/// Text at a place of the picture; anchor is start, middle or end.
std::string label_at(double x, double y, std::string_view anchor, std::string_view css_class, std::string_view text);

}  // namespace rewound::report
