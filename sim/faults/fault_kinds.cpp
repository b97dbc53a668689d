// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/fault_kinds.h"

#include <array>

namespace brinegate::sim {
namespace {

constexpr std::array<std::string_view, fault_kinds> words{"cell stuck",
                                                          "cell drifts",
                                                          "cell off by a factor",
                                                          "cell spikes",
                                                          "cell with bubbles",
                                                          "cell in air",
                                                          "cell not a number",
                                                          "cell late",
                                                          "cell missing",
                                                          "thermometer lies",
                                                          "old time replayed",
                                                          "level stuck",
                                                          "link loses",
                                                          "link late",
                                                          "link silent",
                                                          "output deaf",
                                                          "broker loses",
                                                          "broker repeats",
                                                          "broker reorders",
                                                          "broker replays retained",
                                                          "broker away",
                                                          "disk full",
                                                          "disk slow",
                                                          "disk silent",
                                                          "record corrupted",
                                                          "clock back",
                                                          "clock forward",
                                                          "killed",
                                                          "killed at permit",
                                                          "killed at request",
                                                          "stopped",
                                                          "stopped twice",
                                                          "reloaded",
                                                          "reloaded edited",
                                                          "second master",
                                                          "relay welded",
                                                          "siphon",
                                                          "top-off",
                                                          "circulation stops",
                                                          "heater fails",
                                                          "pump blocked or unplugged",
                                                          "leak",
                                                          "hostile requests",
                                                          "repeated requests",
                                                          "wrong dose",
                                                          "secret addition",
                                                          "wrong calibration"};

}  // namespace

std::string_view word(FaultKind kind) {
  return words[static_cast<std::size_t>(kind)];
}

bool is_of_process(FaultKind kind) {
  switch (kind) {
    case FaultKind::Killed:
    case FaultKind::KilledAtPermit:
    case FaultKind::KilledAtRequest:
    case FaultKind::Stopped:
    case FaultKind::StoppedTwice:
    case FaultKind::Reloaded:
    case FaultKind::ReloadedEdited:
    case FaultKind::RecordCorrupted:
      return true;
    default:
      return false;
  }
}

bool is_habit(FaultKind kind) {
  return kind == FaultKind::WrongDose || kind == FaultKind::RepeatedRequests;
}

}  // namespace brinegate::sim
