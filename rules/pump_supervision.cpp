// SPDX-License-Identifier: Apache-2.0
#include "rules/pump_supervision.h"

#include <algorithm>

namespace brinegate {
namespace {

using namespace std::chrono_literals;
constexpr Duration level_period = 15min;
constexpr double newest_level_share = 0.2;  // of what is smoothed

}  // namespace

void PumpSupervision::step(const PumpSpec& pump, const PumpEvidence& evidence, MonoTime now) {
  if (asked_on_ != evidence.asked_on) {
    asked_on_ = evidence.asked_on;
    asked_since_ = now;
    contrary_since_.reset();
  }
  // "While proven" an open gate only lets the pump run: standing still is its own business.
  const bool may_stand = evidence.asked_on && pump.permit == PermitMode::WhileProven;
  const bool contrary = evidence.running && *evidence.running != evidence.asked_on && !may_stand;
  if (contrary && !contrary_since_)
    contrary_since_ = now;
  if (evidence.running && !contrary)  // a read-back that is lost for a moment acquits nobody
    contrary_since_.reset();
  const bool too_long = contrary && now - *contrary_since_ >= pump.readback_within;
  running_while_shut_ = too_long && !evidence.asked_on;
  not_running_while_open_ = too_long && evidence.asked_on;
  watch_level(pump, evidence, now);
}

void PumpSupervision::watch_level(const PumpSpec& pump, const PumpEvidence& evidence,
                                  MonoTime now) {
  const bool settled = !evidence.asked_on && now - asked_since_ >= 2 * pump.readback_within;
  if (!settled || !evidence.watch_level) {
    level_ = {};
    falling_while_shut_ = false;
    return;
  }
  if (!evidence.volume)
    return;
  const Litres before = level_.smoothed.value_or(*evidence.volume);
  level_.smoothed = before + (*evidence.volume - before) * newest_level_share;
  if (!level_.reference) {
    level_.reference = level_.next_reference = level_.smoothed;
    level_.period_began = now;
  }
  if (now - level_.period_began >= level_period) {
    level_.reference = level_.next_reference;
    level_.next_reference = level_.smoothed;
    level_.period_began = now;
  }
  falling_while_shut_ = *level_.smoothed < *level_.reference - pump.unasked_loss;
}

}  // namespace brinegate
