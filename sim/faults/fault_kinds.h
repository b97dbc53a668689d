// SPDX-License-Identifier: Apache-2.0
// What can go wrong around a station: each kind of fault by its name. A swarm draws for each seed
// which of them are on at all, so that rare ones are not drowned by common ones.
#pragma once

#include <cstddef>
#include <string_view>

namespace brinegate::sim {

enum class FaultKind {
  // Probes. Of those that show wrong values within their range it is known to the world that the
  // cell is not honest.
  CellStuck,
  CellDrifts,
  CellWrongScale,
  CellSpikes,
  CellBubbles,
  CellInAir,
  CellNotANumber,
  CellLate,
  CellMissing,
  BathLies,
  BathOldTime,
  LevelStuck,
  // Links and outputs.
  LinkLoses,
  LinkLate,
  LinkSilent,
  OutputDeaf,
  // The broker.
  BrokerLoses,
  BrokerRepeats,
  BrokerReorders,
  BrokerReplays,
  BrokerAway,
  // The disk.
  DiskFull,
  DiskSlow,
  DiskSilent,
  RecordCorrupted,
  // The clock.
  ClockBack,
  ClockForward,
  // The process.
  Killed,
  KilledAtPermit,
  KilledAtRequest,
  Stopped,
  StoppedTwice,
  Reloaded,
  ReloadedEdited,
  // The devices and the water.
  SecondMaster,
  RelayWelded,
  Siphon,
  TopOff,
  CirculationStops,
  HeaterFails,
  PumpBlocked,
  Leak,
  // People and programs.
  HostileRequests,
  RepeatedRequests,
  WrongDose,
  SecretAddition,
  WrongCalibration,
};
inline constexpr std::size_t fault_kinds =
    static_cast<std::size_t>(FaultKind::WrongCalibration) + 1;

std::string_view word(FaultKind kind);
// What ends the process, or keeps it from starting.
bool is_of_process(FaultKind kind);
// Of people; lasts for weeks, and is nothing but how they do what they do anyway.
bool is_habit(FaultKind kind);

}  // namespace brinegate::sim
