// SPDX-License-Identifier: Apache-2.0
#include "sim/campaign_report.h"

#include <cassert>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

#include "rules/seawater.h"
#include "rules/statistics.h"
#include "sim/campaign_options.h"

namespace brinegate::sim {
namespace {

constexpr std::size_t most_commands = 20;  // in the table; the rest are in the JSON

double as_double(std::uint64_t count) {
  return static_cast<double>(count);
}

double percent(std::uint64_t part, std::uint64_t whole) {
  return whole == 0 ? 0.0 : 100.0 * as_double(part) / as_double(whole);
}

std::string heading(const CampaignSummary& summary) {
  const CampaignPlan& plan = summary.plan;
  return fmt::format("{} batches of kind {}, seeds {} to {}, {} errors\n\n", summary.batches,
                     word(plan.kind), plan.first_seed, plan.first_seed + plan.batches - 1,
                     word(plan.errors));
}

std::string count_line(std::string_view what, std::uint64_t part, std::uint64_t whole) {
  return fmt::format("{:<54}{:>10}{:>9.1f} %\n", what, part, percent(part, whole));
}

std::string commands(const std::vector<std::uint64_t>& seeds, const CampaignPlan& plan) {
  std::string text;
  for (std::size_t i = 0; i < seeds.size() && i < most_commands; ++i)
    text += fmt::format("    {}\n", replay_command(seeds[i], plan));
  if (seeds.size() > most_commands)
    text += fmt::format("    and {} more: --json names them\n", seeds.size() - most_commands);
  return text;
}

std::string verdict_lines(const CampaignSummary& s) {
  return count_line("proven", s.proven, s.batches) +
         count_line("rightly unproven", s.rightly_unproven, s.batches) +
         count_line("in the guard band: the instruments leave it open", s.in_guard_band,
                    s.batches) +
         count_line("never proven", s.never_proven.size(), s.batches) +
         commands(s.never_proven, s.plan) +
         count_line("permitted while off target", s.permitted_off_target.size(), s.batches) +
         commands(s.permitted_off_target, s.plan) +
         count_line("proven early, of those proven", s.early.size(), s.proven) +
         count_line("  of these with a clump that let go late", s.early_with_clump,
                    s.early.size()) +
         count_line("corrected as advised", s.corrected, s.batches) +
         count_line("  of these proven after it", s.proven_after_correction, s.corrected);
}

std::string ratio_lines(const CampaignSummary& s) {
  if (s.ratios.empty())
    return "\nTime to proof over the oracle's: no batch was proven\n";
  return fmt::format("\n{:<44}{:>12}{:>12}{:>12}\n{:<44}{:>12.2f}{:>12.2f}{:>12.2f}\n",
                     "Time to proof over the oracle's", "median", "90 %", "95 %", "",
                     quantile(s.ratios, 0.5), quantile(s.ratios, 0.9), quantile(s.ratios, 0.95));
}

std::string reliability_lines(const CampaignSummary& s) {
  std::string text = fmt::format("\n{:<35}{:>15}{:>15}{:>15}\n", "Stated risk of being off target",
                                 "batches", "expected bad", "observed bad");
  for (const RiskBand& band : s.reliability)
    if (band.batches > 0)
      text += fmt::format("{:<35}{:>15}{:>15.2f}{:>15}\n",
                          fmt::format("  {:g} to {:g}", band.low, std::min(band.high, 1.0)),
                          band.batches, band.stated, band.bad);
  return text;
}

std::string glance_lines(const CampaignSummary& s) {
  std::string text = fmt::format("\n{:<26}{:>9}{:>15}{:>14}{:>16}\n", "Forecast's error after",
                                 "batches", "median", "95 %", "in 90 % range");
  for (const GlanceSummary& glance : s.glances)
    text += fmt::format("{:<26}{:>9}{:>11.3f} ppt{:>10.3f} ppt{:>14.1f} %\n",
                        fmt::format("  {:.0f} % of dissolving", 100.0 * glance.share),
                        glance.batches, ppt(glance.median_error_psu), ppt(glance.error_95_psu),
                        100.0 * glance.coverage);
  return text;
}

double millions_a_second(const CampaignSummary& s) {
  return s.cpu_seconds > 0.0 ? 1e-6 * s.station_seconds / s.cpu_seconds : 0.0;
}

std::string speed_line(const CampaignSummary& s) {
  return fmt::format("\n{:.2f} million station-seconds a second of CPU ({:.0f} h in {:.1f} s)\n",
                     millions_a_second(s), s.station_seconds / 3600.0, s.cpu_seconds);
}

using nlohmann::ordered_json;

ordered_json reliability_json(const CampaignSummary& summary) {
  ordered_json bands = ordered_json::array();
  for (const RiskBand& band : summary.reliability)
    bands.push_back({{"low", band.low},
                     {"high", band.high},
                     {"batches", band.batches},
                     {"expected_bad", band.stated},
                     {"observed_bad", band.bad}});
  return bands;
}

ordered_json glances_json(const CampaignSummary& summary) {
  ordered_json glances = ordered_json::array();
  for (const GlanceSummary& glance : summary.glances)
    glances.push_back({{"share", glance.share},
                       {"batches", glance.batches},
                       {"median_error_psu", glance.median_error_psu},
                       {"error_95_psu", glance.error_95_psu},
                       {"coverage", glance.coverage}});
  return glances;
}

}  // namespace

std::string campaign_table(const CampaignSummary& summary) {
  return heading(summary) + verdict_lines(summary) + ratio_lines(summary) +
         reliability_lines(summary) + glance_lines(summary) + speed_line(summary);
}

ordered_json campaign_json(const CampaignSummary& summary) {
  const CampaignPlan& plan = summary.plan;
  ordered_json json;
  json["plan"] = {{"first_seed", plan.first_seed},
                  {"batches", plan.batches},
                  {"kind", word(plan.kind)},
                  {"errors", word(plan.errors)}};
  json["batches"] = summary.batches;
  json["proven"] = summary.proven;
  json["rightly_unproven"] = summary.rightly_unproven;
  json["in_guard_band"] = summary.in_guard_band;
  json["never_proven"] = summary.never_proven;
  json["permitted_off_target"] = summary.permitted_off_target;
  json["early"] = summary.early;
  json["early_with_clump"] = summary.early_with_clump;
  json["corrected"] = summary.corrected;
  json["proven_after_correction"] = summary.proven_after_correction;
  json["ratio"] = nullptr;
  if (!summary.ratios.empty())
    json["ratio"] = {{"batches", summary.ratios.size()},
                     {"median", quantile(summary.ratios, 0.5)},
                     {"share_90", quantile(summary.ratios, 0.9)},
                     {"share_95", quantile(summary.ratios, 0.95)}};
  json["reliability"] = reliability_json(summary);
  json["forecast"] = glances_json(summary);
  json["station_seconds"] = summary.station_seconds;
  json["cpu_seconds"] = summary.cpu_seconds;
  json["million_station_seconds_per_cpu_second"] = millions_a_second(summary);
  return json;
}

bool is_clean(const CampaignSummary& summary) {
  return summary.never_proven.empty() && summary.permitted_off_target.empty();
}

std::pair<double, double> binomial_interval_95(std::uint64_t hits, std::uint64_t trials) {
  assert(trials > 0);
  constexpr double z2 = squared(two_sided_95_percent);
  const double n = as_double(trials);
  const double share = as_double(hits) / n;
  const double middle = (share + 0.5 * z2 / n) / (1.0 + z2 / n);
  const double half =
      std::sqrt(z2 * (share * (1.0 - share) / n + 0.25 * z2 / (n * n))) / (1.0 + z2 / n);
  return {std::max(0.0, middle - half), std::min(1.0, middle + half)};
}

double ppt(double difference_psu) {
  return reference_salinity(PracticalSalinity(difference_psu)).value();
}

}  // namespace brinegate::sim
