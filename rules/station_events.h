// SPDX-License-Identifier: Apache-2.0
// What can be asked of a station, what it answers, and what happens in it that belongs on record.
#pragma once

#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "rules/alarm.h"
#include "rules/batch.h"
#include "rules/calibration.h"
#include "rules/check.h"
#include "rules/gate.h"
#include "rules/lot_yield.h"
#include "rules/verification.h"
#include "rules/water_change.h"

namespace brinegate {

// Salt of one lot. `expires_in` of the lot counts from now.
struct SaltOfLot {
  BatchSalt lot;
  SaltProduct product;
  Grams weighed;  // product; 0: not weighed, or not said
};
// Of a lot of which nothing is on record.
inline SaltOfLot salt_of(const std::string& lot, SaltProduct product = {}, Grams weighed = {}) {
  return {{{LotPart{lot, 0, 1.0, std::nullopt}}, std::nullopt}, product, weighed};
}

struct BeginCommand {
  std::string batch;  // its id
  Profile profile;
  std::vector<SaltOfLot> salts;  // at least one; of several each is weighed
  SaltFactor salt_factor;
};

struct NoteCommand {
  Grams salt;                       // product added
  Litres water;                     // fresh water added
  Litres removed;                   // water taken out
  std::optional<Grams> salt_total;  // corrects all that was noted before
  std::string text;
  std::optional<SaltOfLot> of;  // what the salt is of; none: of the lot taken last
};

// Measured by hand in the water as it is.
struct HandTestCommand {
  Analyte analyte = Analyte::Alkalinity;
  CensoredValue content;  // in the analyte's unit
  std::string written;    // as it was given
};

struct AbandonCommand {};

struct ChangeCommand {
  Litres volume;
};

struct StopCommand {};

struct AcknowledgeCommand {
  AlarmId alarm = AlarmId::PumpRunningWhileShut;
};

struct CalibrateCommand {
  std::size_t probe = 0;
  double standard = 0.0;  // in the probe's unit, at the standard's temperature now
};

// What the probe's own display, or a standard, shows now, in the probe's unit.
struct VerifyCommand {
  std::size_t probe = 0;
  double shown = 0.0;
};

// S8: lets one check of the batch pass for a while.
struct WaiveCommand {
  CheckId check{};
  std::string person;
  std::string reason;
  Duration length{0};
};
struct UnwaiveCommand {
  CheckId check{};
};

using Command = std::variant<BeginCommand, NoteCommand, AbandonCommand, ChangeCommand, StopCommand,
                             AcknowledgeCommand, CalibrateCommand, VerifyCommand, HandTestCommand,
                             WaiveCommand, UnwaiveCommand>;

enum class AnswerCode {
  ChecksNotMet,
  DwellNotOver,
  NoBatch,
  BatchInProgress,
  ChangeRunning,
  NoChangeRunning,
  NoPump,
  PermittedWhileProven,  // asked for a change where the pump needs none
  NothingNoted,
  VolumeNotPositive,
  VolumeAboveMaximum,
  VolumeNotThere,
  NothingToAcknowledge,
  ProbeNotGood,
  CalibrationImplausible,
  NothingArrives,    // no number to hold against what a display shows
  DisplayDisagrees,  // what is read is not what is shown
  StillDissolving,   // too early for a hand test
  NeverWaivable,     // this check can be waived nowhere
  NotWaivable,       // the batch's profile does not allow it
  NothingWaived,     // no waiver to take back
  Superseded,        // something else was asked after it, in the same step
  Ending,
  Done,
};

// A probe held against its display (S22).
struct Comparison {
  std::size_t probe = 0;
  Measures measures = Measures::Conductivity;
  VerifiedPoint point;
  double raw = 0.0;  // as it arrived, before the conversion
  bool agrees = false;
  bool verified = false;        // by now
  double least_distance = 0.0;  // of a second point
};

struct CommandAnswer {
  AnswerCode code = AnswerCode::ChecksNotMet;
  std::vector<CheckResult> unmet;      // ChecksNotMet
  std::optional<Litres> limit;         // VolumeAboveMaximum, VolumeNotThere
  std::optional<Duration> wait;        // DwellNotOver
  std::string detail;                  // CalibrationImplausible
  std::optional<WaterChange> change;   // Done, of a change
  std::optional<Comparison> compared;  // Done or DisplayDisagrees, of a verification

  [[nodiscard]] bool ok() const { return code == AnswerCode::Done; }
};

enum class BatchEnd { Abandoned, Replaced, Used };

struct BatchBegan {};
struct BatchNoted {
  NoteCommand note;
};
struct HandTestEntered {
  Analyte analyte = Analyte::Alkalinity;
  HandTest test;
};
struct WaiverGranted {
  Waiver waiver;
};
enum class WaiverEnd { Expired, Withdrawn, Replaced, Restarted };
// With the batch it ends unsaid.
struct WaiverEnded {
  Waiver waiver;
  WaiverEnd end = WaiverEnd::Expired;
};
struct BatchEnded {
  Batch batch;
  BatchEnd end = BatchEnd::Abandoned;
};
struct BatchProven {
  Proof proof;
};
// The first proof of a batch that tells what its lot yields.
struct YieldObserved {
  YieldObservation observation;
};
struct BatchRejected {
  std::vector<CheckResult> violated;
};
struct ProofLost {
  ProofVoid reason = ProofVoid::None;
};
struct PermitAsked {
  Permit permit;
};
struct PermitWithdrawn {};
struct GateOpened {
  Permit permit;
};
struct GateShut {
  std::string permit;
  std::optional<CheckResult> first_out;
};
// "While proven": what the pump feeds has started it.
struct PumpRunBegan {
  std::string permit;
};
struct ChangeEnded {
  std::string permit;
  Litres asked;
  Litres drawn;
  ChangeEnd end = ChangeEnd::Interrupted;
  std::optional<ExchangeAmounts> exchange;  // where old water was taken out too
};
// An exchange goes on to its next step.
struct ExchangeWentOn {
  std::string permit;
  ExchangePhase phase = ExchangePhase::Draining;
  ExchangeAmounts amounts;
};
// Of automatic top-off and dosing.
struct HoldOffChanged {
  bool asked = false;
  bool confirmed = false;
};
struct AlarmChanged {
  Alarm alarm;
};
struct ProbeCalibrated {
  std::size_t probe = 0;
  Calibration calibration;
  Calibration before;
};

struct ProbeCompared {
  Comparison comparison;
};
// S15, S22: what was stored belongs to another entry of the configuration and does not count.
struct MapEntryEdited {
  std::size_t probe = 0;
  bool calibration = false;  // that is not applied; else the verification, which is void
};

using StationEvent =
    std::variant<BatchBegan, BatchNoted, HandTestEntered, WaiverGranted, WaiverEnded, BatchEnded,
                 BatchProven, YieldObserved, BatchRejected, ProofLost, PermitAsked, PermitWithdrawn,
                 GateOpened, GateShut, PumpRunBegan, ChangeEnded, ExchangeWentOn, HoldOffChanged,
                 AlarmChanged, ProbeCalibrated, ProbeCompared, MapEntryEdited>;

}  // namespace brinegate
