// SPDX-License-Identifier: Apache-2.0
// Lots, tanks and what they are made of as JSON for the store and the record, and back. Contents
// are in the units of rules/chemistry/analyte.h, under the analyte's symbol.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json.hpp>

#include "daemon/engine/state_json.h"
#include "rules/chemistry/lot.h"
#include "rules/chemistry/tank.h"
#include "rules/result.h"

namespace brinegate::daemon {

std::string symbol(Analyte analyte);
std::optional<Analyte> analyte_of(std::string_view symbol);

// {"low": 411.2, "high": 411.2, "standard_uncertainty": 8.2}
Json to_json(const CensoredValue& content);
// {"Ca": {"low": 411.2, "high": 411.2, "standard_uncertainty": 8.2}, ...}; at SP 35
Json to_json(const Composition& composition);
Json to_json(const Assay& assay);
Json to_json(const Lot& lot);
Json to_json(const std::vector<LotPart>& parts);
Json to_json(const BatchSalt& salt);
// The particulars alone: tests and changes are stored one by one, with the tank's name.
Json to_json(const Tank& tank);
Json to_json(const std::string& tank, const WaterTest& test);
Json to_json(const std::string& tank, const TankChange& change);

Result<Lot> lot_from(std::string_view text);
Result<Tank> tank_from(std::string_view text);
struct TankTest {
  std::string tank;
  WaterTest test;
};
Result<TankTest> water_test_from(std::string_view text);
struct ChangeOfTank {
  std::string tank;
  TankChange change;
};
Result<ChangeOfTank> tank_change_from(std::string_view text);

// What is missing or unusable; empty: nothing.
std::string read_content(const Json& json, CensoredValue& content);
std::string read_batch_salt(const Json& json, BatchSalt& salt);

// Calls read(member, analyte) for each member of the object; what is missing or unusable.
template <class Read>
std::string read_by_symbol(const Json* object, const char* key, Read read) {
  if (object == nullptr || !object->is_object())
    return key;
  for (const auto& [name, member] : object->items()) {
    const auto analyte = analyte_of(name);
    std::string missing = analyte ? read(member, *analyte) : name;
    if (!missing.empty())
      return missing;
  }
  return "";
}

}  // namespace brinegate::daemon
