// SPDX-License-Identifier: Apache-2.0
#include "daemon/engine/probe_records.h"

#include <cmath>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/advice.h"
#include "config/words.h"
#include "daemon/engine/view.h"
#include "rules/health_points.h"

namespace brinegate::daemon {
namespace {

Json percent(double share) {
  return rounded(100.0 * share, 4);
}

Json point_view(const HealthPoint& point) {
  return {{"at", iso_time(point.at)},
          {"witness", config::word(point.witness)},
          {"batch", point.batch},
          {"deviation_percent", percent(point.deviation)},
          {"uncertainty_percent",
           percent(std::hypot(point.standard_uncertainty, point.common_uncertainty))}};
}

Json health_view(const ProbeHealth& health, const std::string& probe, WallTime now) {
  return {
      {"days_since_calibration", rounded(seconds(health.since_calibration) / 86400.0, 2)},
      {"comparisons", health.points},
      {"deviation_percent", percent(health.deviation)},
      {"deviation_uncertainty_percent", percent(health.deviation_uncertainty)},
      {"drift_percent_per_day", percent(health.drift_per_day)},
      {"drift_uncertainty_percent_per_day", percent(health.drift_uncertainty)},
      {"drifts", health.drifts},
      {"limit_percent", percent(health.limit)},
      {"calibrate_by", health.calibrate_in ? Json(iso_time(now + *health.calibrate_in)) : Json()},
      {"due", health.calibrate_in == Duration::zero()},
      {"sentence", config::sentence(health, probe)}};
}

}  // namespace

void ProbeRecords::restore(const std::string& probe, ProbeRecord record, Station& station) {
  const auto& probes = station.spec().probes;
  for (std::size_t i = 0; i < probes.size(); ++i) {
    if (probes[i].name != probe)
      continue;
    station.set_known_since(i, record.known_since);
    records_[i] = std::move(record);
    return;
  }
}

// A clock that was never set gives no dates worth keeping.
void ProbeRecords::follow(Station& station, const std::vector<StationEvent>& events, WallTime now,
                          Append& append) {
  if (now < earliest_believed)
    return;
  meet(station, now, append);
  for (const StationEvent& event : events) {
    if (std::holds_alternative<BatchProven>(event))
      for (std::size_t i = 0; i < records_.size(); ++i)
        for (const HealthPoint& point : points_at_proof(station, i, now))
          keep(station, i, point, append);
    if (const auto* calibrated = std::get_if<ProbeCalibrated>(&event))
      if (const auto point = point_in_standard(station.spec().probes[calibrated->probe],
                                               calibrated->before, calibrated->calibration))
        keep(station, calibrated->probe, *point, append);
  }
}

void ProbeRecords::meet(Station& station, WallTime now, Append& append) {
  for (std::size_t i = 0; i < records_.size(); ++i) {
    const bool is_new = records_[i].known_since < earliest_believed;
    if (!is_new || is_contact(station.spec().probes[i].measures) ||
        !station.readings()[i].is_good())
      continue;
    records_[i].known_since = now;
    station.set_known_since(i, now);
    store(station, i, append);
  }
}

void ProbeRecords::keep(const Station& station, std::size_t probe, const HealthPoint& point,
                        Append& append) {
  add_point(records_[probe].points, point);
  Json body = point_view(point);
  body["probe"] = station.spec().probes[probe].name;
  append.entries.push_back({point.at, station.spec().name, "compared", dump(body)});
  store(station, probe, append);
}

void ProbeRecords::store(const Station& station, std::size_t probe, Append& append) const {
  const std::string& name = station.spec().name;
  append.states.push_back({"probe", fmt::format("{}/{}", name, station.spec().probes[probe].name),
                           name, dump(to_json(records_[probe]))});
}

Json ProbeRecords::view(const Station& station, WallTime now) const {
  Json view = Json::object();
  for (std::size_t i = 0; i < records_.size(); ++i) {
    const auto question = health_question(station, i, records_[i].known_since, now);
    if (!question)
      continue;
    const std::string& name = station.spec().probes[i].name;
    Json one = health_view(probe_health(records_[i].points, *question), name, now);
    const WallTime calibrated = station.calibration(i).at;
    one["calibrated"] = calibrated < earliest_believed ? Json() : Json(iso_time(calibrated));
    Json points = Json::array();
    for (const HealthPoint& point : records_[i].points)
      points.push_back(point_view(point));
    one["points"] = std::move(points);
    view[name] = std::move(one);
  }
  return view;
}

}  // namespace brinegate::daemon
