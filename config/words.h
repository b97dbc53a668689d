// SPDX-License-Identifier: Apache-2.0
// The stable words for what rules/ enumerates, as they stand in JSON, topics and the record, and on
// screens where no sentence is asked for.
#pragma once

#include <optional>
#include <string_view>

#include "rules/acceptance.h"
#include "rules/alarm.h"
#include "rules/batch.h"
#include "rules/check.h"
#include "rules/gate.h"
#include "rules/mass_balance.h"
#include "rules/probe_health.h"
#include "rules/reading.h"
#include "rules/station_events.h"
#include "rules/water_change.h"

namespace brinegate::config {

std::string_view word(Quality quality);
std::string_view word(QualityReason reason);
std::string_view word(SampleFault fault);
std::string_view word(Verdict verdict);
std::string_view word(CheckId check);
std::string_view word(BatchPhase phase);
std::string_view word(GateState state);
std::string_view word(ChangeEnd end);
std::string_view word(ProofVoid reason);
std::string_view word(BatchEnd end);
std::string_view word(WaiverEnd end);
std::string_view word(AlarmId alarm);
std::string_view word(AlarmPriority priority);
std::string_view word(ExchangePhase phase);
std::string_view word(AlarmState state);
std::string_view word(CorrectionAction action);
std::string_view word(DoseSuspect suspect);
std::string_view word(Widening way);
std::string_view word(HealthWitness witness);

std::optional<CheckId> check_of(std::string_view word);
std::optional<AlarmId> alarm_of(std::string_view word);
std::optional<AlarmState> alarm_state_of(std::string_view word);
std::optional<BatchPhase> phase_of(std::string_view word);
std::optional<ProofVoid> proof_void_of(std::string_view word);
std::optional<HealthWitness> health_witness_of(std::string_view word);

}  // namespace brinegate::config
