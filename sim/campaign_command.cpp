// SPDX-License-Identifier: Apache-2.0
#include "sim/campaign_command.h"

#include <cstdint>
#include <cstdio>
#include <functional>

#include <fmt/format.h>
#include <unistd.h>

#include "sim/campaign.h"
#include "sim/campaign_report.h"
#include "sim/course.h"
#include "sim/course_drawing.h"
#include "sim/exit_status.h"
#include "sim/write_file.h"

namespace brinegate::sim {
namespace {

std::function<void(std::uint64_t)> progress_line(std::uint64_t batches) {
  if (isatty(STDERR_FILENO) == 0)
    return nullptr;
  return [batches](std::uint64_t done) {
    fmt::print(stderr, "\r{} of {} batches{}", done, batches, done == batches ? "\n" : "");
  };
}

// Says so where it could not.
bool write(const std::optional<std::string>& path, const std::function<std::string()>& text) {
  if (!path)
    return true;
  const auto written = write_file(*path, text());
  if (!written.ok())
    fmt::print(stderr, "brinegate-sim campaign: {}\n", written.error().message);
  return written.ok();
}

int status(bool clean, bool written) {
  return !written ? not_written : clean ? done_status : found_wrong;
}

int replay(std::uint64_t seed, const CampaignOptions& options) {
  const Course course = record_course(seed, options.plan.kind, options.plan.errors);
  fmt::print("{}\n{}", plan_text(course.plan), course_text(course));
  const BatchFinding& finding = course.finding;
  const bool clean = !finding.permitted_off_target && verdict_of(finding) != Verdicts::NeverProven;
  return status(clean, write(options.html, [&] { return course_html(course); }));
}

}  // namespace

int campaign(const CampaignOptions& options) {
  if (options.replay)
    return replay(*options.replay, options);
  const auto findings = run_campaign(options.plan, progress_line(options.plan.batches));
  const CampaignSummary summary = summarize(options.plan, findings);
  fmt::print("{}", campaign_table(summary));
  const bool json = write(options.json, [&] { return campaign_json(summary).dump(2) + "\n"; });
  const bool html = write(options.html, [&] { return campaign_html(summary); });
  return status(is_clean(summary), json && html);
}

}  // namespace brinegate::sim
