// SPDX-License-Identifier: Apache-2.0
#include "rules/check_catalogue.h"

#include "rules/checks/checks.h"

namespace brinegate {
namespace {

// Small functions and what people and machines need to know about them.
constexpr std::array<CheckRow, check_count> catalogue = {{
    {CheckId::RecordKept, "record-kept", "Record", "S11", false, CheckUnit::None,
     checks::record_kept},
    {CheckId::ProbesGood, "probes-good", "Probes", "S3 S4", true, CheckUnit::None,
     checks::probes_good},
    {CheckId::ProbesVerified, "probes-verified", "Probes verified", "S22", true, CheckUnit::None,
     checks::probes_verified},
    {CheckId::RealSource, "real-source", "Real source", "S17", true, CheckUnit::None,
     checks::real_source},
    {CheckId::NoLeak, "no-leak", "No leak", "S6", false, CheckUnit::None, checks::no_leak},
    {CheckId::TankNotFull, "tank-not-full", "Tank not full", "S6", false, CheckUnit::None,
     checks::tank_not_full},
    {CheckId::LevelAboveLow, "level-above-low", "Reservoir level", "S6", false,
     CheckUnit::VolumeLitres, checks::level_above_low},
    {CheckId::PumpFollows, "pump-follows", "Pump read-back", "S5", false, CheckUnit::None,
     checks::pump_follows},
    {CheckId::WaterStays, "water-stays", "No loss of water", "S5", false, CheckUnit::None,
     checks::water_stays},
    {CheckId::RunWithinLimits, "run-within-limits", "Run limits", "S6", false, CheckUnit::None,
     checks::run_within_limits},
    {CheckId::TopOffHeld, "top-off-held", "Top-off held off", "S18", false, CheckUnit::None,
     checks::top_off_held},
    {CheckId::CellsAgree, "cells-agree", "Cells agree", "S4", true, CheckUnit::Psu,
     checks::cells_agree},
    {CheckId::Uniform, "uniform", "Uniform", "S1", true, CheckUnit::Seconds, checks::uniform},
    {CheckId::TemperatureFlat, "temperature-flat", "Temperature response", "S21", true,
     CheckUnit::PsuPerCelsius, checks::temperature_flat},
    {CheckId::OnTarget, "on-target", "Salinity", "S1", true, CheckUnit::Psu, checks::on_target},
    {CheckId::Dissolved, "dissolved", "Dissolved", "S1", true, CheckUnit::Psu, checks::dissolved},
    {CheckId::AsDosed, "as-dosed", "As dosed", "S1", true, CheckUnit::Psu, checks::as_dosed},
    {CheckId::Circulated, "circulated", "Circulated", "S1", true, CheckUnit::Seconds,
     checks::circulated},
    {CheckId::TemperatureRight, "temperature", "Temperature", "S1", true, CheckUnit::DegreesCelsius,
     checks::temperature_right},
    {CheckId::LotRight, "lot", "Lot", "S23", true, CheckUnit::None, checks::lot_right},
    {CheckId::HandTests, "hand-tests", "Hand tests", "S23", true, CheckUnit::None,
     checks::hand_tests},
    {CheckId::NotTooOld, "not-too-old", "Age", "S1", false, CheckUnit::Seconds,
     checks::not_too_old},
    {CheckId::BatchProven, "batch-proven", "Proof", "S7", false, CheckUnit::None,
     checks::batch_proven},
}};

constexpr bool in_order() {
  for (std::size_t i = 0; i < catalogue.size(); ++i)
    if (catalogue[i].id != static_cast<CheckId>(i))
      return false;
  return true;
}
static_assert(in_order(), "the catalogue's rows stand in the order of CheckId");

}  // namespace

const std::array<CheckRow, check_count>& check_catalogue() {
  return catalogue;
}

const CheckRow& check_row(CheckId id) {
  return catalogue[static_cast<std::size_t>(id)];
}

std::array<CheckResult, check_count> evaluate_checks(const Round& round) {
  std::array<CheckResult, check_count> results;
  for (std::size_t i = 0; i < check_count; ++i) {
    results[i] = catalogue[i].evaluate(round);
    results[i].id = catalogue[i].id;
  }
  return results;
}

}  // namespace brinegate
