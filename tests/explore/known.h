// SPDX-License-Identifier: Apache-2.0
// What the test itself knows of a small station, from what came to it and from what it was seen to
// do, without any check of its own: what must be so where the gate is open.
#pragma once

#include <string>

#include "rules/check_catalogue.h"
#include "tests/explore/small_station.h"

namespace brinegate::explore {

// An alarm as a person sees it.
struct KnownAlarm {
  bool present = false;
  bool acknowledged = true;

  void set(bool now_present) {
    acknowledged &= present || !now_present;
    present = now_present;
  }
  [[nodiscard]] bool is_normal() const { return !present && acknowledged; }
};

class Known {
 public:
  double litres = full_litres;

  // Before the station's step: what came. `was_open`: its gate.
  void take(const Letter& letter, PermitMode permit, bool was_open);
  // After it: what is violated; empty: nothing.
  std::string judge(const Letter& letter, const Station& station, const StationOutcome& outcome);
  void put_into(std::string& key) const;

 private:
  void take_readback(const Letter& letter, PermitMode permit, bool was_open);
  void take_level(const Letter& letter, bool was_open);
  void watch_level(const Letter& letter, const Station& station);
  void take_answers(const Letter& letter, const StationOutcome& outcome);
  void take_events(const StationOutcome& outcome);
  [[nodiscard]] std::string missing(const Letter& letter) const;
  // Warm is what is waived; that nobody looks at the temperature is not.
  [[nodiscard]] bool temperature_passes(const Letter& letter) const {
    return letter.bath == Shows::Right || (waived_ > 0 && letter.bath == Shows::TooHigh);
  }
  [[nodiscard]] bool passes(const CheckResult& check) const {
    return lets_through(check.verdict) || (waived_ > 0 && check.id == CheckId::TemperatureRight);
  }
  [[nodiscard]] std::string judge_open(const Letter& letter, const Station& station) const;
  [[nodiscard]] std::string judge_record(const Letter& letter, const Station& station,
                                         const StationOutcome& outcome) const;

  // Counts of ticks, each up to where more makes no difference.
  int cell_age_ = cell_deadline + 1;  // since the cell showed what is right
  int contrary_ = -1;                 // since the read-back was first contrary; -1: it is not
  int shut_ = 0;
  int open_ = 0;
  int waived_ = 0;  // left
  int moved_ = 0;   // of circulation since something was added
  int fit_ = 0;     // in which all that a proof is made of was there, in a row
  int met_ = 0;     // in which nothing was missing, in a row
  int higher_ = 0;  // in which the level stood above where it was since the proof, in a row
  double lowest_ = full_litres;
  bool batch_ = false;
  bool proven_ = false;
  bool old_ = false;
  bool relies_on_profile_ = true;  // it was configured when the batch was last held against that
  bool change_ = false;            // accepted, and not ended
  bool watches_level_ = false;
  bool lost_water_ = false;   // while shut, and nobody has acknowledged it
  std::string asked_permit_;  // and not withdrawn
  KnownAlarm running_while_shut_;
  KnownAlarm standing_while_open_;
};

}  // namespace brinegate::explore
