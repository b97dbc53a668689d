// SPDX-License-Identifier: Apache-2.0
// One station: the one transition function from (state, inputs, now) to (state, outcome). The
// daemon, the simulator and the tests run this very object. It owns nothing but values.
#pragma once

#include <array>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "rules/after_stop.h"
#include "rules/alarm.h"
#include "rules/batch.h"
#include "rules/check.h"
#include "rules/check_catalogue.h"
#include "rules/dissolution.h"
#include "rules/dose_witness.h"
#include "rules/gate.h"
#include "rules/hold_off.h"
#include "rules/pump_supervision.h"
#include "rules/quality.h"
#include "rules/salinity_estimate.h"
#include "rules/station_events.h"
#include "rules/station_spec.h"
#include "rules/time.h"
#include "rules/trend.h"
#include "rules/verification.h"
#include "rules/water_change.h"

namespace brinegate {

struct ProbeSample {
  std::size_t probe = 0;
  Sample sample;
};

struct StationInputs {
  std::vector<ProbeSample> samples;
  std::vector<Command> commands;
  bool record_kept = false;        // the disk takes the record
  bool output_answers = false;     // the pumps' outputs confirmed what they were last told
  bool output_taken_over = false;  // an output was found not as it was left (S14)
  std::optional<std::string> permit_on_record;  // id of the permit that is on disk
  // Lots that came on record since the last step, or in a new version; `expires_in` from now.
  std::vector<BatchSalt> lots_recorded;
  bool ending = false;  // the daemon is to end
};

struct StationOutcome {
  bool pump_on = false;           // to be on for one more lease; else off, now
  bool second_cutoff_on = false;  // likewise
  bool drain_on = false;          // likewise
  bool hold_off_on = false;       // likewise
  std::vector<StationEvent> events;
  std::vector<CommandAnswer> answers;  // one for each command, in order
  std::vector<std::pair<std::size_t, JudgedSample>> judged;
};

// An exchange that ran when the daemon stopped: as far as it had come when that was stored.
struct ExchangeUnderWay {
  Litres most_drained;
  Litres returned;
  std::optional<Litres> tank_start;
};

// An exchange that stopped with old water taken out and not replaced (S19). Kept until a person has
// acknowledged its alarm.
struct UnfinishedExchange {
  std::string permit;
  std::string batch;
  Litres asked;
  ExchangeAmounts amounts;           // of the tank's level as it is now
  std::optional<Litres> tank_start;  // its level then
  bool known = true;                 // else the levels have not told yet, and this is the most
};

// A change that ran when the daemon stopped.
struct ChangeUnderWay {
  std::string permit;
  Litres asked;
  std::optional<Litres> start_volume;
  std::optional<ExchangeUnderWay> exchange;
};

// What outlives the process.
struct StationMemory {
  Batch batch;
  std::optional<ChangeUnderWay> change;
  std::optional<UnfinishedExchange> unfinished;
  std::vector<std::pair<AlarmId, AlarmState>> alarms;  // those not normal
  WallTime saved;
};

class Station {
 public:
  // The spec must outlive the station.
  explicit Station(const StationSpec& spec);

  // S7: a batch is what the record says, the gate stays shut until fresh readings meet every check
  // again, and a change under way is ended. S15: what was made with another configuration, or with
  // lots that have a new version, does not count, which is said. `configured` is the profile of the
  // batch's name, where there still is one; `lots` are the batch's lots as on record now. Before
  // the first step.
  void restore(const StationMemory& memory, const std::optional<Profile>& configured, Instant now,
               const std::vector<BatchSalt>& lots = {});
  void restore_calibration(std::size_t probe, const Calibration& calibration);
  // Since when the probe has been known: one never calibrated here drifts from then on. A wall time
  // of zero, as before this is called, is not known yet.
  void set_known_since(std::size_t probe, WallTime since) { known_since_[probe] = since; }
  void restore_verification(std::size_t probe, const Verification& verification);
  [[nodiscard]] StationMemory memory(Instant now) const;

  StationOutcome step(const StationInputs& inputs, Instant now);

  // The state after the latest step.
  [[nodiscard]] const StationSpec& spec() const { return *spec_; }
  [[nodiscard]] const std::vector<Reading>& readings() const { return readings_; }
  [[nodiscard]] const SalinityEstimate& salinity() const { return salinity_; }
  [[nodiscard]] std::optional<Celsius> temperature() const { return temperature_; }
  [[nodiscard]] std::optional<Litres> volume() const { return volume_; }
  [[nodiscard]] const Settling& settling() const { return settling_; }
  [[nodiscard]] const std::optional<DoseWitness>& dose() const { return dose_; }
  [[nodiscard]] const Batch& batch() const { return batch_; }
  [[nodiscard]] const Gate& gate() const { return gate_; }
  [[nodiscard]] const AlarmBook& alarms() const { return alarms_; }
  [[nodiscard]] const std::optional<WaterChange>& change() const { return change_; }
  [[nodiscard]] const std::array<CheckResult, check_count>& checks() const { return checks_; }
  [[nodiscard]] const HoldOff& hold_off() const { return hold_off_; }
  [[nodiscard]] const std::optional<UnfinishedExchange>& unfinished() const { return unfinished_; }
  [[nodiscard]] std::optional<Litres> tank_level() const { return tank_level_; }
  [[nodiscard]] const Calibration& calibration(std::size_t probe) const {
    return calibrations_[probe];
  }
  // Of every probe, as of this step.
  [[nodiscard]] const std::vector<ProbeCondition>& conditions() const { return conditions_; }
  [[nodiscard]] const Verification& verification(std::size_t probe) const {
    return verifications_[probe];
  }
  [[nodiscard]] std::optional<Duration> dwell_left(MonoTime now) const;

 private:
  // In the order of one step. Commands that change the batch are obeyed before anything is judged;
  // a change is asked for after, on what was judged in the same step.
  void take_samples(const StationInputs& inputs, Instant now, StationOutcome& outcome);
  void derive();
  void obey(const StationInputs& inputs, bool changes, Instant now, StationOutcome& outcome);
  void progress_batch(Instant now, StationOutcome& outcome);
  void expire_waivers(MonoTime now, StationOutcome& outcome);
  bool end_waiver(CheckId check, WaiverEnd end, StationOutcome& outcome);
  void supervise(const StationInputs& inputs, MonoTime now, StationOutcome& outcome);
  void supervise_pump(MonoTime now, StationOutcome& outcome);
  void supervise_drain(MonoTime now);
  void hold_off_top_off(MonoTime now, StationOutcome& outcome);
  void evaluate(const StationInputs& inputs, MonoTime now);
  void progress_proof(Instant now, StationOutcome& outcome);
  void end_interrupted_change(MonoTime now, StationOutcome& outcome);
  void run_change(const StationInputs& inputs, MonoTime now, StationOutcome& outcome);
  void run_gate(const StationInputs& inputs, Instant now, StationOutcome& outcome);

  CommandAnswer obey_one(const BeginCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const NoteCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const AbandonCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const ChangeCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const StopCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const AcknowledgeCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const CalibrateCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const VerifyCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const HandTestCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const WaiveCommand& command, Instant now, StationOutcome& outcome);
  CommandAnswer obey_one(const UnwaiveCommand& command, Instant now, StationOutcome& outcome);

  static Dissolution dissolution_of(const Profile& profile);
  static Trend temperature_trend_of(const Profile& profile);
  [[nodiscard]] std::optional<std::size_t> batch_thermometer() const;
  [[nodiscard]] Celsius temperature_ahead() const;
  [[nodiscard]] double temperature_uncertainty() const;
  void follow_dissolution();
  void derive_settling(bool judged);
  void derive_evenness(MonoTime now);
  void add_age(Instant now);
  void start_course_afresh();
  void conclude_afresh();
  void void_proof(ProofVoid reason, StationOutcome& outcome);
  [[nodiscard]] std::optional<ProofVoid> water_changed(MonoTime now);
  void doubt_proof(MonoTime now);
  [[nodiscard]] ReliedOn relied_on(const std::optional<Profile>& configured) const;
  void hold_against_configuration(const std::optional<Profile>& configured);
  void take_lots(const std::vector<BatchSalt>& recorded);
  void take_rest_of_last_batch(Batch& next) const;
  void drop_hand_tests_of_other_water();
  void measure_evaporation(MonoTime now);
  [[nodiscard]] bool evaporated_too_much() const;
  [[nodiscard]] bool proof_checks_met() const;
  [[nodiscard]] std::set<CheckId> waived_of_proof() const;
  [[nodiscard]] bool every_check_met() const;
  [[nodiscard]] std::optional<CheckId> first_unmet() const;
  [[nodiscard]] bool is_circulating() const;
  [[nodiscard]] bool has(Measures measures) const;
  [[nodiscard]] std::optional<double> contact(Measures measures) const;
  [[nodiscard]] FlowEvidence flow_evidence() const;
  [[nodiscard]] FlowEvidence tank_evidence() const;
  // The gate is open, and it is this pump's turn.
  [[nodiscard]] bool fills() const;
  [[nodiscard]] bool drains() const;
  [[nodiscard]] bool tank_may_be_low() const;
  [[nodiscard]] bool held_off() const;
  [[nodiscard]] bool waits_for_hold_off() const;
  [[nodiscard]] Litres surely_above_low() const;
  [[nodiscard]] bool level_is_low() const;
  [[nodiscard]] Permit next_permit() const;
  [[nodiscard]] Duration dwell() const;
  void end_change(ChangeEnd end, MonoTime now, StationOutcome& outcome);
  [[nodiscard]] std::optional<ChangeEnd> end_of_change(MonoTime now) const;
  void step_change(MonoTime now, StationOutcome& outcome);
  void begin_run(MonoTime now, StationOutcome& outcome);
  void leave_unfinished(const ChangeEnded& ended, std::optional<Litres> tank_start, MonoTime now);
  void follow_unfinished();
  void level_changed_on_purpose() {
    supervision_.level_changed_on_purpose();
    after_stop_.level_changed_on_purpose();
  }
  [[nodiscard]] std::optional<ChangeUnderWay> under_way() const;
  void run_while_proven(bool runs, MonoTime now, StationOutcome& outcome);
  void account_drawn(Litres drawn);

  // A proven batch may waver by so many times what the profile leaves to dissolve.
  static constexpr double proven_allowance = 3.0;

  const StationSpec* spec_;
  std::vector<ProbeJudge> judges_;
  std::vector<Calibration> calibrations_;
  std::vector<WallTime> known_since_;
  std::vector<ProbeCondition> conditions_;
  std::vector<Verification> verifications_;
  std::vector<Reading> readings_;
  std::vector<SampleFault> faults_;

  SalinityEstimate salinity_;
  std::optional<Celsius> temperature_;
  std::optional<Litres> volume_;
  std::optional<Litres> fresh_volume_;  // where this step brought a new one
  MonoTime volume_taken_;
  std::optional<Litres> tank_level_;
  std::optional<Litres> fresh_tank_level_;  // likewise
  MonoTime tank_level_taken_;
  Dissolution dissolution_;
  Trend temperature_trend_;
  MonoTime dissolution_at_;
  bool water_moved_ = false;
  Settling settling_;
  std::optional<DoseWitness> dose_;
  std::optional<MonoTime> evenly_since_;  // circulation without a pause, and the salinity then
  PracticalSalinity evenly_from_;
  std::optional<MonoTime> away_since_;  // the salinity has been elsewhere

  Batch batch_;
  std::optional<WallTime> age_unknown_since_;  // restored: how long we were away is not counted yet
  std::optional<MonoTime> proof_checks_met_since_;
  std::optional<MonoTime> rejection_since_;
  std::optional<MonoTime> moved_since_;
  std::optional<MonoTime> doubted_since_;
  std::optional<MonoTime> rose_since_;
  std::optional<MonoTime> evaporated_since_;
  std::optional<MonoTime> drawn_at_;    // water was last drawn, or might have been
  std::optional<ProofVoid> edited_;     // since the batch was stored; to be said in the first step
  std::vector<StationEvent> restored_;  // likewise
  std::optional<MonoTime> record_lost_since_;

  Gate gate_;
  std::optional<WaterChange> change_;
  std::optional<ChangeUnderWay> interrupted_;
  std::optional<PumpRun> run_while_proven_;
  std::string run_permit_;
  PumpSupervision supervision_;
  AfterStop after_stop_;
  PumpSupervision drain_supervision_;
  AfterStop after_drain_;
  HoldOff hold_off_;
  std::optional<UnfinishedExchange> unfinished_;
  AlarmBook alarms_;
  std::array<CheckResult, check_count> checks_{};
  std::array<CheckResult, check_count> checks_before_{};
  std::optional<MonoTime> stepped_;
};

}  // namespace brinegate
