// SPDX-License-Identifier: Apache-2.0
// The page of a campaign: its table and three figures.
#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "config/page/html_page.h"
#include "config/page/svg.h"
#include "rules/profile.h"
#include "sim/campaign_options.h"
#include "sim/campaign_report.h"

namespace brinegate::sim {
namespace {

using namespace page;

constexpr double width = 800.0;
constexpr double height = 380.0;
constexpr Point top_left{60.0, 30.0};
constexpr Point bottom_right{720.0, 330.0};

std::string percent_label(double share) {
  return fmt::format("{:g} %", std::round(1e6 * share) / 1e4);
}

std::string plain_label(double value) {
  return fmt::format("{:g}", std::round(1e4 * value) / 1e4);
}

// More points than pixels help nobody.
std::vector<Point> cumulative_curve(const std::vector<double>& rising, const Plot& plot) {
  std::vector<Point> curve;
  const auto count = static_cast<double>(rising.size());
  const std::size_t stride = std::max<std::size_t>(1, rising.size() / 800);
  curve.push_back(plot.at(rising.front(), 0.0));
  for (std::size_t i = 0; i < rising.size(); i += stride) {
    curve.push_back({plot.x_at(rising[i]), curve.back().y});
    curve.push_back(plot.at(rising[i], static_cast<double>(i + 1) / count));
  }
  curve.push_back(plot.at(rising.back(), 1.0));
  return curve;
}

std::string ratio_figure(const CampaignSummary& summary) {
  const std::vector<double>& ratios = summary.ratios;
  if (ratios.empty())
    return html_paragraph("No batch was proven, so there is no time to proof to compare.");
  Svg svg(width, height, "Time to proof over the oracle's, cumulative");
  const Axis over{std::clamp(ratios.front(), 0.01, 0.8),
                  std::max(2.0, 1.02 * ratios.back()),
                  true,
                  "time to proof over the oracle's",
                  plain_label,
                  {}};
  const Axis share{0.0, 1.0, false, "share of the batches proven", percent_label, {}};
  Plot plot(svg, top_left, bottom_right, over, share);
  svg.line(plot.at(1.0, 0.0), plot.at(1.0, 1.0), "mark");
  svg.text(plot.at(1.0, 1.0) + Point{4.0, -4.0}, "the oracle", "tick", Anchor::Start);
  plot.clip();
  svg.path(cumulative_curve(ratios, plot), "first");
  svg.unclip();
  for (const double part : {0.5, 0.9, 0.95}) {
    const double ratio = quantile(ratios, part);
    svg.circle(plot.at(ratio, part), 3.5, "first");
    svg.text(plot.at(ratio, part) + Point{9.0, 14.0},
             fmt::format("{:.0f} %: {:.2f}", 100.0 * part, ratio), "first", Anchor::Start);
  }
  return html_figure(
      svg, fmt::format("Half of the {} proven batches were proven within {:.2f} times the time "
                       "after which the water itself met every demand, 95 of 100 within {:.2f} "
                       "times. Left of the line they were proven too early.",
                       ratios.size(), quantile(ratios, 0.5), quantile(ratios, 0.95)));
}

double mean_risk(const RiskBand& band) {
  return band.stated / static_cast<double>(band.batches);
}

std::string reliability_sentence(std::uint64_t batches, double expected, std::uint64_t bad) {
  return fmt::format(
      "When the salinity had first settled, {} batches were told a risk of being out of tolerance. "
      "By these risks {:.1f} of them were to be out of it, {} were. Each point is the batches of "
      "one band of risk, with the 95 % interval of its share; on the diagonal the risk is as "
      "stated, above it the batches are worse than stated. A hollow point had none.",
      batches, expected, bad);
}

std::string reliability_figure(const CampaignSummary& summary) {
  constexpr double least = 1e-5;  // smaller ones are drawn at the edge
  Svg svg(width, height, "Stated risk and observed share out of tolerance");
  const Axis stated{least, 1.0, true, "stated risk of being out of tolerance", percent_label, {}};
  const Axis seen{least, 1.0, true, "share of the batches that were", percent_label, {}};
  const Plot plot(svg, top_left, bottom_right, stated, seen);
  svg.line(plot.at(least, least), plot.at(1.0, 1.0), "axis");
  const double accepted = Profile{}.risk;
  svg.line(plot.at(accepted, least), plot.at(accepted, 1.0), "mark");
  svg.text(plot.at(accepted, 5.0 * least) + Point{4.0, 0.0}, "accepted by the profile", "tick",
           Anchor::Start);
  std::uint64_t batches = 0;
  std::uint64_t bad = 0;
  double expected = 0.0;
  for (const RiskBand& band : summary.reliability) {
    if (band.batches == 0)
      continue;
    batches += band.batches;
    bad += band.bad;
    expected += band.stated;
    const double x = std::max(least, mean_risk(band));
    const auto [low, high] = binomial_interval_95(band.bad, band.batches);
    svg.line(plot.at(x, std::max(least, low)), plot.at(x, std::max(least, high)), "first");
    const double share = static_cast<double>(band.bad) / static_cast<double>(band.batches);
    svg.circle(plot.at(x, std::max(least, share)), 4.0, band.bad == 0 ? "hollow" : "first");
    // Above its bar, or below where the bands crowd in the corner.
    const Point label = share > 0.5 ? plot.at(x, std::max(least, low)) + Point{0.0, 14.0}
                                    : plot.at(x, std::max(least, high)) + Point{0.0, -6.0};
    svg.text(label, fmt::format("{}/{}", band.bad, band.batches), "tick", Anchor::Middle);
  }
  return html_figure(svg, reliability_sentence(batches, expected, bad));
}

std::string forecast_figure(const CampaignSummary& summary) {
  Svg svg(width, height, "Error of the forecast by share of the dissolving time");
  double largest = 0.01;
  for (const GlanceSummary& glance : summary.glances)
    largest = std::max(largest, ppt(glance.error_95_psu));
  const Axis time{0.0, 1.0, false, "share of the time that the dissolving took", percent_label, {}};
  const Axis error{
      0.0, 1.15 * largest, false, "error of the change still to come, ppt", plain_label, {}};
  const Plot plot(svg, top_left, bottom_right, time, error);
  std::vector<Point> median;
  std::vector<Point> most;
  std::string coverage;
  for (const GlanceSummary& glance : summary.glances) {
    if (glance.batches == 0)
      continue;
    median.push_back(plot.at(glance.share, ppt(glance.median_error_psu)));
    most.push_back(plot.at(glance.share, ppt(glance.error_95_psu)));
    svg.circle(median.back(), 3.5, "first");
    svg.text(most.back() + Point{8.0, -6.0},
             fmt::format("{:.0f} % inside", 100.0 * glance.coverage), "tick", Anchor::Start);
    coverage += fmt::format("{}{:.0f} %", coverage.empty() ? "" : ", ", 100.0 * glance.coverage);
  }
  if (median.empty())
    return html_paragraph("No batch dissolved undisturbed, so no forecast was compared.");
  svg.path(median, "first");
  svg.path(most, "second");
  svg.text(median.back() + Point{8.0, -6.0}, "median", "first", Anchor::Start);
  svg.text(most.back() + Point{8.0, 10.0}, "95 of 100 within", "second", Anchor::Start);
  return html_figure(
      svg, fmt::format("How far off the forecast was of the change still to come, after a quarter, "
                       "a half and three quarters of the time that the salt took to dissolve. The "
                       "truth lay in the stated 90 % interval for {} of the batches.",
                       coverage));
}

std::string lead(const CampaignSummary& summary) {
  const auto number = [](std::size_t count) {
    return count == 0 ? std::string("none") : fmt::format("{}", count);
  };
  return fmt::format(
      "Of {} batches {} were proven and {} rightly not; {} were right, but too near a limit for "
      "their instruments to say. Never proven that should have been: {}. Permitted while off "
      "target: {}.",
      summary.batches, summary.proven, summary.rightly_unproven, summary.in_guard_band,
      number(summary.never_proven.size()), number(summary.permitted_off_target.size()));
}

}  // namespace

std::string campaign_html(const CampaignSummary& summary) {
  const std::string title = fmt::format("Campaign: {} batches, kind {}, {} errors", summary.batches,
                                        word(summary.plan.kind), word(summary.plan.errors));
  return html_page(title, html_paragraph(lead(summary)) + ratio_figure(summary) +
                              reliability_figure(summary) + forecast_figure(summary) +
                              html_preformatted(campaign_table(summary)));
}

}  // namespace brinegate::sim
