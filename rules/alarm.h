// SPDX-License-Identifier: Apache-2.0
// The station's alarms, with the states of ISA-18.2 / IEC 62682. An alarm stays until its condition
// is gone and a person has acknowledged it, in either order; until then what it blocks is blocked.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "rules/time.h"

namespace brinegate {

enum class AlarmId {
  PumpRunningWhileShut,     // welded contact, a hand on the switch, another master
  PumpNotRunningWhileOpen,  // tripped breaker, broken relay or wire
  LevelFallingWhileShut,    // siphon, leak, a pump that runs unseen
  RunLimitPassed,           // "while proven": a run took longer or more than it may
  ChangeEndedEarly,         // a change ended before its volume
  ChangeInterrupted,        // the daemon stopped in the middle of a change
  RecordFailing,            // the disk does not take the record
  OutputTakenOver,          // an output is not as it was left: another master, a hand
  TopOffNotHeld,            // "while proven": top-off or dosing was not held off during a run
  TopOffStillHeld,          // let go, and still held off: the tank gets no fresh water
  ExchangeUnfinished,       // old water was taken out and not all of it is replaced
  ExchangeUnbalanced,       // what was taken out and what was put in are not the same
  DrainRunningWhileOff,     // welded contact, a hand on the switch, another master
  DrainNotRunningWhileOn,   // tripped breaker, broken relay or wire
  DrainFlowsOn,             // the tank empties although its drain is off: a siphon
  FlowsOnAfterStop,         // water goes on after the pump was stopped: siphon, welded contact
  FlowsBackAfterStop,       // the reservoir rises after the pump was stopped
};
constexpr std::size_t alarm_count = 17;

// How soon a person must act (ISA-18.2: by the consequence, and the time there is).
enum class AlarmPriority { Medium, High, Highest };
AlarmPriority priority_of(AlarmId id);

enum class AlarmState { Unacknowledged, Acknowledged, ReturnedUnacknowledged, Normal };

struct Alarm {
  AlarmId id = AlarmId::PumpRunningWhileShut;
  AlarmState state = AlarmState::Unacknowledged;
  MonoTime since;  // of this state
};

class AlarmBook {
 public:
  AlarmBook();
  void set_condition(AlarmId id, bool present, MonoTime now);
  // Raises it without a lasting condition: it has happened, and a person must know.
  void raise_once(AlarmId id, MonoTime now);
  // False where there is nothing to acknowledge.
  bool acknowledge(AlarmId id, MonoTime now);
  void restore(AlarmId id, AlarmState state, MonoTime now);

  [[nodiscard]] AlarmState state(AlarmId id) const;
  [[nodiscard]] bool is_normal(AlarmId id) const { return state(id) == AlarmState::Normal; }
  [[nodiscard]] std::vector<Alarm> standing() const;  // all that are not normal
  // Those whose state changed since the last call.
  std::vector<Alarm> take_changes();

 private:
  struct Entry {
    Alarm alarm;
    bool present = false;
    bool acknowledged = true;
    AlarmState reported = AlarmState::Normal;
  };
  void settle(Entry& entry, MonoTime now);
  Entry& entry(AlarmId id) { return entries_[static_cast<std::size_t>(id)]; }

  std::array<Entry, alarm_count> entries_;
};

}  // namespace brinegate
