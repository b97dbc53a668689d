// SPDX-License-Identifier: Apache-2.0
#include "rules/water_change.h"

#include <algorithm>

namespace brinegate {

std::optional<ChangeEnd> limit_of(const PumpRun& run, const StationSpec& station, Litres asked,
                                  MonoTime now) {
  const PumpSpec& pump = *station.pump;
  if (run.drawn() >= std::min(asked, pump.max_volume))
    return ChangeEnd::VolumeReached;
  if (run.volume() && *run.volume() <= station.low_level)
    return ChangeEnd::ReservoirLow;
  if (run.elapsed(now) >= pump.max_run)
    return ChangeEnd::TimeLimit;
  if (run.still_for(now) >= pump.no_flow_after)
    return ChangeEnd::NoFlow;
  return std::nullopt;
}

std::optional<ChangeEnd> limit_of(const TankExchange& exchange, const DrainSpec& drain,
                                  MonoTime now) {
  if (exchange.flows_on(drain))
    return ChangeEnd::DrainFlowsOn;
  if (exchange.drained_for(now) >= drain.pump.max_run)
    return ChangeEnd::DrainTimeLimit;
  if (exchange.phase() == ExchangePhase::Draining &&
      exchange.drain_run().still_for(now) >= drain.pump.no_flow_after)
    return ChangeEnd::NoDrainFlow;
  if (exchange.unbalanced() && !exchange.complete())
    return ChangeEnd::Unbalanced;
  return std::nullopt;
}

}  // namespace brinegate
