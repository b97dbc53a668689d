// SPDX-License-Identifier: Apache-2.0
// Just enough SVG for figures: shapes with a class from the page's style sheet, and a
// pair of axes to put them on.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace brinegate::page {

// For the text of XML and HTML, and for attributes in double quotes.
std::string escaped(std::string_view text);

struct Point {
  double x = 0.0;
  double y = 0.0;
};
constexpr Point operator+(Point a, Point b) {
  return {a.x + b.x, a.y + b.y};
}

enum class Anchor { Start, Middle, End };

// Coordinates in CSS pixels, y downward; the page scales the whole. `style` is a class.
class Svg {
 public:
  // `title` is what a screen reader says.
  Svg(double width, double height, std::string_view title);

  void line(Point from, Point to, std::string_view style);
  // A point that is not finite interrupts the line.
  void path(const std::vector<Point>& points, std::string_view style);
  void area(const std::vector<Point>& outline, std::string_view style);
  void rectangle(Point corner, Point opposite, std::string_view style);
  void circle(Point centre, double radius, std::string_view style);
  void text(Point at, std::string_view text, std::string_view style, Anchor anchor);
  // Until unclip() only what lies in this rectangle shows.
  void clip(Point corner, Point opposite);
  void unclip();

  // Balanced by then (asserted): a clip has its unclip.
  [[nodiscard]] std::string str() const;

 private:
  std::string text_;
  int clips_ = 0;
};

struct Axis {
  double low = 0.0;
  double high = 1.0;  // above low; both above zero where logarithmic (asserted)
  bool logarithmic = false;
  std::string title;
  std::string (*label)(double value) = nullptr;  // of a tick; none: no labels
  std::vector<double> ticks;                     // none: chosen by round_ticks
};

// At most about `count` round values within [low, high].
std::vector<double> round_ticks(double low, double high, int count);
std::vector<double> logarithmic_ticks(double low, double high);

// Draws its frame, ticks and titles at once; what is drawn after lies above them.
class Plot {
 public:
  Plot(Svg& svg, Point top_left, Point bottom_right, Axis x, Axis y);

  [[nodiscard]] Point at(double x, double y) const;
  [[nodiscard]] double x_at(double x) const;
  [[nodiscard]] double y_at(double y) const;
  [[nodiscard]] const Axis& x() const { return x_; }
  [[nodiscard]] const Axis& y() const { return y_; }
  void clip() { svg_->clip(top_left_, bottom_right_); }

 private:
  void draw_axes();

  Svg* svg_;
  Point top_left_;
  Point bottom_right_;
  Axis x_;
  Axis y_;
};

}  // namespace brinegate::page
