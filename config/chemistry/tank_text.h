// SPDX-License-Identifier: Apache-2.0
// Reads a tank's particulars (our JSON file) and its water tests (JSON, CSV or pasted, as a lot's
// analysis).
//   { "tank": "reef", "volume": "800 L", "salinity": "35 ppt", "temperature": "25 C",
//     "wanted": { "alkalinity": ["7 dKH", "8.5 dKH"],
//                 "Ca": { "from": "400 mg/L", "to": "450 mg/L", "weight": 2 },
//                 "Cu": { "to": "5 ug/L", "never_above": true } },
//     "consumption": { "alkalinity": "0.3 dKH/d", "NO3": "4 %/d" },
//     "limits": { "salinity_step": "0.5 ppt", "temperature_step": "1 C" } }
//   { "tested": "2026-11-02T18:00", "salinity": "34.8 ppt", "values": { … as in a lot … } }
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/chemistry/lot_text.h"
#include "config/problem.h"
#include "rules/chemistry/tank.h"

namespace brinegate::config {

struct ReadTank {
  std::optional<Tank> tank;  // only where there is no error; without tests and changes
  std::vector<Problem> errors;
};
ReadTank read_tank(std::string_view given, const std::string& file_name);

struct TestParticulars {
  std::optional<WallTime> at;
  std::optional<PracticalSalinity> salinity;
};
struct ReadTest {
  std::optional<WaterTest> test;
  std::vector<Problem> errors;
  std::vector<UnreadLine> unread;
};
ReadTest read_water_test(std::string_view given, const std::string& file_name,
                         const TestParticulars& particulars);

}  // namespace brinegate::config
