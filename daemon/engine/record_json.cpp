// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/record_json.h"

#include <variant>

#include "config/advice.h"
#include "config/words.h"
#include "daemon/engine/chemistry_json.h"
#include "daemon/engine/view.h"

namespace brinegate::daemon {
namespace {

using config::word;

struct Writer {
  const Station& station;
  MonoTime now;

  Json batch_id() const { return station.batch().id; }

  RecordText operator()(const BatchBegan&) const {
    Json body = daemon::to_json(station.batch());
    body["expected"] = expected_view(station.batch());
    return {"batch-begun", body};
  }
  RecordText operator()(const BatchNoted& e) const {
    Json body = {{"batch", batch_id()},
                 {"salt_g", e.note.salt.value()},
                 {"water_l", e.note.water.value()},
                 {"removed_l", e.note.removed.value()},
                 {"text", e.note.text}};
    if (e.note.of)
      body["lots"] = daemon::to_json(e.note.of->lot.parts);
    if (e.note.salt_total)
      body["salt_total_g"] = e.note.salt_total->value();
    return {"noted", body};
  }
  RecordText operator()(const HandTestEntered& e) const {
    Json body = daemon::to_json(e.test);
    body["batch"] = batch_id();
    body["analyte"] = symbol(e.analyte);
    return {"hand-test", body};
  }
  RecordText operator()(const WaiverGranted& e) const {
    Json body = daemon::to_json(e.waiver);
    body["batch"] = batch_id();
    return {"waived", body};
  }
  RecordText operator()(const WaiverEnded& e) const {
    Json body = daemon::to_json(e.waiver);
    body["batch"] = batch_id();
    body["end"] = word(e.end);
    return {"waiver-ended", body};
  }
  RecordText operator()(const BatchEnded& e) const {
    Json body = daemon::to_json(e.batch);
    body["end"] = word(e.end);
    return {"batch-ended", body};
  }
  RecordText operator()(const BatchProven&) const {
    Json body = daemon::to_json(station.batch());
    body["says"] = config::what_is_proven(station.batch());
    body["expected"] = expected_view(station.batch());
    body["checks"] = checks();
    return {"proven", body};
  }
  RecordText operator()(const YieldObserved& e) const {
    return {"yield-learned",
            {{"batch", batch_id()},
             {"lot", station.batch().lot},
             {"observed_dry_fraction", e.observation.dry_fraction},
             {"own_uncertainty", e.observation.own_uncertainty},
             {"shared_uncertainty", e.observation.shared_uncertainty}}};
  }
  RecordText operator()(const BatchRejected& e) const {
    Json violated = Json::array();
    for (const CheckResult& check : e.violated)
      violated.push_back(check_view(check, station, now));
    return {"rejected", {{"batch", batch_id()}, {"violated", violated}}};
  }
  RecordText operator()(const ProofLost& e) const {
    return {"proof-lost", {{"batch", batch_id()}, {"reason", word(e.reason)}}};
  }
  RecordText operator()(const PermitAsked& e) const {
    Json body = permit_view(e.permit);
    body["checks"] = checks();
    return {"permit", body};
  }
  RecordText operator()(const PermitWithdrawn&) const {
    return {"permit-withdrawn", {{"batch", batch_id()}}};
  }
  RecordText operator()(const GateOpened& e) const { return {"opened", permit_view(e.permit)}; }
  RecordText operator()(const GateShut& e) const {
    Json body = {{"permit", e.permit}, {"batch", batch_id()}, {"first_out", nullptr}};
    if (e.first_out)
      body["first_out"] = check_view(*e.first_out, station, now);
    return {"shut", body};
  }
  RecordText operator()(const PumpRunBegan& e) const {
    return {"run-began", {{"batch", batch_id()}, {"permit", e.permit}}};
  }
  RecordText operator()(const ChangeEnded& e) const {
    Json body = {{"batch", batch_id()},
                 {"permit", e.permit},
                 {"asked_l", e.asked.value()},
                 {"drawn_l", e.drawn.value()},
                 {"end", word(e.end)}};
    if (e.exchange)
      body["exchange"] = amounts_view(*e.exchange);
    return {"change-ended", body};
  }
  RecordText operator()(const ExchangeWentOn& e) const {
    Json body = amounts_view(e.amounts);
    body["permit"] = e.permit;
    body["step"] = word(e.phase);
    return {"exchange", body};
  }
  RecordText operator()(const HoldOffChanged& e) const {
    return {"hold-off", {{"asked", e.asked}, {"confirmed", e.confirmed}}};
  }
  RecordText operator()(const AlarmChanged& e) const {
    return {"alarm", alarm_view(e.alarm, station)};
  }
  RecordText operator()(const ProbeCalibrated& e) const {
    Json body = daemon::to_json(e.calibration);
    body["probe"] = station.spec().probes[e.probe].name;
    return {"calibration", body};
  }
  RecordText operator()(const ProbeCompared& e) const {
    Json body = daemon::to_json(e.comparison.point);
    body["probe"] = station.spec().probes[e.comparison.probe].name;
    body["raw"] = e.comparison.raw;
    body["agrees"] = e.comparison.agrees;
    body["verified"] = e.comparison.verified;
    return {"verification", body};
  }
  RecordText operator()(const MapEntryEdited& e) const {
    const ProbeSpec& probe = station.spec().probes[e.probe];
    return {"map-entry-edited",
            {{"probe", probe.name},
             {"reason", e.calibration ? "calibration not applied" : "verification void"},
             {"map_entry", probe.map_entry}}};
  }

  Json checks() const {
    Json all = Json::array();
    for (const CheckResult& check : station.checks())
      all.push_back(check_view(check, station, now));
    return all;
  }
};

}  // namespace

RecordText record_of(const StationEvent& event, const Station& station, MonoTime now) {
  return std::visit(Writer{station, now}, event);
}

}  // namespace brinegate::daemon
