// SPDX-License-Identifier: Apache-2.0
// One station inside the engine: the station's decision and what the engine keeps beside it to turn
// events into its inputs and its outcome into effects.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "config/model.h"
#include "daemon/engine/alarm_shelf.h"
#include "daemon/engine/answers.h"
#include "daemon/engine/effects.h"
#include "daemon/engine/events.h"
#include "daemon/engine/library.h"
#include "daemon/engine/probe_log.h"
#include "daemon/engine/probe_records.h"
#include "daemon/engine/rate_limit.h"
#include "daemon/engine/request.h"
#include "daemon/engine/state_json.h"
#include "drivers/station_outputs.h"
#include "rules/lot_yield.h"
#include "rules/station.h"

namespace brinegate::daemon {

// A station's state and values are told again so often, if nothing changes.
constexpr Duration state_every = std::chrono::seconds(30);

constexpr int network_requests_at_once = 20;
constexpr Duration network_request_every = std::chrono::seconds(10);

// A command on its way through one turn, and whom to answer.
struct PendingAnswer {
  ReplyAddress to = 0;
  std::string id;           // may be empty
  bool once_stored = true;  // that it was done is said when it is on disk
};

// What each lot yields, by its name; of all stations together.
using LotYields = std::map<std::string, LotYield>;
constexpr const char* yield_table = "lot-yield";  // where they are stored

class StationUnit {
 public:
  // The configuration must outlive the unit and stay where it is.
  StationUnit(const config::Station& station, std::size_t index);

  void take(const SampleArrived& event) {
    inputs_.samples.push_back({event.probe.probe, event.sample});
  }
  void take(const drivers::OutputReport& report, MonoTime now, std::vector<Effect>& effects);
  void ask(Command command, PendingAnswer answer);
  // Whether one more request from the network may be taken; each goes on record, and anybody on the
  // broker can flood a disk.
  bool network_may_ask(MonoTime now) { return network_requests_.allows(now); }
  void permit_on_record(std::string permit) { inputs_.permit_on_record = std::move(permit); }
  // A lot came on record, or in a new version.
  void lot_recorded(const Lot& lot, WallTime now) {
    inputs_.lots_recorded.push_back(salt_of(lot, now));
  }
  void restore(const StationMemory& memory, const std::optional<Profile>& configured, Instant now,
               const Library& library);
  // Of a probe that is no longer configured nothing is taken over.
  void restore_calibration(const std::string& probe, const Calibration& calibration);
  void restore_probe(const std::string& probe, ProbeRecord record);
  void restore_verification(const std::string& probe, const Verification& verification);

  // One evaluation. Drives come first in the effects, then what belongs on record is added to
  // `append`, what a lot yields to `yields`, and a change of the tank to the library; a permit that
  // must be on record before the gate opens is returned.
  std::optional<std::string> step(bool record_kept, bool ending, Instant now,
                                  std::vector<Effect>& effects, Append& append, LotYields& yields,
                                  Library& library);
  // To what was asked before the last step.
  std::vector<RequestAnswer> take_answers() { return std::exchange(answers_, {}); }
  // `restates`: also what has not changed, now and then.
  void publish(Instant now, bool everything, bool restates, std::vector<Effect>& effects);
  void sample_history(Instant now, AppendReadings& rows);

  // The station's state for people and machines around it.
  [[nodiscard]] Json view(Instant now) const;

  [[nodiscard]] const Station& station() const { return station_; }
  [[nodiscard]] const config::Station& configured() const { return *configured_; }
  AlarmShelf& shelf() { return shelf_; }

 private:
  [[nodiscard]] std::optional<std::size_t> probe_named(const std::string& name) const;
  // What an event changes of what is kept for each probe.
  void store_probe(const StationEvent& event, Append& append) const;
  [[nodiscard]] std::string likely_cause(const Comparison& compared) const;
  // Of the outputs that move water.
  [[nodiscard]] bool outputs_answer(MonoTime now) const;
  // Adds what was learned to the body of the record's entry.
  void learn(const YieldObservation& observation, LotYields& yields, Json& body,
             Append& append) const;
  [[nodiscard]] bool memory_due(MonoTime now) const;
  // What was drawn went into the tank that is configured.
  void keep_tank_change(const ChangeEnded& ended, WallTime now, Library& library,
                        std::vector<Effect>& effects, Append& append) const;
  void drive(const StationOutcome& outcome, Instant now, std::vector<Effect>& effects);
  void drive_one(const drivers::StationOutput& output, bool on, Instant now,
                 std::vector<Effect>& effects);
  void answer(const StationOutcome& outcome, Instant now);
  void publish_number(const std::string& name, std::optional<double> value, bool again,
                      std::vector<Effect>& effects);

  // What an output was last told.
  struct Told {
    bool once = false;
    bool on = false;
    MonoTime at;
    bool confirmed = false;
    bool reported = false;  // anything
    std::optional<MonoTime> failing_since;
    std::size_t failures = 0;  // since then
    MonoTime heard;            // when the device last answered, or was told something new
  };

  const config::Station* configured_;
  std::size_t index_;
  Station station_;
  ProbeRecords probe_records_;
  ProbeLog probe_log_;
  AlarmShelf shelf_;
  StationInputs inputs_;
  RateLimit network_requests_{network_requests_at_once, network_request_every};
  std::vector<PendingAnswer> pending_;
  std::vector<RequestAnswer> answers_;
  std::map<drivers::OutputRole, Told> told_;
  std::map<std::size_t, JudgedSample> history_;  // by probe, since the last rows

  std::string published_signature_;
  std::optional<MonoTime> state_published_;
  std::optional<MonoTime> numbers_published_;
  std::map<std::string, std::string> published_;
  std::optional<MonoTime> memory_saved_;
};

}  // namespace brinegate::daemon
