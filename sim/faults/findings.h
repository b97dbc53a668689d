// SPDX-License-Identifier: Apache-2.0
// What a life under faults is judged by: invariants that must hold at every step, rare branches
// that a campaign must have reached, and what the world made unavoidable, which is counted apart.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "rules/time.h"
#include "sim/faults/fault_kinds.h"

namespace brinegate::sim {

enum class Invariant {
  GoodWater,      // no second of pumping by permit on water out of its profile, one cell honest
  Lease,          // the pump has power no longer than one lease after the last renewal
  PermitOnDisk,   // it opens only with a permit that the disk has acknowledged, each but once
  Dwell,          // never open again within the dwell after a check shut it, or after a start
  RecordFound,    // what was acknowledged is on the disk after a restart
  RecordTold,     // what the disk refused is offered again until it is taken
  StateRestored,  // after a start the batch and its phase are what the record says
  ActsOnce,       // an answered id repeats its answer and never its act
  Refused,        // retained, malformed and not allowed requests are refused
  RunLimit,       // no run by permit passes its time limit
  ReadBackAlarm,  // power without a permit, seen by the read-back, is an alarm in time
  LevelAlarm,     // water that leaves while shut is an alarm in time
  Recovers,       // once all faults end a batch becomes proven and a change completes in time
};
inline constexpr std::size_t invariants = static_cast<std::size_t>(Invariant::Recovers) + 1;

enum class Mark {
  KilledBeforePermitOnRecord,
  KilledWithPermitOnRecord,
  KilledWhileOpen,
  KilledBetweenActAndRecord,
  RestartDuringChange,
  StopDuringChange,
  StoppedTwice,
  ReloadDuringChange,
  EditVoidedProof,
  DiskFailedWhileOpen,
  DiskSilentWhileOpen,
  RefusedEntriesWritten,
  TornAppendWhole,
  TornAppendAbsent,
  CorruptedRecordRefused,
  ClockBackWhileOpen,
  ClockForwardWhileOpen,
  WeldedRelaySeen,
  CutoffDroppedWelded,
  SecondMasterSeen,
  SecondMasterUndone,
  SiphonSeen,
  PumpNotRunningSeen,
  NoFlowEndedChange,
  TopOffDuringChange,
  ProofLostByWater,
  SalinityShut,
  DisagreementBlockedProof,
  ProbeLostWhileOpen,
  OutputDeafWhileOpen,
  LeaseLapsedAlone,
  RetainedRequestRefused,
  HostileRequestRefused,
  NetworkActRefused,
  RepeatedIdAnswered,
  RepeatedIdAnsweredAfterRestart,
  RetainedSampleDelivered,
  StopCommandEndedChange,
  LeakShut,
  BatchRejected,
  CorrectionProven,
  RunLimitSeen,
  ChangeInterruptedTold,
};
inline constexpr std::size_t marks = static_cast<std::size_t>(Mark::ChangeInterruptedTold) + 1;

std::string_view word(Invariant invariant);
std::string_view word(Mark mark);

struct Violation {
  Invariant invariant = Invariant::GoodWater;
  std::uint64_t seed = 0;
  Duration at{0};
  std::string what;
  std::vector<std::string> story;  // what happened before it, shortly
};

// Seconds of pumping that no rule could have prevented, and those that only an instrument could.
struct Unavoidable {
  double welded_s = 0.0;               // a contact that cannot open
  double second_master_s = 0.0;        // somebody else's hand on the output
  double siphon_s = 0.0;               // flow without power
  double before_any_cell_s = 0.0;      // the water changed, and no cell could have shown it yet
  double without_honest_cell_s = 0.0;  // off its profile while every cell, or the thermometer, lied

  void add(const Unavoidable& other);
};

// What became of one life, and of many together.
struct Tally {
  std::uint64_t lives = 0;
  double station_seconds = 0.0;
  std::uint64_t turns = 0;
  std::uint64_t batches = 0;
  std::uint64_t proofs = 0;
  std::uint64_t changes_asked = 0;
  std::uint64_t changes_completed = 0;
  std::uint64_t opens = 0;
  std::uint64_t kills = 0;
  std::uint64_t restarts = 0;
  std::uint64_t appends_acknowledged = 0;
  std::uint64_t recovered = 0;  // lives
  double slowest_recovery_s = 0.0;
  double pumped_s = 0.0;  // by permit
  std::array<std::uint64_t, fault_kinds> faults{};
  std::array<std::uint64_t, invariants> checked{};
  std::array<std::uint64_t, invariants> violated{};  // lives
  std::array<std::uint64_t, marks> reached{};
  Unavoidable unavoidable;
  std::vector<Violation> violations;

  void add(Tally other);
};

}  // namespace brinegate::sim
