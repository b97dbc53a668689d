// SPDX-License-Identifier: Apache-2.0
#include "config/page/svg.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <utility>

#include <fmt/format.h>

namespace brinegate::page {
namespace {

constexpr double tick_length = 5.0;

std::string_view word(Anchor anchor) {
  constexpr std::array<std::string_view, 3> words{"start", "middle", "end"};
  return words.at(static_cast<std::size_t>(anchor));
}

bool is_finite(Point p) {
  return std::isfinite(p.x) && std::isfinite(p.y);
}

// Where on the axis, from 0 to 1.
double share(const Axis& axis, double value) {
  if (axis.logarithmic)
    return std::log(value / axis.low) / std::log(axis.high / axis.low);
  return (value - axis.low) / (axis.high - axis.low);
}

void choose_ticks(Axis& axis) {
  assert(axis.high > axis.low && (!axis.logarithmic || axis.low > 0.0));
  if (axis.ticks.empty())
    axis.ticks = axis.logarithmic ? logarithmic_ticks(axis.low, axis.high)
                                  : round_ticks(axis.low, axis.high, 6);
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string safe;
  for (const char letter : text) {
    switch (letter) {
      case '&':
        safe += "&amp;";
        break;
      case '<':
        safe += "&lt;";
        break;
      case '>':
        safe += "&gt;";
        break;
      case '"':
        safe += "&quot;";
        break;
      default:
        safe += letter;
    }
  }
  return safe;
}

Svg::Svg(double width, double height, std::string_view title)
    : text_(fmt::format("<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {:.0f} {:.0f}\" "
                        "role=\"img\">\n<title>{}</title>\n",
                        width, height, escaped(title))) {}

void Svg::line(Point from, Point to, std::string_view style) {
  text_ +=
      fmt::format("<line class=\"{}\" x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\"/>\n",
                  style, from.x, from.y, to.x, to.y);
}

void Svg::path(const std::vector<Point>& points, std::string_view style) {
  std::string course;
  bool drawing = false;
  for (const Point& p : points) {
    if (is_finite(p))
      course += fmt::format("{}{:.1f} {:.1f}", drawing ? "L" : "M", p.x, p.y);
    drawing = is_finite(p);
  }
  if (!course.empty())
    text_ += fmt::format("<path class=\"{}\" d=\"{}\"/>\n", style, course);
}

void Svg::area(const std::vector<Point>& outline, std::string_view style) {
  std::string points;
  for (const Point& p : outline)
    points += fmt::format("{:.1f},{:.1f} ", p.x, p.y);
  text_ += fmt::format("<polygon class=\"{}\" points=\"{}\"/>\n", style, points);
}

void Svg::rectangle(Point corner, Point opposite, std::string_view style) {
  text_ += fmt::format(
      "<rect class=\"{}\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\"/>\n", style,
      std::min(corner.x, opposite.x), std::min(corner.y, opposite.y),
      std::abs(opposite.x - corner.x), std::abs(opposite.y - corner.y));
}

void Svg::circle(Point centre, double radius, std::string_view style) {
  text_ += fmt::format("<circle class=\"{}\" cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"{:.1f}\"/>\n", style,
                       centre.x, centre.y, radius);
}

void Svg::text(Point at, std::string_view text, std::string_view style, Anchor anchor) {
  text_ +=
      fmt::format("<text class=\"{}\" x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\">{}</text>\n",
                  style, at.x, at.y, word(anchor), escaped(text));
}

void Svg::clip(Point corner, Point opposite) {
  // A nested svg clips by itself and needs no name; its coordinates stay ours.
  const double width = opposite.x - corner.x;
  const double height = opposite.y - corner.y;
  text_ += fmt::format(
      "<svg x=\"{0:.1f}\" y=\"{1:.1f}\" width=\"{2:.1f}\" height=\"{3:.1f}\" "
      "viewBox=\"{0:.1f} {1:.1f} {2:.1f} {3:.1f}\">\n",
      corner.x, corner.y, width, height);
  ++clips_;
}

void Svg::unclip() {
  text_ += "</svg>\n";
  --clips_;
}

std::string Svg::str() const {
  assert(clips_ == 0);
  return text_ + "</svg>\n";
}

std::vector<double> round_ticks(double low, double high, int count) {
  const double wanted = (high - low) / count;
  const double decade = std::pow(10.0, std::floor(std::log10(wanted)));
  double step = 10.0 * decade;
  for (const double factor : {5.0, 2.0, 1.0})
    if (factor * decade >= wanted)
      step = factor * decade;
  std::vector<double> ticks;
  const double slack = 1e-9 * step;
  for (double n = std::ceil((low - slack) / step); n * step <= high + slack; ++n)
    ticks.push_back(n * step + 0.0);  // no -0
  return ticks;
}

std::vector<double> logarithmic_ticks(double low, double high) {
  const bool decades_only = high / low > 200.0;
  std::vector<double> ticks;
  for (double exponent = std::floor(std::log10(low)); exponent <= std::log10(high); ++exponent)
    for (const double factor : {1.0, 2.0, 5.0}) {
      const double tick = factor * std::pow(10.0, exponent);
      if (tick >= low * (1.0 - 1e-9) && tick <= high * (1.0 + 1e-9) &&
          (factor == 1.0 || !decades_only))
        ticks.push_back(tick);
    }
  return ticks;
}

Plot::Plot(Svg& svg, Point top_left, Point bottom_right, Axis x, Axis y)
    : svg_(&svg),
      top_left_(top_left),
      bottom_right_(bottom_right),
      x_(std::move(x)),
      y_(std::move(y)) {
  choose_ticks(x_);
  choose_ticks(y_);
  draw_axes();
}

double Plot::x_at(double x) const {
  return top_left_.x + share(x_, x) * (bottom_right_.x - top_left_.x);
}

double Plot::y_at(double y) const {
  return bottom_right_.y - share(y_, y) * (bottom_right_.y - top_left_.y);
}

Point Plot::at(double x, double y) const {
  return {x_at(x), y_at(y)};
}

void Plot::draw_axes() {
  for (const double tick : x_.ticks) {
    const double x = x_at(tick);
    svg_->line({x, top_left_.y}, {x, bottom_right_.y}, "grid");
    if (x_.label != nullptr)
      svg_->text({x, bottom_right_.y + 3.0 * tick_length}, x_.label(tick), "tick", Anchor::Middle);
  }
  for (const double tick : y_.ticks) {
    const double y = y_at(tick);
    svg_->line({top_left_.x, y}, {bottom_right_.x, y}, "grid");
    if (y_.label != nullptr)
      svg_->text({top_left_.x - tick_length, y + 4.0}, y_.label(tick), "tick", Anchor::End);
  }
  svg_->line({top_left_.x, bottom_right_.y}, bottom_right_, "axis");
  svg_->text({bottom_right_.x, bottom_right_.y + 7.0 * tick_length}, x_.title, "title",
             Anchor::End);
  svg_->text({top_left_.x, top_left_.y - 2.0 * tick_length}, y_.title, "title", Anchor::Start);
}

}  // namespace brinegate::page
