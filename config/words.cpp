// SPDX-License-Identifier: Apache-2.0
#include "config/words.h"

#include <array>
#include <cstddef>

#include "rules/check_catalogue.h"

namespace brinegate::config {
namespace {

// One table an enumeration, in its order; the size is checked against the last enumerator.
template <class Enum, std::size_t n>
struct Words {
  std::array<std::string_view, n> words;

  [[nodiscard]] constexpr std::string_view of(Enum value) const {
    return words[static_cast<std::size_t>(value)];
  }
  [[nodiscard]] constexpr std::optional<Enum> find(std::string_view word) const {
    for (std::size_t i = 0; i < n; ++i)
      if (words[i] == word)
        return static_cast<Enum>(i);
    return std::nullopt;
  }
};

template <class Enum>
constexpr std::size_t up_to(Enum last) {
  return static_cast<std::size_t>(last) + 1;
}

constexpr Words<Quality, up_to(Quality::Good)> qualities{{"bad", "uncertain", "good"}};
constexpr Words<QualityReason, up_to(QualityReason::None)> quality_reasons{
    {"no sample", "stale", "fault", "retained", "source clock ahead", "not a number", "gross range",
     "exactly zero", "in air", "spike", "rate of change", "flat line", "outside equation", "none"}};
constexpr Words<SampleFault, up_to(SampleFault::ProcessEnded)> sample_faults{
    {"none", "not connected", "time-out", "device exception", "bad answer", "unparsable",
     "process ended"}};
constexpr Words<Verdict, up_to(Verdict::Met)> verdicts{{"violated", "waiting", "not asked", "met"}};
constexpr Words<BatchPhase, up_to(BatchPhase::Drawing)> phases{
    {"empty", "rejected", "filling", "mixing", "proven", "drawing"}};
constexpr Words<GateState, up_to(GateState::Open)> gate_states{{"shut", "open"}};
constexpr Words<ChangeEnd, up_to(ChangeEnd::VolumeReached)> change_ends{
    {"interrupted", "gate shut", "not held off", "no flow", "time limit", "no drain flow",
     "drain time limit", "drain flows on", "unbalanced", "reservoir low", "stopped",
     "volume reached"}};
constexpr Words<ProofVoid, up_to(ProofVoid::LotEdited)> proof_voids{
    {"none", "something added", "level rose", "salinity moved", "risk grew", "recalibrated",
     "stood still", "evaporated", "profile edited", "probe edited", "lot edited"}};
constexpr Words<BatchEnd, up_to(BatchEnd::Used)> batch_ends{{"abandoned", "replaced", "used"}};
constexpr Words<WaiverEnd, up_to(WaiverEnd::Restarted)> waiver_ends{
    {"expired", "withdrawn", "replaced", "restarted"}};
constexpr Words<AlarmId, up_to(AlarmId::FlowsBackAfterStop)> alarms{
    {"pump-running-while-shut", "pump-not-running-while-open", "level-falling-while-shut",
     "run-limit-passed", "change-ended-early", "change-interrupted", "record-failing",
     "output-taken-over", "top-off-not-held", "top-off-still-held", "exchange-unfinished",
     "exchange-unbalanced", "drain-running-while-off", "drain-not-running-while-on",
     "drain-flows-on", "flows-on-after-stop", "flows-back-after-stop"}};
static_assert(up_to(AlarmId::FlowsBackAfterStop) == alarm_count);
constexpr Words<AlarmPriority, up_to(AlarmPriority::Highest)> priorities{
    {"medium", "high", "highest"}};
constexpr Words<ExchangePhase, up_to(ExchangePhase::AfterReturn)> exchange_phases{
    {"draining", "after drain", "returning", "after return"}};
constexpr Words<AlarmState, up_to(AlarmState::Normal)> alarm_states{
    {"unacknowledged", "acknowledged", "returned unacknowledged", "normal"}};
constexpr Words<CorrectionAction, up_to(CorrectionAction::ReplaceWithWater)> correction_actions{
    {"add-salt", "add-water", "replace-with-water"}};
constexpr Words<DoseSuspect, up_to(DoseSuspect::Probe)> dose_suspects{
    {"weight", "volume", "yield", "probe"}};
constexpr Words<Widening, up_to(Widening::WiderTolerance)> widenings{
    {"fresh-calibration", "second-cell", "weighed-salt", "measured-salt-factor",
     "wider-tolerance"}};
constexpr Words<HealthWitness, up_to(HealthWitness::OtherCell)> health_witnesses{
    {"standard", "dose", "other cell"}};

}  // namespace

std::string_view word(Quality quality) {
  return qualities.of(quality);
}
std::string_view word(QualityReason reason) {
  return quality_reasons.of(reason);
}
std::string_view word(SampleFault fault) {
  return sample_faults.of(fault);
}
std::string_view word(Verdict verdict) {
  return verdicts.of(verdict);
}
std::string_view word(CheckId check) {
  return check_row(check).name;
}
std::string_view word(BatchPhase phase) {
  return phases.of(phase);
}
std::string_view word(GateState state) {
  return gate_states.of(state);
}
std::string_view word(ChangeEnd end) {
  return change_ends.of(end);
}
std::string_view word(ProofVoid reason) {
  return proof_voids.of(reason);
}
std::string_view word(BatchEnd end) {
  return batch_ends.of(end);
}
std::string_view word(WaiverEnd end) {
  return waiver_ends.of(end);
}
std::string_view word(AlarmId alarm) {
  return alarms.of(alarm);
}
std::string_view word(AlarmPriority priority) {
  return priorities.of(priority);
}
std::string_view word(ExchangePhase phase) {
  return exchange_phases.of(phase);
}
std::string_view word(AlarmState state) {
  return alarm_states.of(state);
}
std::string_view word(CorrectionAction action) {
  return correction_actions.of(action);
}
std::string_view word(DoseSuspect suspect) {
  return dose_suspects.of(suspect);
}
std::string_view word(Widening way) {
  return widenings.of(way);
}
std::string_view word(HealthWitness witness) {
  return health_witnesses.of(witness);
}

std::optional<CheckId> check_of(std::string_view word) {
  for (const CheckRow& row : check_catalogue())
    if (row.name == word)
      return row.id;
  return std::nullopt;
}
std::optional<AlarmId> alarm_of(std::string_view word) {
  return alarms.find(word);
}
std::optional<AlarmState> alarm_state_of(std::string_view word) {
  return alarm_states.find(word);
}
std::optional<BatchPhase> phase_of(std::string_view word) {
  return phases.find(word);
}
std::optional<ProofVoid> proof_void_of(std::string_view word) {
  return proof_voids.find(word);
}
std::optional<HealthWitness> health_witness_of(std::string_view word) {
  return health_witnesses.find(word);
}

}  // namespace brinegate::config
