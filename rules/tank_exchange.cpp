// SPDX-License-Identifier: Apache-2.0
#include "rules/tank_exchange.h"

#include <algorithm>
#include <cmath>

namespace brinegate {
namespace {

constexpr double newest_tank_share = 0.5;  // of the level

bool beyond(Litres difference, Litres tolerance) {
  return std::abs(difference.value()) > tolerance.value();
}

}  // namespace

TankExchange::TankExchange(const DrainSpec& drain, Litres asked, const FlowEvidence& tank,
                           MonoTime now)
    : asked_(asked), tank_start_(tank.volume), tank_(tank.volume) {
  begin_portion(drain, tank, now);
}

void TankExchange::begin_portion(const DrainSpec& drain, const FlowEvidence& tank, MonoTime now) {
  const Litres portion = drain.portion > Litres(0.0) ? drain.portion : asked_;
  drained_before_ += run_.drawn();
  to_drain_ = std::min(asked_, returned_ + portion);
  run_ = PumpRun({tank_, tank.flow}, now);
  enter(ExchangePhase::Draining, now);
}

void TankExchange::enter(ExchangePhase phase, MonoTime now) {
  phase_ = phase;
  phase_since_ = now;
}

ExchangeAmounts TankExchange::amounts() const {
  ExchangeAmounts amounts{drained(), returned_, std::nullopt};
  if (tank_start_ && tank_)
    amounts.tank_lacks = *tank_start_ - *tank_;
  return amounts;
}

bool TankExchange::flows_on(const DrainSpec& drain) const {
  return phase_ == ExchangePhase::AfterDrain && drained() - drained_at_stop_ > drain.tolerance;
}

Duration TankExchange::drained_for(MonoTime now) const {
  const bool runs = phase_ == ExchangePhase::Draining;
  return drained_for_before_ + (runs ? run_.elapsed(now) : Duration::zero());
}

void TankExchange::step(const DrainSpec& drain, const FlowEvidence& tank, Litres returned,
                        MonoTime now) {
  returned_ = returned;
  if (tank.volume) {
    const Litres before = tank_.value_or(*tank.volume);
    tank_ = before + (*tank.volume - before) * newest_tank_share;
    if (!tank_start_)
      tank_start_ = tank_;
  }
  // A pump stops, hoses run empty, levels come to rest.
  const bool rested = now - phase_since_ >= 2 * drain.pump.readback_within;
  switch (phase_) {
    case ExchangePhase::Draining:
      run_.step(tank, now);
      if (drained() < to_drain_)
        break;
      drained_for_before_ += run_.elapsed(now);
      drained_at_stop_ = drained();
      enter(ExchangePhase::AfterDrain, now);
      break;
    case ExchangePhase::AfterDrain:
      run_.stand(tank, now);
      if (rested && !flows_on(drain))
        enter(ExchangePhase::Returning, now);
      break;
    case ExchangePhase::Returning:
      if (returned_ >= std::min(drained(), asked_))
        enter(ExchangePhase::AfterReturn, now);
      break;
    case ExchangePhase::AfterReturn:
      if (!rested)
        break;
      unbalanced_ = beyond(drained() - returned_, drain.tolerance) ||
                    beyond(amounts().missing(), drain.tolerance);
      complete_ = returned_ >= asked_ || (to_drain_ >= asked_ && drained() >= asked_);
      if (!complete_ && !unbalanced_)
        begin_portion(drain, {tank_, tank.flow}, now);
      break;
  }
}

}  // namespace brinegate
