// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/faults_command.h"

#include <array>
#include <cstdio>

#include <fmt/format.h>
#include <unistd.h>

#include "sim/exit_status.h"
#include "sim/faults/fault_report.h"
#include "sim/faults/life_plan.h"
#include "sim/faults/station_life.h"
#include "sim/options.h"
#include "sim/write_file.h"

namespace brinegate::sim {
namespace {

constexpr std::uint64_t lives_between_files = 50;

using Value = std::string_view;

constexpr std::array<Option<FaultsOptions>, 5> option_table{{
    {"--years", "N", "of station time, at least (10)",
     [](FaultsOptions& o, Value v) { return take(o.plan.years, parse_number(v, 0.001, 1e6)); }},
    {"--seed", "S", "of the first life; the next has S + 1 (1)",
     [](FaultsOptions& o, Value v) {
       return take(o.plan.first_seed, parse_number<std::uint64_t>(v, 0, 1ULL << 62));
     }},
    {"--jobs", "N", "so many lives at a time; the findings are the same (2)",
     [](FaultsOptions& o, Value v) { return take(o.plan.jobs, parse_number(v, 1U, 1024U)); }},
    {"--json", "FILE", "write what was found for programs, and again now and then",
     [](FaultsOptions& o, Value v) { return take(o.json, parse_name(v)); }},
    {"--replay", "SEED", "this one life again, told in full",
     [](FaultsOptions& o, Value v) {
       return take(o.replay, parse_number<std::uint64_t>(v, 0, ~std::uint64_t{0}));
     }},
}};

bool write_json(const FaultsOptions& options, const FaultSummary& summary) {
  if (!options.json)
    return true;
  const auto written = write_file(*options.json, fault_json(summary).dump(2) + "\n");
  if (!written.ok())
    fmt::print(stderr, "brinegate-sim faults: {}\n", written.error().message);
  return written.ok();
}

int replay(std::uint64_t seed) {
  const LifePlan plan = draw_life(seed);
  const LifeFinding found = StationLife(plan, Defect::None, true).run();
  for (const std::string& line : found.story)
    fmt::print("{}\n", line);
  FaultSummary summary;
  summary.plan.first_seed = seed;
  summary.tally = found.tally;
  fmt::print("\n{}", fault_table(summary));
  return found.tally.violations.empty() ? done_status : found_wrong;
}

}  // namespace

Result<FaultsOptions> parse_faults_options(std::span<const std::string_view> words) {
  FaultsOptions options;
  const auto taken = take_options("faults", option_table, words, options);
  if (!taken.ok())
    return taken.error();
  if (options.replay && words.size() > 2)
    return Error{"--replay runs one life: leave the other options away"};
  return options;
}

std::string faults_help() {
  return "usage: brinegate-sim faults [OPTION VALUE]...\n"
         "       brinegate-sim faults --replay SEED\n" +
         options_help(option_table) + R"(
Stations in virtual time, each run by the daemon's own engine, through weeks of faults of probes,
links, broker, disk, clock, process, devices and people, and then until they have recovered. Exit
status: 0 nothing violated and every rare branch reached, 1 otherwise (--replay looks at one life
alone), 2 not run or not written.
)";
}

int faults(const FaultsOptions& options) {
  if (options.replay)
    return replay(*options.replay);
  const bool told = isatty(STDERR_FILENO) != 0;
  const FaultSummary summary = run_fault_campaign(options.plan, [&](const FaultSummary& so_far) {
    if (told)
      fmt::print(stderr, "\r{:.2f} station-years", so_far.years());
    if (so_far.tally.lives % lives_between_files == 0)
      write_json(options, so_far);
  });
  if (told)
    fmt::print(stderr, "\n");
  fmt::print("{}", fault_table(summary));
  if (!write_json(options, summary))
    return not_written;
  return summary.is_clean() ? done_status : found_wrong;
}

}  // namespace brinegate::sim
