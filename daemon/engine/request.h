// SPDX-License-Identifier: Apache-2.0
// What can be asked of the running daemon, over MQTT and the control socket alike, one JSON object:
//   {"id": "a1", "station": "mixer", "do": "change", "volume": "40 L"}
//   {"do": "stop"}                                      end the change that runs
//   {"do": "begin", "lot": "H-2291", "profile": "reef", "salt": "7.4 kg", "dry_fraction": 0.93,
//    "salt_factor": 1.004, "salt_factor_uncertainty": 0.003}
//    (without dry_fraction: what was learned of the lot, or is stated with it; the factor as
//    measured, or neither; of several lots "lots": [{"lot": "H-2291", "salt": "5 kg"}, ...])
//   {"do": "note", "salt": "86 g", "lot": "H-2304", "water": "2 L", "removed": "3 L",
//    "salt_total": "7.4 kg", "text": "..."}             (any of them; the lot: another than the
//    last)
//   {"do": "test", "analyte": "alkalinity", "value": "8.2 dKH"}       measured by hand
//   {"do": "waive", "check": "temperature", "by": "Ada", "reason": "the heater is on its way",
//    "for": "2 h"}                                      where the batch's profile allows it (S8)
//   {"do": "unwaive", "check": "temperature"}
//   {"do": "abandon"}
//   {"do": "calibrate", "probe": "cell_a", "standard": "53.07 mS/cm", "at": "25 C"}
//   {"do": "verify", "probe": "cell_a", "shows": "53.1 mS/cm"}      what its own display shows now
//   {"do": "acknowledge", "alarm": "pump-running-while-shut"}
//   {"do": "shelve", "alarm": "change-ended-early", "for": "2 h", "reason": "..."}
//                                                       announce nothing of it for so long
//   {"do": "unshelve", "alarm": "change-ended-early"}
//   {"do": "status"}                                    all stations, or the one named
// and, of no station but of the lots and tanks on record (library_request.h):
//   {"do": "lot add", "text": "...", "file": "h-2291.csv", "name": "H-2291", "salt": "...",
//    "salinity": "35 ppt", "expires": "2029-03-02", "dry_fraction": 0.93, "by": "..."}
//   {"do": "tank add", "text": "...", "file": "...", "by": "..."}
//   {"do": "tank test", "tank": "reef", "text": "...", "file": "...", "at": "2026-11-02T18:00",
//    "salinity": "34.8 ppt", "by": "..."}
//   {"do": "tank change", "tank": "reef", "volume": "80 L", "lot": "H-2291", "salinity": "35 ppt",
//    "at": "2026-11-02T18:00"}                          made by hand, in the past
// and what only reads them (library_question.h); a lot is "H-2291", its latest version, or
// "H-2291/1", a change a share of the tank or a volume:
//   {"do": "lot list"}, {"do": "tank list"}
//   {"do": "lot show", "lot": "H-2291", "salinity": "35 ppt"}       of the water; else as analysed
//   {"do": "lot compare", "lots": ["H-2291", "H-2304"], "tank": "reef", "salinity": "35 ppt"}
//   {"do": "lot rank", "tank": "reef", "lots": [...], <plan>}       without lots: all of them
//   {"do": "tank show", "tank": "reef"}, {"do": "tank review", "tank": "reef"}
//   {"do": "tank forecast", "tank": "reef", "lot": "H-2291", <plan>}
//    where <plan> is "change": "20 %", "times": 4, "every": "7 d", "continuous": false,
//    "salinity": "35 ppt", "temperature": "25 C"                    of the new water; else the
//    tank's
// `text` is what the person's file holds, `file` its name for what is wrong with it. `station`
// comes from the topic over MQTT. The answer is one JSON object:
//   {"id": "a1", "ok": false, "message": "...", "reasons": ["..."], ...}
// `status` answers {"ok": true, "site": "...", "stations": [ <as in <station>/state> ]}.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "config/chemistry/content_words.h"
#include "config/chemistry/lot_text.h"
#include "config/chemistry/tank_text.h"
#include "rules/check.h"
#include "rules/result.h"
#include "rules/time.h"
#include "rules/units.h"

namespace brinegate::daemon {

struct AskChange {
  Litres volume;
};
struct StopChange {};
struct LotTaken {
  std::string lot;
  std::optional<Grams> salt;
};
struct BeginBatch {
  std::vector<LotTaken> lots;  // one, or several that were each weighed
  std::string profile;         // empty: the station's
  std::optional<double> dry_fraction;
  std::optional<double> salt_factor;              // salinity over what conductivity implies
  std::optional<double> salt_factor_uncertainty;  // standard uncertainty; with it
};
struct NoteAddition {
  std::optional<Grams> salt;
  std::string lot;  // that the salt is of; empty: the last
  std::optional<Litres> water;
  std::optional<Litres> removed;
  std::optional<Grams> salt_total;  // corrects what was noted in all
  std::string text;
};
struct EnterHandTest {
  config::NamedAnalyte analyte;
  std::string value;  // a content with its unit
};
struct WaiveCheck {
  CheckId check{};
  std::string person;
  std::string reason;
  Duration length{0};
};
struct UnwaiveCheck {
  CheckId check{};
};
struct AbandonBatch {};
struct CalibrateProbe {
  std::string probe;
  std::string standard;  // a quantity in the probe's kind of unit
  Celsius at{25.0};      // temperature at which the standard has that value
};
struct VerifyProbe {
  std::string probe;
  std::string shows;  // a quantity in the probe's kind of unit, or a contact's word
};
struct AcknowledgeAlarm {
  std::string alarm;
};
struct ShelveAlarm {
  std::string alarm;
  Duration time{0};
  std::string reason;  // may be empty
};
// Common practice, no source: longer than a night and a day, and it is forgotten.
constexpr Duration longest_on_shelf = std::chrono::hours(24);
struct UnshelveAlarm {
  std::string alarm;
};
struct AskStatus {};

// A person's file, and who hands it in.
struct HandedIn {
  std::string text;
  std::string file;
  std::string by;
};
struct AddLot {
  HandedIn handed_in;
  config::LotParticulars particulars;
};
// What its batches taught of it, where they were not weighed in as noted.
struct UnlearnLot {
  std::string lot;
  std::string by;
};
struct AddTank {
  HandedIn handed_in;
};
struct AddWaterTest {
  std::string tank;
  HandedIn handed_in;
  config::TestParticulars particulars;
};
struct NoteTankChange {
  std::string tank;
  Litres volume;
  std::string lot;                            // empty: not known
  std::optional<PracticalSalinity> salinity;  // none: the tank's
  std::optional<WallTime> at;                 // none: now
};

struct AskLots {};
struct AskLot {
  std::string lot;
  std::optional<PracticalSalinity> salinity;
};
struct AskComparison {
  std::vector<std::string> lots;
  std::string tank;  // may be empty
  std::optional<PracticalSalinity> salinity;
};
struct AskTanks {};
struct AskTank {
  std::string tank;
};
struct AskReview {
  std::string tank;
};
// How much of a tank is changed: one of the two.
struct ExchangeAmount {
  std::optional<double> share;
  std::optional<Litres> volume;
};
Result<ExchangeAmount> parse_exchange(std::string_view text);
struct AskedPlan {
  ExchangeAmount change;
  int times = 1;
  std::optional<Duration> every;
  bool continuous = false;
  std::optional<PracticalSalinity> salinity;
  std::optional<Celsius> temperature;
};
struct AskForecast {
  std::string tank;
  std::string lot;
  AskedPlan plan;
};
struct AskRanking {
  std::string tank;
  std::vector<std::string> lots;  // none: all
  AskedPlan plan;
};

struct Request {
  std::string id;  // repeating one repeats the answer, not the act; may be empty for a local asker
  std::string station;
  std::variant<AskChange, StopChange, BeginBatch, NoteAddition, EnterHandTest, WaiveCheck,
               UnwaiveCheck, AbandonBatch, CalibrateProbe, VerifyProbe, AcknowledgeAlarm,
               ShelveAlarm, UnshelveAlarm, AskStatus, AddLot, UnlearnLot, AddTank, AddWaterTest,
               NoteTankChange, AskLots, AskLot, AskComparison, AskTanks, AskTank, AskReview,
               AskForecast, AskRanking>
      act;
};

// From the network, and on the machine itself, where an analysis may come along: as JSON its text
// can double.
constexpr std::size_t largest_request = std::size_t{16} * 1024;
constexpr std::size_t largest_local_request = 2 * config::largest_analysis + largest_request;

// At most 16 levels deep; anything else is an error that says what and what instead.
Result<Request> parse_request(std::string_view text, std::size_t largest = largest_request);

}  // namespace brinegate::daemon
