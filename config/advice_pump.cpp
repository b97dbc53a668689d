// SPDX-License-Identifier: Apache-2.0
#include "config/advice_pump.h"

namespace brinegate::config {
namespace {

std::string not_following(const AlarmBook& alarms) {
  if (!alarms.is_normal(AlarmId::PumpRunningWhileShut))
    return "The pump ran while shut: cut its power, find out why, then acknowledge.";
  if (!alarms.is_normal(AlarmId::PumpNotRunningWhileOpen))
    return "The pump did not run while open: find out why, then acknowledge.";
  if (!alarms.is_normal(AlarmId::DrainRunningWhileOff))
    return "The drain ran while off: cut its power, find out why, then acknowledge.";
  if (!alarms.is_normal(AlarmId::DrainNotRunningWhileOn))
    return "The drain did not run while on: find out why, then acknowledge.";
  return "Somebody else switched an output: find out who, then acknowledge.";
}

std::string not_within_limits(const AlarmBook& alarms) {
  if (!alarms.is_normal(AlarmId::ExchangeUnfinished))
    return "The tank was left short of water: finish by hand, then acknowledge.";
  if (!alarms.is_normal(AlarmId::ExchangeUnbalanced))
    return "Drained and returned differ: find out where the water went, then acknowledge.";
  return "A run passed its limit: find out why, then acknowledge.";
}

}  // namespace

std::string pump_sentence(const CheckResult& check, const brinegate::Station& station) {
  const bool met = check.verdict == Verdict::Met;
  const bool waiting = check.verdict == Verdict::Waiting;
  switch (check.id) {
    case CheckId::NoLeak:
      return met       ? "No leak."
             : waiting ? "Waiting for the leak probe."
                       : "Water where it must be dry.";
    case CheckId::TankNotFull:
      return met       ? "The tank has room."
             : waiting ? "Waiting for the tank's contact."
                       : "The tank is full.";
    case CheckId::LevelAboveLow:
      if (waiting)
        return "Waiting for the level.";
      return met ? "There is water to draw." : "The reservoir is at its low level: fill it.";
    case CheckId::PumpFollows:
      if (met)
        return "The pump does what it is told.";
      if (waiting)
        return "The pump's output does not answer: check its line and power.";
      return not_following(station.alarms());
    case CheckId::WaterStays:
      return met ? "No water is lost."
                 : "Water flowed while shut: look for a siphon or a leak, then acknowledge.";
    case CheckId::RunWithinLimits:
      return met ? "Runs stay within their limits." : not_within_limits(station.alarms());
    case CheckId::TopOffHeld:
      return met       ? "Top-off and dosing are held off."
             : waiting ? "Waiting for top-off and dosing to confirm that they are held off."
                       : "Top-off and dosing are no longer held off: see to them first.";
    default:
      return "";
  }
}

}  // namespace brinegate::config
