// SPDX-License-Identifier: Apache-2.0
// What outlives the process, as JSON for the store, and back. Numbers are in the units of rules/,
// named in the keys; wall times are nanoseconds since 1970 (at_ns).
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "rules/calibration.h"
#include "rules/lot_yield.h"
#include "rules/probe_health.h"
#include "rules/result.h"
#include "rules/station.h"
#include "rules/verification.h"

namespace brinegate::daemon {

using Json = nlohmann::ordered_json;

// What is kept of a probe beside its calibration.
struct ProbeRecord {
  WallTime known_since;  // zero: not yet, or the clock was never right
  std::vector<HealthPoint> points;
};

Json to_json(const Batch& batch);
Json to_json(const Waiver& waiver);
Json to_json(const HandTest& test);
Json to_json(const StationMemory& memory);
Json to_json(const Calibration& calibration);
Json to_json(const LotYield& lot);
Json to_json(const HealthPoint& point);
Json to_json(const ProbeRecord& record);
Json to_json(const VerifiedPoint& point);
Json to_json(const Verification& verification);

Result<Batch> batch_from(std::string_view text);
Result<StationMemory> station_memory_from(std::string_view text);
Result<Calibration> calibration_from(std::string_view text);
Result<LotYield> lot_yield_from(std::string_view text);
Result<ProbeRecord> probe_record_from(std::string_view text);
Result<Verification> verification_from(std::string_view text);

// Never throws: text from outside that is not UTF-8 is replaced.
std::string dump(const Json& json);
// "2026-11-25T13:04:05Z"
std::string iso_time(WallTime at);

}  // namespace brinegate::daemon
