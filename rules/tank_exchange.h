// SPDX-License-Identifier: Apache-2.0
// S19: a change that also takes the old water out of the tank. In portions, each drained first and
// then returned, so that whenever it stops the tank is short of one portion at most.
#pragma once

#include <optional>

#include "rules/pump_run.h"
#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate {

enum class ExchangePhase {
  Draining,
  AfterDrain,  // both pumps off: the level comes to rest, and must
  Returning,
  AfterReturn,  // likewise
};

// How far it has come.
struct ExchangeAmounts {
  Litres drained;
  Litres returned;
  std::optional<Litres> tank_lacks;  // against its start, by its level

  // The best that is known of what the tank is short of.
  [[nodiscard]] Litres missing() const { return tank_lacks.value_or(drained - returned); }
};

class TankExchange {
 public:
  // `tank`: its level, if only one taken a moment ago, and the drain's flow.
  TankExchange(const DrainSpec& drain, Litres asked, const FlowEvidence& tank, MonoTime now);

  // `returned`: by the run of the pump that fills, so far.
  void step(const DrainSpec& drain, const FlowEvidence& tank, Litres returned, MonoTime now);

  [[nodiscard]] ExchangePhase phase() const { return phase_; }
  [[nodiscard]] ExchangeAmounts amounts() const;
  // Of what is asked all was drained and returned, and the levels have come to rest.
  [[nodiscard]] bool complete() const { return complete_; }
  // After a portion, at rest: drained and returned differ by more than the tolerance.
  [[nodiscard]] bool unbalanced() const { return unbalanced_; }
  // The drain is off and water goes on leaving the tank.
  [[nodiscard]] bool flows_on(const DrainSpec& drain) const;
  [[nodiscard]] Duration drained_for(MonoTime now) const;
  [[nodiscard]] const PumpRun& drain_run() const { return run_; }
  [[nodiscard]] std::optional<Litres> tank_start() const { return tank_start_; }
  // At the end of this portion.
  [[nodiscard]] Litres to_drain() const { return to_drain_; }

 private:
  void enter(ExchangePhase phase, MonoTime now);
  void begin_portion(const DrainSpec& drain, const FlowEvidence& tank, MonoTime now);
  [[nodiscard]] Litres drained() const { return drained_before_ + run_.drawn(); }

  ExchangePhase phase_ = ExchangePhase::Draining;
  MonoTime phase_since_;
  Litres asked_;
  Litres to_drain_;
  PumpRun run_;            // of the drain, in this portion
  Litres drained_before_;  // in earlier portions
  Duration drained_for_before_{0};
  Litres drained_at_stop_;
  Litres returned_;
  std::optional<Litres> tank_start_;
  std::optional<Litres> tank_;  // lightly smoothed
  bool unbalanced_ = false;
  bool complete_ = false;
};

}  // namespace brinegate
