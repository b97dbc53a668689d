// SPDX-License-Identifier: Apache-2.0
#include "sim/course_drawing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string_view>

#include <fmt/format.h>

#include "config/page/html_page.h"
#include "config/page/svg.h"
#include "rules/seawater.h"
#include "sim/campaign_options.h"

namespace brinegate::sim {
namespace {

using namespace page;

constexpr double sheet_width = 800.0;
constexpr double sheet_height = 740.0;
constexpr double left = 90.0;
constexpr double right = 760.0;
constexpr double marks_top = 60.0;
constexpr double whole_top = 110.0;
constexpr double near_top = 280.0;
constexpr double temperature_top = 530.0;
constexpr double temperature_bottom = 630.0;
constexpr double strips_top = 680.0;
constexpr double nowhere = std::numeric_limits<double>::quiet_NaN();

double ppt_of(PracticalSalinity salinity) {
  return reference_salinity(salinity).value();
}

double hours(Duration duration) {
  return seconds(duration) / 3600.0;
}

std::string hours_label(double value) {
  return clock_text(from_seconds(3600.0 * value));
}

std::string hundredths_label(double value) {
  return fmt::format("{:g}", std::round(100.0 * value) / 100.0);
}

Axis time_axis(const Course& course) {
  const double end = std::max(0.1, hours(course.finding.simulated));
  Axis axis{0.0, end, false, "", nullptr, {}};
  // Hours and quarters are round, tenths of an hour are not.
  const std::array steps{1.0 / 12, 0.25, 0.5, 1.0, 2.0, 4.0};
  const auto* const step = std::ranges::find_if(steps, [end](double s) { return end / s <= 10.0; });
  for (double t = 0.0; t <= end; t += step == steps.end() ? 24.0 : *step)
    axis.ticks.push_back(t);
  return axis;
}

// `value` gives what is drawn of a point; not finite where there is nothing.
template <class Value>
void draw_line(Svg& svg, const Plot& plot, const Course& course, std::string_view style,
               Value value) {
  std::vector<Point> line;
  for (const CoursePoint& point : course.points)
    line.push_back(plot.at(hours(point.at), value(point)));
  svg.path(line, style);
}

// The 95 % band of an estimate, for each stretch in which there was one.
void draw_band(Svg& svg, const Plot& plot, const Course& course, std::string_view style,
               std::optional<Uncertain<PracticalSalinity>> CoursePoint::*estimate) {
  std::vector<Point> upper;
  std::vector<Point> lower;
  const auto close = [&] {
    upper.insert(upper.end(), lower.rbegin(), lower.rend());
    if (!upper.empty())
      svg.area(upper, style);
    upper.clear();
    lower.clear();
  };
  for (const CoursePoint& point : course.points) {
    if (!(point.*estimate)) {
      close();
      continue;
    }
    const auto& [value, standard_uncertainty] = *(point.*estimate);
    const PracticalSalinity half = half_interval_95(*(point.*estimate));
    // A forecast that knows nothing yet fills the plot, not the page.
    const auto y = [&plot](PracticalSalinity s) {
      return std::clamp(ppt_of(s), plot.y().low - 1.0, plot.y().high + 1.0);
    };
    upper.push_back(plot.at(hours(point.at), y(value + half)));
    lower.push_back(plot.at(hours(point.at), y(value - half)));
  }
  close();
}

void draw_salinity(Svg& svg, Plot& plot, const Course& course) {
  const Profile& profile = course.plan.profile;
  plot.clip();
  svg.rectangle(plot.at(plot.x().low, ppt_of(profile.target - profile.tolerance)),
                plot.at(plot.x().high, ppt_of(profile.target + profile.tolerance)), "tolerance");
  draw_band(svg, plot, course, "band", &CoursePoint::final);
  draw_band(svg, plot, course, "inner", &CoursePoint::forecast);
  constexpr std::array<std::string_view, 2> cell_styles{"faint", "fainter"};
  for (std::size_t i = 0; i < course.plan.cells.size(); ++i)
    draw_line(svg, plot, course, cell_styles.at(i),
              [i](const CoursePoint& p) { return p.cells[i] ? ppt_of(*p.cells[i]) : nowhere; });
  draw_line(svg, plot, course, "first",
            [](const CoursePoint& p) { return p.forecast ? ppt_of(p.forecast->value) : nowhere; });
  draw_line(svg, plot, course, "future",
            [](const CoursePoint& p) { return ppt_of(p.final_truth); });
  draw_line(svg, plot, course, "truth", [](const CoursePoint& p) { return ppt_of(p.truth); });
  svg.unclip();
}

void draw_whole(Svg& svg, const Course& course) {
  double most = ppt_of(course.plan.profile.target + 2.0 * course.plan.profile.tolerance);
  for (const CoursePoint& point : course.points)
    most = std::max({most, ppt_of(point.truth), ppt_of(point.final_truth)});
  const Axis salinity{
      0.0, 1.05 * most, false, "salinity, ppt", hundredths_label, round_ticks(0.0, 1.05 * most, 4)};
  Plot plot(svg, {left, whole_top}, {right, near_top - 50.0}, time_axis(course), salinity);
  draw_salinity(svg, plot, course);
}

void draw_near(Svg& svg, const Course& course) {
  const Profile& profile = course.plan.profile;
  const double target = ppt_of(profile.target);
  const double tolerance = ppt_of(profile.tolerance);
  const double off = std::abs(ppt_of(course.finding.final_truth) - target);
  const double around = std::max(2.5 * tolerance, std::min(8.0 * tolerance, off + tolerance));
  const Axis salinity{
      target - around, target + around, false, "the same near the target", hundredths_label, {}};
  Plot plot(svg, {left, near_top}, {right, temperature_top - 50.0}, time_axis(course), salinity);
  draw_salinity(svg, plot, course);
}

void draw_temperature(Svg& svg, const Course& course) {
  const Profile& profile = course.plan.profile;
  double low = profile.temperature_low.value() - 1.0;
  double high = profile.temperature_high.value() + 1.0;
  for (const CoursePoint& point : course.points) {
    low = std::min(low, point.temperature.value());
    high = std::max(high, point.temperature.value());
  }
  Axis time = time_axis(course);
  time.label = hours_label;
  time.title = "hours and minutes since the begin";
  const Axis celsius{
      low, high, false, "temperature, °C", hundredths_label, round_ticks(low, high, 4)};
  Plot plot(svg, {left, temperature_top}, {right, temperature_bottom}, std::move(time), celsius);
  plot.clip();
  svg.rectangle(plot.at(plot.x().low, profile.temperature_low.value()),
                plot.at(plot.x().high, profile.temperature_high.value()), "tolerance");
  draw_line(svg, plot, course, "faint", [](const CoursePoint& p) {
    return p.shown_temperature ? p.shown_temperature->value() : nowhere;
  });
  draw_line(svg, plot, course, "truth", [](const CoursePoint& p) { return p.temperature.value(); });
  svg.unclip();
}

double x_of(Duration at, const Course& course) {
  const Axis time = time_axis(course);
  return left + (right - left) * std::min(1.0, hours(at) / time.high);
}

void draw_strip(Svg& svg, const Course& course, const std::vector<Pause>& stretches, double top,
                std::string_view name, std::string_view style) {
  svg.text({left - 8.0, top + 9.0}, name, "tick", Anchor::End);
  svg.line({left, top + 5.0}, {right, top + 5.0}, "grid");
  for (const Pause& stretch : stretches) {
    const double from = x_of(stretch.from, course);
    // A short one is to be seen too.
    const double until = std::max(x_of(stretch.until, course), from + 1.5);
    if (from < right)
      svg.rectangle({from, top}, {until, top + 10.0}, style);
  }
}

// Numbers above, those of close neighbours in rows of their own.
void draw_marks(Svg& svg, const Course& course) {
  std::array<double, 3> taken{0.0, 0.0, 0.0};
  for (std::size_t i = 0; i < course.marks.size(); ++i) {
    const double x = x_of(course.marks[i].at, course);
    auto* row = std::ranges::find_if(taken, [x](double last) { return x - last > 18.0; });
    if (row == taken.end())
      row = std::ranges::min_element(taken);
    *row = x;
    const double y = marks_top + 13.0 * static_cast<double>(row - taken.begin()) - 26.0;
    svg.line({x, y + 3.0}, {x, temperature_bottom}, "mark");
    svg.text({x, y}, fmt::format("{}", i + 1), "", Anchor::Middle);
  }
}

void draw_legend(Svg& svg, const Course& course) {
  constexpr double y = near_top - 28.0;
  double x = left + 190.0;
  const auto entry = [&](std::string_view style, std::string_view name) {
    svg.path({{x, y}, {x + 18.0, y}}, style);
    svg.text({x + 22.0, y + 4.0}, name, "tick", Anchor::Start);
    x += 36.0 + 6.2 * static_cast<double>(name.size());
  };
  entry("truth", "truth");
  entry("future", "all dissolved");
  entry("faint", "cell 1");
  if (course.plan.cells.size() > 1)
    entry("fainter", "cell 2");
  entry("first", "forecast, 95 % bands");
}

}  // namespace

std::string course_html(const Course& course) {
  const BatchFinding& finding = course.finding;
  Svg svg(sheet_width, sheet_height, "Course of the batch");
  draw_marks(svg, course);
  draw_whole(svg, course);
  draw_near(svg, course);
  draw_legend(svg, course);
  draw_temperature(svg, course);
  draw_strip(svg, course, course.permitted, strips_top, "permitted", "permitted");
  draw_strip(svg, course, course.plan.pauses, strips_top + 18.0, "stands", "still");
  draw_strip(svg, course, course.plan.gaps, strips_top + 36.0, "no samples", "gap");
  const std::string sentence = fmt::format(
      "The dark line is the water's own salinity, the thin ones what the cells make of it. The "
      "blue line is the salinity that the station expects in the end: the inner band is what the "
      "course leaves open (95 %), the outer one what the instruments leave open too. The green "
      "bands are the profile's. {}",
      finding.proven ? fmt::format("It was proven after {}.", clock_text(*finding.proven))
                     : "It was not proven.");
  return html_page(
      fmt::format("Batch of seed {}, kind {}", course.plan.seed, word(course.plan.kind)),
      html_figure(svg, sentence) + html_preformatted(course_text(course)) +
          html_preformatted(plan_text(course.plan)));
}

}  // namespace brinegate::sim
