// SPDX-License-Identifier: Apache-2.0
// One batch in virtual time: the reservoir's physics, the probes that look at it and the daemon's
// very Station that judges it, with the truth beside. The same plan, the same course; no clock.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rules/mass_balance.h"
#include "rules/station.h"
#include "sim/probe_models.h"
#include "sim/random.h"
#include "sim/reservoir.h"
#include "sim/virtual_batch_plan.h"

namespace brinegate::sim {

class VirtualBatch {
 public:
  explicit VirtualBatch(VirtualBatchPlan plan);
  VirtualBatch(const VirtualBatch&) = delete;
  VirtualBatch& operator=(const VirtualBatch&) = delete;
  ~VirtualBatch() = default;

  // To the next samples and the station's judgement of them.
  void step();
  // Does what was advised, to the gram, and notes it.
  void follow(const Correction& correction);

  [[nodiscard]] const Station& station() const { return station_; }
  [[nodiscard]] const Reservoir& reservoir() const { return reservoir_; }
  [[nodiscard]] const VirtualBatchPlan& plan() const { return plan_; }
  [[nodiscard]] Duration elapsed() const { return elapsed_; }
  // Of salt or water, told or not, corrections included.
  [[nodiscard]] std::optional<Duration> last_addition() const { return last_addition_; }
  [[nodiscard]] bool circulates() const { return is_circulating(); }
  // When something came into the water, or was brought to motion, that nobody told the station.
  [[nodiscard]] std::optional<Duration> last_secret() const { return last_secret_; }

 private:
  void happen();
  void add(const LateAddition& addition);
  [[nodiscard]] bool is_circulating() const;
  [[nodiscard]] bool is_silent() const;
  [[nodiscard]] double shown_by(const CellPlan& cell) const;
  [[nodiscard]] Instant now() const;

  VirtualBatchPlan plan_;
  StationSpec spec_;
  Random random_;
  Reservoir reservoir_;
  std::vector<ProbeModel> cells_;
  ProbeModel bath_;
  ProbeModel level_;
  Station station_;
  StationInputs inputs_;
  Duration elapsed_{0};
  bool salted_ = false;
  std::size_t late_done_ = 0;
  std::optional<Duration> last_addition_;
  std::optional<Duration> last_secret_;
};

// Every check lets it, that of the proof among them.
bool lets_pump_run(const Station& station);
// The checks that do not, with what they measured.
std::string what_blocks(const Station& station);

// What a proof claims and the truth denies.
struct FalseProof {
  Duration at{0};
  std::string what;
};

struct VirtualBatchOutcome {
  std::optional<Duration> proven;    // when first, since the begin
  std::optional<Duration> rejected;  // when first
  std::optional<Duration> corrected;
  std::optional<Duration> proven_after_correction;
  Duration released{0};                   // for so long the pump might have run
  std::optional<FalseProof> false_proof;  // the first
  std::string last_reason;                // what stood in the way at the end, for whoever looks
};

struct VirtualBatchRules {
  Duration longest = std::chrono::hours(12);
  Duration watch_proof = std::chrono::hours(2);       // a proof is watched for so long
  Duration watch_rejection = std::chrono::hours(12);  // ... and a batch that was rejected
  bool follow_advice = false;                         // correct a rejected batch as advised
  // What was put in secretly must have been noticed after so long: in the water as it is now, and
  // in what will still become of it.
  Duration notice_now = std::chrono::minutes(1);
  Duration notice_later = std::chrono::minutes(5);
};

VirtualBatchOutcome run(const VirtualBatchPlan& plan, const VirtualBatchRules& rules);

}  // namespace brinegate::sim
