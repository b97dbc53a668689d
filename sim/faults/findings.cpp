// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/findings.h"

#include <algorithm>
#include <iterator>
#include <utility>

namespace brinegate::sim {
namespace {

constexpr std::array<std::string_view, invariants> invariant_words{
    "no pumping on water out of its profile while a cell is honest",
    "no power longer than one lease after the last renewal",
    "no opening without a permit on the disk, each used once",
    "never open within the dwell after a check shut, or a start",
    "every acknowledged append is found after a restart",
    "what the disk refused is offered again",
    "after a start the batch is what the record says",
    "an answered id is not acted on twice",
    "what may not be asked is refused",
    "no run beyond its time limit",
    "power without a permit is an alarm in time",
    "water that leaves while shut is an alarm in time",
    "recovers once the faults end",
};

constexpr std::array<std::string_view, marks> mark_words{
    "killed between permit asked and on record",
    "killed with a permit on record, not yet open",
    "killed while open",
    "killed between an act and its record",
    "restart during a change",
    "stop during a change",
    "stopped again while stopping",
    "reload during a change",
    "edited configuration voided a proof",
    "disk failed while open",
    "disk silent while open",
    "entries refused by the disk written later",
    "append torn at a kill found whole",
    "append torn at a kill found absent",
    "corrupted record refused the start",
    "clock jumped back while open",
    "clock jumped forward while open",
    "welded relay seen",
    "second cut-off took a welded relay's power",
    "second master seen",
    "second master undone",
    "siphon seen",
    "pump without power seen",
    "change ended without flow",
    "top-off poured during a change",
    "proof lost by water",
    "salinity or disagreeing cells shut an open gate",
    "disagreeing cells kept a batch unproven",
    "probe lost while open",
    "deaf output while open",
    "lease lapsed by itself",
    "retained request refused",
    "hostile request refused",
    "act not allowed for the network refused",
    "duplicate id answered",
    "duplicate id answered after a restart",
    "retained sample delivered",
    "stop command ended a change",
    "leak shut the gate",
    "batch rejected",
    "batch proven after an advised correction",
    "run beyond its limit seen",
    "interrupted change told",
};

template <std::size_t N>
void add_each(std::array<std::uint64_t, N>& to, const std::array<std::uint64_t, N>& from) {
  std::transform(to.begin(), to.end(), from.begin(), to.begin(), std::plus<>());
}

}  // namespace

std::string_view word(Invariant invariant) {
  return invariant_words[static_cast<std::size_t>(invariant)];
}

std::string_view word(Mark mark) {
  return mark_words[static_cast<std::size_t>(mark)];
}

void Unavoidable::add(const Unavoidable& other) {
  welded_s += other.welded_s;
  second_master_s += other.second_master_s;
  siphon_s += other.siphon_s;
  before_any_cell_s += other.before_any_cell_s;
  without_honest_cell_s += other.without_honest_cell_s;
}

void Tally::add(Tally other) {
  lives += other.lives;
  station_seconds += other.station_seconds;
  turns += other.turns;
  batches += other.batches;
  proofs += other.proofs;
  changes_asked += other.changes_asked;
  changes_completed += other.changes_completed;
  opens += other.opens;
  kills += other.kills;
  restarts += other.restarts;
  appends_acknowledged += other.appends_acknowledged;
  recovered += other.recovered;
  slowest_recovery_s = std::max(slowest_recovery_s, other.slowest_recovery_s);
  pumped_s += other.pumped_s;
  add_each(faults, other.faults);
  add_each(checked, other.checked);
  add_each(violated, other.violated);
  add_each(reached, other.reached);
  unavoidable.add(other.unavoidable);
  std::move(other.violations.begin(), other.violations.end(), std::back_inserter(violations));
}

}  // namespace brinegate::sim
