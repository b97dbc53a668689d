// SPDX-License-Identifier: Apache-2.0
// What can be asked of the running daemon, over MQTT and the control socket alike, one JSON object:
//   {"id": "a1", "station": "mixer", "do": "change", "volume": "40 L"}
//   {"do": "stop"}                                      end the change that runs
//   {"do": "begin", "lot": "H-2291", "profile": "reef", "salt": "7.4 kg", "dry_fraction": 0.93,
//    "salt_factor": 1.004, "salt_factor_uncertainty": 0.003}
//    (without dry_fraction: what was learned of the lot; the factor as measured, or neither)
//   {"do": "note", "salt": "86 g", "water": "2 L", "removed": "3 L", "salt_total": "7.4 kg",
//    "text": "..."}                                     (any of them)
//   {"do": "abandon"}
//   {"do": "calibrate", "probe": "cell_a", "standard": "53.07 mS/cm", "at": "25 C"}
//   {"do": "verify", "probe": "cell_a", "shows": "53.1 mS/cm"}      what its own display shows now
//   {"do": "acknowledge", "alarm": "pump-running-while-shut"}
//   {"do": "status"}                                    all stations, or the one named
// `station` comes from the topic over MQTT. The answer is one JSON object:
//   {"id": "a1", "ok": false, "message": "...", "reasons": ["..."], ...}
// `status` answers {"ok": true, "site": "...", "stations": [ <as in <station>/state> ]}.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "rules/result.h"
#include "rules/units.h"

namespace brinegate::daemon {

struct AskChange {
  Litres volume;
};
struct StopChange {};
struct BeginBatch {
  std::string lot;
  std::string profile;  // empty: the station's
  std::optional<Grams> salt;
  std::optional<double> dry_fraction;
  std::optional<double> salt_factor;              // salinity over what conductivity implies
  std::optional<double> salt_factor_uncertainty;  // standard uncertainty; with it
};
struct NoteAddition {
  std::optional<Grams> salt;
  std::optional<Litres> water;
  std::optional<Litres> removed;
  std::optional<Grams> salt_total;  // corrects what was noted in all
  std::string text;
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
struct AskStatus {};

struct Request {
  std::string id;  // repeating one repeats the answer, not the act; may be empty for a local asker
  std::string station;
  std::variant<AskChange, StopChange, BeginBatch, NoteAddition, AbandonBatch, CalibrateProbe,
               VerifyProbe, AcknowledgeAlarm, AskStatus>
      act;
};

// At most 16 kB and 16 levels deep; anything else is an error that says what and what instead.
Result<Request> parse_request(std::string_view text);

}  // namespace brinegate::daemon
