// SPDX-License-Identifier: Apache-2.0
// What an alarm means and what a person does about it.
#include <algorithm>

#include <fmt/format.h>

#include "config/advice.h"
#include "config/quantity.h"

namespace brinegate::config {

namespace {

// Of the alarms that came with drains, hold-offs and the watch after a stop.
AlarmWords words_of_exchange(AlarmId alarm) {
  switch (alarm) {
    case AlarmId::OutputTakenOver:
      return {
          "An output was found switched otherwise than it was left: another controller, a hand "
          "on the relay, or a relay that restarted.",
          "Two masters undo each other, and water may have moved that nobody judged.",
          "Find who else switches it and take it away from there, then acknowledge."};
    case AlarmId::TopOffNotHeld:
      return {
          "Top-off and dosing did not confirm that they were held off during a run.",
          "Fresh water may have run into the tank in place of salt water.",
          "Look at the top-off and its contact, measure the tank's salinity, then acknowledge."};
    case AlarmId::TopOffStillHeld:
      return {"Top-off and dosing were let go and still say that they are held off.",
              "The tank gets no fresh water, and its salinity rises.",
              "Switch them on by hand, look at their relay and contact, then acknowledge."};
    case AlarmId::ExchangeUnfinished:
      return {"A water change stopped with old water taken out and not replaced.",
              "The tank stands low: pumps may run dry and corals may stand in air.",
              "Fill it by hand with water that is fit, then acknowledge."};
    case AlarmId::ExchangeUnbalanced:
      return {"What was taken out of the tank and what was returned are not the same.",
              "The tank stands too low or too high, or water is on the floor.",
              "Look at the tank, the hoses and the floor, set the level right, then acknowledge."};
    case AlarmId::DrainRunningWhileOff:
      return {
          "The drain has power although it is off: a welded contact, a hand on the switch, or "
          "another controller.",
          "The tank empties.",
          "Cut the drain's power at its plug, find the cause, then acknowledge."};
    case AlarmId::DrainNotRunningWhileOn:
      return {
          "The drain has no power although it is on: a tripped breaker, a broken relay or wire.",
          "The water change did not happen.",
          "Restore the drain's power, then acknowledge and ask again."};
    case AlarmId::DrainFlowsOn:
      return {
          "Water goes on leaving the tank although its drain is off: a siphon, or a drain that "
          "runs unseen.",
          "The tank empties down to the end of the hose.",
          "Lift the hose out of the water or let air into it, cut the drain's power, then "
          "acknowledge."};
    case AlarmId::FlowsOnAfterStop:
      return {"Water went on flowing after the pump was stopped: a siphon, or a welded contact.",
              "The tank may overflow, and the reservoir empties.",
              "Lift the hose out of the water or let air into it, cut the pump's power, then "
              "acknowledge."};
    case AlarmId::FlowsBackAfterStop:
      return {
          "The reservoir rose after the pump was stopped: water flows back out of the tank, or "
          "somebody fills it.",
          "The tank stands lower, and its water is in the batch, which is not what was proven.",
          "Let air into the hose and look at the check valve, then acknowledge."};
    default:
      return {};
  }
}

}  // namespace

AlarmWords words_of(AlarmId alarm) {
  switch (alarm) {
    case AlarmId::PumpRunningWhileShut:
      return {
          "The pump has power although the gate is shut: a welded contact, a hand on the "
          "switch, or another controller.",
          "Water that nobody judged may be flowing into the tank.",
          "Cut the pump's power at its plug, find the cause, then acknowledge."};
    case AlarmId::PumpNotRunningWhileOpen:
      return {
          "The pump has no power although the gate was open: a tripped breaker, a broken relay "
          "or wire.",
          "The water change did not happen.",
          "Restore the pump's power, then acknowledge and ask again."};
    case AlarmId::LevelFallingWhileShut:
      return {
          "The reservoir's level fell although the gate is shut: a siphon, a leak, or a pump "
          "that runs unseen.",
          "Water is on the floor or in the tank.",
          "Look at the hoses and the floor, break the siphon, then acknowledge."};
    case AlarmId::RunLimitPassed:
      return {"A run of the pump took more water or time than it may.",
              "The tank may have received too much, or a hose has come off.",
              "Find out where the water went, then acknowledge."};
    case AlarmId::ChangeEndedEarly:
      return {"A water change ended before its volume.", "The tank may stand lower than it should.",
              "Read why it ended, finish by hand if needed, then acknowledge."};
    case AlarmId::ChangeInterrupted:
      return {"The daemon stopped in the middle of a water change.",
              "Less water than asked for has reached the tank.",
              "Read how much was drawn, finish by hand if needed, then acknowledge."};
    case AlarmId::RecordFailing:
      return {"The record cannot be written.", "The gate stays shut.",
              "Free space on the disk or replace it, then acknowledge."};
    default:
      return words_of_exchange(alarm);
  }
}

// S19: with what is to be done by hand, in litres.
AlarmText text_of(AlarmId alarm, const brinegate::Station& station) {
  const AlarmWords words = words_of(alarm);
  AlarmText text{std::string(words.cause), std::string(words.consequence),
                 std::string(words.action)};
  const auto& left = station.unfinished();
  if (alarm != AlarmId::ExchangeUnfinished || !left)
    return text;
  const Litres missing = std::max(Litres(0.0), left->amounts.missing());
  text.cause = fmt::format("The water change {} stopped with {} drained and {} of {} returned.",
                           left->permit, show(left->amounts.drained), show(left->amounts.returned),
                           show(left->asked));
  const std::string lacks = fmt::format("{}{}", left->known ? "" : "at most ", show(missing));
  text.consequence = fmt::format("The tank lacks {} of water: its pumps may run dry.", lacks);
  const Batch& batch = station.batch();
  const bool still_proven = batch.id == left->batch && batch.is_proven();
  text.action = still_proven
                    ? fmt::format(
                          "Switch off what tops up the tank with fresh water. Return {} of this "
                          "batch by hand: it is still proven. Then acknowledge.",
                          lacks)
                    : fmt::format(
                          "Switch off what tops up the tank with fresh water. The batch is not "
                          "proven any more: do not use it. Return {} of salt water that you have "
                          "measured yourself, then acknowledge.",
                          lacks);
  return text;
}

}  // namespace brinegate::config
