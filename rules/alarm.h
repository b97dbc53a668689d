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
};
constexpr std::size_t alarm_count = 7;

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
