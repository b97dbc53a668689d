// SPDX-License-Identifier: Apache-2.0
// One condition of the profile or of safety: what it looks at, and what it answers. A check is one
// small pure function of a Round; every check runs in every round and none depends on another.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "rules/alarm.h"
#include "rules/batch.h"
#include "rules/dissolution.h"
#include "rules/dose_witness.h"
#include "rules/hold_off.h"
#include "rules/reading.h"
#include "rules/salinity_estimate.h"
#include "rules/station_spec.h"
#include "rules/verification.h"

namespace brinegate {

// Met and NotAsked let through; zero is the blocking one, worse compares smaller.
enum class Verdict { Violated, Waiting, NotAsked, Met };

// In the order in which simultaneous causes are named as first-out: device before water.
enum class CheckId {
  RecordKept,
  ProbesGood,
  ProbesVerified,
  RealSource,
  NoLeak,
  TankNotFull,
  LevelAboveLow,
  PumpFollows,
  WaterStays,
  RunWithinLimits,
  TopOffHeld,
  CellsAgree,
  Uniform,
  TemperatureFlat,
  OnTarget,
  Dissolved,
  AsDosed,
  Circulated,
  TemperatureRight,
  LotRight,
  HandTests,
  NotTooOld,
  BatchProven,
};
constexpr std::size_t check_count = 23;

struct ProbeTrouble {
  std::size_t probe = 0;
  QualityReason reason = QualityReason::NoSample;
  SampleFault fault = SampleFault::None;
};

// A content that a check looked at.
struct ContentFinding {
  Analyte analyte = Analyte::Alkalinity;
  std::optional<CensoredValue> found;  // none: not analysed, or not tested yet
  ContentRange needed;
  bool within = false;
  std::optional<CensoredValue> expected;  // of a hand test: by the lots' analyses
};

// A reason is data; words are rendered from it in advice.h. Values are in the unit of the check's
// row in the catalogue.
struct CheckResult {
  CheckId id = CheckId::RecordKept;
  Verdict verdict = Verdict::Violated;
  std::optional<double> measured;
  std::optional<double> needed_low;
  std::optional<double> needed_high;
  std::optional<double> risk;  // of being out of tolerance, where the check states one
  std::optional<double> risk_accepted;
  std::optional<Duration> time_left;          // where it can be told
  std::vector<ProbeTrouble> troubles;         // the probes that the verdict is about
  std::vector<DoseExplanation> explanations;  // AsDosed, where violated
  std::vector<ContentFinding> contents;       // LotRight: those that do not fit; HandTests: all
  MonoTime since;                             // of this verdict
  bool waived = false;                        // a waiver is in force, whatever the verdict
};

// How far dissolution has come, derived once before the checks run.
struct Settling {
  Forecast forecast;
  bool known = false;            // the forecast can be judged by: circulated water, enough of it
  double remaining_bound = 0.0;  // PSU; at most this may still come or go (95 %)
  bool settled = false;          // within what the profile allows, with 95 % confidence
  std::optional<Uncertain<PracticalSalinity>> course_final;  // by the course of the cells alone
  std::optional<Uncertain<PracticalSalinity>>
      final_salinity;  // with what the instruments leave open
  std::optional<Duration> time_left;
};

// Everything a check may look at: the state before the round, and what was derived from it.
struct Round {
  const StationSpec& station;
  const Batch& batch;
  std::span<const Reading> readings;
  std::span<const SampleFault> faults;
  const SalinityEstimate& salinity;
  Settling settling;
  std::optional<Celsius> temperature;
  Celsius temperature_ahead;             // where it will be in a while if it goes on as it does
  double temperature_uncertainty = 0.0;  // °C, standard
  std::optional<Litres> volume;
  const std::optional<DoseWitness>& dose;
  const AlarmBook& alarms;
  bool record_kept = false;
  bool output_answers = false;                  // the pump's output confirmed what it was last told
  std::span<const Verification> verifications;  // one for each probe
  bool changing = false;                        // a change is asked for or runs
  const HoldOff& hold_off;
  bool proof_doubted = false;  // since the proof the risk has risen above what was accepted
  Duration evenly_moved{0};    // circulation without a pause and without a step of the salinity
};

}  // namespace brinegate
