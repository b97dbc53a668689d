// SPDX-License-Identifier: Apache-2.0
#include "sim/campaign.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <ctime>
#include <mutex>
#include <thread>

#include <fmt/format.h>

#include "config/advice.h"
#include "rules/check_catalogue.h"
#include "rules/conformity.h"
#include "rules/seawater.h"
#include "rules/statistics.h"
#include "sim/virtual_batch.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr Duration longest_run = 16h;
constexpr Duration watch_proof = 30min;  // and as long after the last disturbance
constexpr Duration watch_rejection = 30min;
constexpr Duration watch_undecided = 2h;    // past the oracle, where the truth is in a guard band
constexpr double never = 3.0;               // times the oracle's time is never
constexpr double indication_margin = 0.03;  // PSU; what is left of noise at the edge of a zone
// What was put in secretly must have been noticed after so long.
constexpr Duration notice_secret = 2min;
constexpr std::array<double, 3> glance_shares = {0.25, 0.5, 0.75};

double psu(PracticalSalinity salinity) {
  return salinity.value();
}

const CheckResult& check(const Station& station, CheckId id) {
  return station.checks()[static_cast<std::size_t>(id)];
}

// What these instruments show of the present water without noise, lag or resolution.
PracticalSalinity indicated(const VirtualBatch& batch) {
  const VirtualBatchPlan& plan = batch.plan();
  const Celsius truth = batch.reservoir().temperature();
  const Celsius read = truth * plan.bath.gain + Celsius(plan.bath.offset);
  const MilliSiemensPerCm in_situ =
      conductivity(batch.reservoir().final_salinity() / plan.salt_factor, truth);
  double sum = 0.0;
  for (std::size_t i = 0; i < plan.cells.size(); ++i) {
    const CellPlan& cell = plan.cells[i];
    const MilliSiemensPerCm at_cell =
        cell.compensation ? compensated(in_situ, truth, *cell.compensation) : in_situ;
    MilliSiemensPerCm shown = at_cell * cell.traits.gain + MilliSiemensPerCm(cell.traits.offset);
    shown = i == 0 ? shown * plan.lie : shown;
    sum += psu(practical_salinity(
        cell.compensation ? uncompensated(shown, read, cell.believed) : shown, read));
  }
  return PracticalSalinity(sum / static_cast<double>(plan.cells.size()));
}

// Follows the demands of the profile on the water itself.
class Oracle {
 public:
  explicit Oracle(const VirtualBatch& batch) : batch_(&batch) {}

  void step(Duration elapsed_since_last) {
    const VirtualBatchPlan& plan = batch_->plan();
    const Reservoir& water = batch_->reservoir();
    const Duration now = batch_->elapsed();
    if (batch_->last_addition() != last_addition_) {
      last_addition_ = batch_->last_addition();
      circulated_ = Duration::zero();
    }
    if (batch_->circulates())
      circulated_ += elapsed_since_last;
    remaining_ = psu(water.final_salinity() - water.salinity());
    in_tolerance_ =
        std::abs(psu(water.salinity() - plan.profile.target)) <= psu(plan.profile.tolerance);
    const bool dissolved = std::abs(remaining_) <= psu(plan.profile.still_to_dissolve);
    if (!dissolved)
      last_undissolved_ = now;
    const bool holds = last_addition_ && in_tolerance_ && dissolved &&
                       water.temperature() >= plan.profile.temperature_low &&
                       water.temperature() <= plan.profile.temperature_high &&
                       circulated_ >= plan.profile.circulate;
    if (!holds)
      since_.reset();
    else if (!since_)
      since_ = now;
    if (since_ && (!longest_ || now - *since_ > longest_lasted_)) {
      longest_ = since_;
      longest_lasted_ = now - *since_;
    }
  }

  [[nodiscard]] std::optional<Duration> since() const { return since_; }
  [[nodiscard]] std::optional<Duration> longest() const { return longest_; }
  [[nodiscard]] Duration longest_lasted() const { return longest_lasted_; }
  [[nodiscard]] bool in_tolerance() const { return in_tolerance_; }
  [[nodiscard]] double remaining() const { return remaining_; }
  [[nodiscard]] Duration last_undissolved() const { return last_undissolved_; }

 private:
  const VirtualBatch* batch_;
  std::optional<Duration> last_addition_;
  Duration circulated_{0};
  std::optional<Duration> since_;
  std::optional<Duration> longest_;
  Duration longest_lasted_{0};
  bool in_tolerance_ = false;
  double remaining_ = 0.0;
  Duration last_undissolved_{0};
};

// What the forecast said at each slot while an undisturbed batch dissolved.
struct Look {
  Duration at{0};
  double forecast = 0.0;
  double uncertainty = 0.0;
  double truth = 0.0;
};

std::array<std::optional<Glance>, 3> glances(const std::vector<Look>& looks, Duration from,
                                             Duration until) {
  std::array<std::optional<Glance>, 3> found;
  for (std::size_t i = 0; i < glance_shares.size(); ++i) {
    const Duration at = from + from_seconds(glance_shares[i] * seconds(until - from));
    const auto look =
        std::find_if(looks.begin(), looks.end(), [at](const Look& l) { return l.at >= at; });
    if (look == looks.end() || look->at > until)
      continue;
    const double error = look->forecast - look->truth;
    found[i] = Glance{error, look->uncertainty,
                      std::abs(error) <= one_sided_95_percent * look->uncertainty};
  }
  return found;
}

// One batch on its way, and what was found so far.
class Search {
 public:
  Search(std::uint64_t seed, BatchKind kind, ErrorLaw errors)
      : batch_(draw_plan(seed, kind, errors)), oracle_(batch_) {
    finding_.seed = seed;
    finding_.has_clump = batch_.plan().salt.size() > 1;
    undisturbed_ = batch_.plan().late.empty();
    follows_advice_ = kind == BatchKind::UnderSalted || kind == BatchKind::OverSalted;
    if (!batch_.plan().late.empty())
      last_disturbance_ = batch_.plan().late.back().at;
  }

  BatchFinding run(const std::function<void(const VirtualBatch&)>& watch) {
    while (!is_over()) {
      batch_.step();
      oracle_.step(batch_.plan().sample_period);
      look();
      note_risk();
      note_proof();
      note_permit();
      if (watch)
        watch(batch_);
      follow_rejection();
    }
    conclude();
    return finding_;
  }

 private:
  [[nodiscard]] const Station& station() const { return batch_.station(); }

  void look() {
    const Settling& settling = station().settling();
    if (undisturbed_ && settling.known && !finding_.proven)
      looks_.push_back({batch_.elapsed(), settling.forecast.remaining,
                        settling.forecast.remaining_uncertainty, oracle_.remaining()});
  }

  void note_risk() {
    if (finding_.stated_risk || !station().settling().settled || finding_.corrected)
      return;
    const auto& risk = check(station(), CheckId::OnTarget).risk;
    if (!risk)
      return;
    const Profile& profile = batch_.plan().profile;
    finding_.stated_risk = risk;
    finding_.out_of_tolerance =
        std::abs(psu(batch_.reservoir().final_salinity() - profile.target)) >
        psu(profile.tolerance);
    const auto zone = acceptance_limits(psu(profile.target - profile.tolerance),
                                        psu(profile.target + profile.tolerance),
                                        station().salinity().standard_uncertainty, profile.risk);
    finding_.acceptance_psu = zone ? 0.5 * (zone->second - zone->first) : 0.0;
  }

  void note_proof() {
    if (finding_.proven || !station().batch().is_proven())
      return;
    finding_.proven = batch_.elapsed();
    finding_.oracle = oracle_.since();
    finding_.early = !finding_.oracle;
  }

  void note_permit() {
    // A cell in a dead corner learns of it only as fast as the water there is exchanged.
    const VirtualBatchPlan& plan = batch_.plan();
    const Duration reaches_cell = plan.cells.front().place == Place::Corner
                                      ? 2 * plan.reservoir.corner_exchange
                                      : Duration::zero();
    const bool secret_is_fresh = batch_.last_secret() && batch_.elapsed() - *batch_.last_secret() <
                                                             notice_secret + reaches_cell;
    if (lets_pump_run(station()) && !oracle_.in_tolerance() && !secret_is_fresh &&
        !finding_.permitted_off_target)
      finding_.permitted_off_target = batch_.elapsed();
  }

  void follow_rejection() {
    if (station().batch().phase != BatchPhase::Rejected) {
      rejected_since_.reset();
      return;
    }
    if (!rejected_since_)
      rejected_since_ = batch_.elapsed();
    if (!follows_advice_ || finding_.corrected)
      return;
    const auto advice = config::corrections_for(station());
    if (advice.empty() || !advice.front().fits)
      return;
    batch_.follow(advice.front());
    finding_.corrected = true;
    last_disturbance_ = batch_.elapsed();
  }

  [[nodiscard]] bool is_over() const {
    const Duration now = batch_.elapsed();
    const bool disturbed = last_disturbance_ && now < *last_disturbance_ + watch_proof;
    if (now >= longest_run)
      return true;
    if (disturbed)
      return false;
    if (finding_.proven)
      return now >= *finding_.proven + watch_proof && (oracle_.since() || !finding_.early);
    if (rejected_since_ && now >= *rejected_since_ + watch_rejection)
      return true;
    const auto since = oracle_.since();
    if (!since)
      return false;
    const Duration patience = from_seconds(never * seconds(*since));
    return now >= (leaves_it_open() ? std::min(patience, *since + watch_undecided) : patience);
  }

  // The heater aims so near a limit that the thermometer cannot tell, with what it is off by.
  [[nodiscard]] bool temperature_is_open() const {
    const Profile& profile = batch_.plan().profile;
    const double shown = station().temperature().value_or(Celsius()).value();
    const double zone =
        one_sided_95_percent * default_probe_uncertainty(Measures::Temperature).absolute +
        batch_.plan().bath.resolution;
    return shown < profile.temperature_low.value() + zone ||
           shown > profile.temperature_high.value() - zone;
  }

  // Whether the truth or what the instruments show of it lies in a guard band.
  [[nodiscard]] bool leaves_it_open() const {
    if (temperature_is_open())
      return true;
    const double target = psu(batch_.plan().profile.target);
    const double zone = finding_.acceptance_psu - indication_margin;
    return std::abs(psu(batch_.reservoir().final_salinity()) - target) > zone ||
           std::abs(psu(indicated(batch_)) - target) > zone;
  }

  void conclude() {
    finding_.final_truth = batch_.reservoir().final_salinity();
    finding_.final_indicated = indicated(batch_);
    finding_.disputed_by_dose = check(station(), CheckId::AsDosed).verdict == Verdict::Violated;
    finding_.temperature_is_open = temperature_is_open();
    if (!finding_.oracle)
      finding_.oracle = finding_.proven ? oracle_.since() : oracle_.longest();
    if (const auto& dose = station().dose())
      finding_.dose_uncertainty_psu = psu(dose->predicted.standard_uncertainty);
    if (undisturbed_ && oracle_.last_undissolved() < batch_.elapsed())
      finding_.glances = glances(looks_, batch_.plan().salt_at, oracle_.last_undissolved());
    finding_.simulated = batch_.elapsed();
    finding_.last_reason = what_blocks(station());
    const bool lasted =
        oracle_.longest() && oracle_.longest_lasted() >=
                                 from_seconds((never - 1.0) * 0.95 * seconds(*oracle_.longest()));
    if (!finding_.proven && !lasted)
      finding_.oracle.reset();
  }

  VirtualBatch batch_;
  Oracle oracle_;
  BatchFinding finding_;
  std::vector<Look> looks_;
  std::optional<Duration> rejected_since_;
  std::optional<Duration> last_disturbance_;
  bool undisturbed_ = true;
  bool follows_advice_ = false;
};

double cpu_now() {
  timespec time{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
  return static_cast<double>(time.tv_sec) + 1e-9 * static_cast<double>(time.tv_nsec);
}

}  // namespace

BatchFinding find(std::uint64_t seed, BatchKind kind, ErrorLaw errors,
                  const std::function<void(const VirtualBatch&)>& watch) {
  return Search(seed, kind, errors).run(watch);
}

Verdicts verdict_of(const BatchFinding& finding) {
  if (finding.proven)
    return Verdicts::Proven;
  const double target = psu(Profile{}.target);
  const double zone = finding.acceptance_psu - indication_margin;
  const bool open = std::abs(psu(finding.final_truth) - target) > zone ||
                    std::abs(psu(finding.final_indicated) - target) > zone;
  if (finding.out_of_tolerance)
    return Verdicts::RightlyUnproven;
  if (open || finding.disputed_by_dose || finding.temperature_is_open)
    return Verdicts::InGuardBand;
  return finding.oracle ? Verdicts::NeverProven : Verdicts::RightlyUnproven;
}

std::vector<BatchFinding> run_campaign(const CampaignPlan& plan,
                                       const std::function<void(std::uint64_t)>& progress) {
  std::vector<BatchFinding> findings(plan.batches);
  std::atomic<std::uint64_t> next{0};
  std::uint64_t done = 0;
  std::mutex mutex;
  const auto work = [&] {
    for (std::uint64_t i = next++; i < plan.batches; i = next++) {
      findings[i] = find(plan.first_seed + i, plan.kind, plan.errors);
      const std::lock_guard lock(mutex);
      ++done;
      if (progress)
        progress(done);
    }
  };
  std::vector<std::thread> threads;
  for (unsigned i = 1; i < std::max(1U, plan.threads); ++i)
    threads.emplace_back(work);
  work();
  for (std::thread& thread : threads)
    thread.join();
  return findings;
}

double quantile(const std::vector<double>& rising, double share) {
  if (rising.empty())
    return 0.0;
  const auto index = static_cast<std::size_t>(share * static_cast<double>(rising.size()));
  return rising[std::min(index, rising.size() - 1)];
}

namespace {

void count(CampaignSummary& summary, const BatchFinding& finding) {
  switch (verdict_of(finding)) {
    case Verdicts::Proven:
      ++summary.proven;
      break;
    case Verdicts::RightlyUnproven:
      ++summary.rightly_unproven;
      break;
    case Verdicts::InGuardBand:
      ++summary.in_guard_band;
      break;
    case Verdicts::NeverProven:
      summary.never_proven.push_back(finding.seed);
      break;
  }
  if (finding.permitted_off_target)
    summary.permitted_off_target.push_back(finding.seed);
  if (finding.early) {
    summary.early.push_back(finding.seed);
    summary.early_with_clump += finding.has_clump ? 1U : 0U;
  }
  summary.corrected += finding.corrected ? 1U : 0U;
  summary.proven_after_correction += finding.corrected && finding.proven ? 1U : 0U;
  if (finding.proven && finding.oracle)
    summary.ratios.push_back(seconds(*finding.proven) / seconds(*finding.oracle));
  summary.station_seconds += seconds(finding.simulated);
}

void judge_reliability(CampaignSummary& summary, const std::vector<BatchFinding>& findings) {
  constexpr std::array edges = {0.0, 1e-4, 1e-3, 1e-2, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0 + 1e-9};
  for (std::size_t i = 0; i + 1 < edges.size(); ++i)
    summary.reliability.push_back({edges[i], edges[i + 1], 0, 0.0, 0});
  for (const BatchFinding& finding : findings) {
    if (!finding.stated_risk)
      continue;
    for (RiskBand& band : summary.reliability) {
      if (*finding.stated_risk < band.low || *finding.stated_risk >= band.high)
        continue;
      ++band.batches;
      band.stated += *finding.stated_risk;
      band.bad += finding.out_of_tolerance ? 1U : 0U;
    }
  }
}

void judge_forecast(CampaignSummary& summary, const std::vector<BatchFinding>& findings) {
  for (std::size_t i = 0; i < glance_shares.size(); ++i) {
    std::vector<double> errors;
    double inside = 0.0;
    for (const BatchFinding& finding : findings) {
      if (!finding.glances[i])
        continue;
      errors.push_back(std::abs(finding.glances[i]->error_psu));
      inside += finding.glances[i]->inside ? 1.0 : 0.0;
    }
    std::sort(errors.begin(), errors.end());
    const auto n = static_cast<double>(std::max<std::size_t>(1, errors.size()));
    summary.glances[i] = {glance_shares[i], errors.size(), quantile(errors, 0.5),
                          quantile(errors, 0.95), inside / n};
  }
}

}  // namespace

CampaignSummary summarize(const CampaignPlan& plan, const std::vector<BatchFinding>& findings) {
  CampaignSummary summary;
  summary.plan = plan;
  summary.batches = findings.size();
  for (const BatchFinding& finding : findings)
    count(summary, finding);
  std::sort(summary.ratios.begin(), summary.ratios.end());
  judge_reliability(summary, findings);
  judge_forecast(summary, findings);
  summary.cpu_seconds = cpu_now();
  return summary;
}

}  // namespace brinegate::sim
