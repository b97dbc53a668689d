// SPDX-License-Identifier: Apache-2.0
// Many batches in virtual time through the daemon's very Station, each held against the water's own
// truth. The same seeds, the same findings, however many threads.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "rules/time.h"
#include "rules/units.h"
#include "sim/virtual_batch_plan.h"

namespace brinegate::sim {

class VirtualBatch;

struct CampaignPlan {
  std::uint64_t first_seed = 1;
  std::uint64_t batches = 1000;
  BatchKind kind = BatchKind::Anything;
  ErrorLaw errors = ErrorLaw::Within;
  unsigned threads = 2;
};

// What the forecast said after 25, 50 and 75 % of the time that the dissolving took.
struct Glance {
  double error_psu = 0.0;        // of the change still to come, against the truth
  double uncertainty_psu = 0.0;  // standard, as the forecast stated it
  bool inside = false;           // the truth lay in the stated 90 % interval
};

// One batch against the oracle: the earliest time from which every demand of the profile is true of
// the water itself and stays so.
struct BatchFinding {
  std::uint64_t seed = 0;
  std::optional<Duration> proven;  // when first, since the begin
  std::optional<Duration> oracle;  // of the stretch in which it was proven, else the longest one
  bool early = false;              // proven before the oracle's time
  bool has_clump = false;          // salt that let go late
  bool corrected = false;          // as advised
  std::optional<Duration> permitted_off_target;  // the pump might run, the truth was out: when
  PracticalSalinity final_truth;
  PracticalSalinity final_indicated;  // what these instruments show of it, without noise
  double acceptance_psu = 0.0;        // half width of the acceptance zone that they leave
  bool disputed_by_dose = false;      // at the end the noted dose and the cells do not agree
  bool temperature_is_open = false;   // at the end it is too near a limit for the thermometer
  // When it had first settled, for the reliability of the stated risk.
  std::optional<double> stated_risk;
  bool out_of_tolerance = false;
  std::array<std::optional<Glance>, 3> glances;
  std::optional<double> dose_uncertainty_psu;  // standard; where a dose was noted
  Duration simulated{0};
  std::string last_reason;  // what stood in the way at the end
};

enum class Verdicts {
  Proven,
  RightlyUnproven,  // never true long enough, or rightly refused
  InGuardBand,      // true, but these instruments or the noted dose leave it open
  NeverProven,      // should have been, within three times the oracle's time
};
Verdicts verdict_of(const BatchFinding& finding);

// Stated risk against observed share of batches out of tolerance.
struct RiskBand {
  double low = 0.0;
  double high = 0.0;
  std::uint64_t batches = 0;
  double stated = 0.0;  // sum of the stated risks: how many bad ones are to be expected
  std::uint64_t bad = 0;
};

struct GlanceSummary {
  double share = 0.0;  // of the dissolving time
  std::uint64_t batches = 0;
  double median_error_psu = 0.0;
  double error_95_psu = 0.0;
  double coverage = 0.0;  // of the 90 % intervals
};

struct CampaignSummary {
  CampaignPlan plan;
  std::uint64_t batches = 0;
  std::uint64_t proven = 0;
  std::uint64_t rightly_unproven = 0;
  std::uint64_t in_guard_band = 0;
  std::vector<std::uint64_t> never_proven;          // seeds
  std::vector<std::uint64_t> permitted_off_target;  // seeds
  std::vector<std::uint64_t> early;                 // seeds
  std::uint64_t early_with_clump = 0;
  std::uint64_t corrected = 0;
  std::uint64_t proven_after_correction = 0;
  std::vector<double> ratios;  // time to proof over the oracle's, rising
  std::vector<RiskBand> reliability;
  std::array<GlanceSummary, 3> glances{};
  double station_seconds = 0.0;
  double cpu_seconds = 0.0;
};

// `watch` sees the batch after each step.
BatchFinding find(std::uint64_t seed, BatchKind kind, ErrorLaw errors,
                  const std::function<void(const VirtualBatch&)>& watch = nullptr);

// `progress` is called now and then with the number of batches done.
std::vector<BatchFinding> run_campaign(const CampaignPlan& plan,
                                       const std::function<void(std::uint64_t)>& progress);
CampaignSummary summarize(const CampaignPlan& plan, const std::vector<BatchFinding>& findings);

// Of values in rising order; 0 where there are none.
double quantile(const std::vector<double>& rising, double share);

}  // namespace brinegate::sim
