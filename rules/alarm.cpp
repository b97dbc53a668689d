// SPDX-License-Identifier: Apache-2.0
#include "rules/alarm.h"

namespace brinegate {

AlarmPriority priority_of(AlarmId id) {
  switch (id) {
    case AlarmId::PumpRunningWhileShut:
    case AlarmId::LevelFallingWhileShut:
    case AlarmId::ExchangeUnfinished:
    case AlarmId::DrainRunningWhileOff:
    case AlarmId::DrainFlowsOn:
    case AlarmId::FlowsOnAfterStop:
      return AlarmPriority::Highest;
    case AlarmId::PumpNotRunningWhileOpen:
    case AlarmId::RunLimitPassed:
    case AlarmId::ChangeEndedEarly:
    case AlarmId::ChangeInterrupted:
    case AlarmId::OutputTakenOver:
    case AlarmId::TopOffNotHeld:
    case AlarmId::TopOffStillHeld:
    case AlarmId::ExchangeUnbalanced:
    case AlarmId::FlowsBackAfterStop:
      return AlarmPriority::High;
    case AlarmId::RecordFailing:
    case AlarmId::DrainNotRunningWhileOn:
      break;
  }
  return AlarmPriority::Medium;
}

AlarmBook::AlarmBook() {
  for (std::size_t i = 0; i < entries_.size(); ++i)
    entries_[i].alarm = {static_cast<AlarmId>(i), AlarmState::Normal, {}};
}

void AlarmBook::settle(Entry& entry, MonoTime now) {
  const AlarmState state =
      entry.present
          ? (entry.acknowledged ? AlarmState::Acknowledged : AlarmState::Unacknowledged)
          : (entry.acknowledged ? AlarmState::Normal : AlarmState::ReturnedUnacknowledged);
  if (state == entry.alarm.state)
    return;
  entry.alarm.state = state;
  entry.alarm.since = now;
}

void AlarmBook::set_condition(AlarmId id, bool present, MonoTime now) {
  Entry& e = entry(id);
  if (present && !e.present)
    e.acknowledged = false;
  e.present = present;
  settle(e, now);
}

void AlarmBook::raise_once(AlarmId id, MonoTime now) {
  Entry& e = entry(id);
  e.acknowledged = false;
  settle(e, now);
}

bool AlarmBook::acknowledge(AlarmId id, MonoTime now) {
  Entry& e = entry(id);
  if (e.acknowledged)
    return false;
  e.acknowledged = true;
  settle(e, now);
  return true;
}

void AlarmBook::restore(AlarmId id, AlarmState state, MonoTime now) {
  Entry& e = entry(id);
  e.acknowledged = state == AlarmState::Acknowledged || state == AlarmState::Normal;
  e.reported = state;
  e.present = state == AlarmState::Acknowledged || state == AlarmState::Unacknowledged;
  settle(e, now);
}

AlarmState AlarmBook::state(AlarmId id) const {
  return entries_[static_cast<std::size_t>(id)].alarm.state;
}

std::vector<Alarm> AlarmBook::standing() const {
  std::vector<Alarm> alarms;
  for (const Entry& e : entries_)
    if (e.alarm.state != AlarmState::Normal)
      alarms.push_back(e.alarm);
  return alarms;
}

std::vector<Alarm> AlarmBook::take_changes() {
  std::vector<Alarm> changes;
  for (Entry& e : entries_) {
    if (e.reported == e.alarm.state)
      continue;
    e.reported = e.alarm.state;
    changes.push_back(e.alarm);
  }
  return changes;
}

}  // namespace brinegate
