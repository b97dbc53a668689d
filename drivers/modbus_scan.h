// SPDX-License-Identifier: Apache-2.0
// Who answers on a Modbus line, and which registers can be read there: for whoever sets a station
// up. Only functions 3 and 4 are asked, which read; one request at a time, so nobody else may talk
// on the line meanwhile.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "config/advice_line.h"
#include "config/model.h"
#include "rules/reading.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::drivers {

// Neighbours that can be read.
struct RegisterRun {
  config::ModbusTable table = config::ModbusTable::Input;
  std::uint16_t first = 0;
  std::vector<std::uint16_t> words;
};

struct FoundUnit {
  std::uint8_t unit = 1;
  std::vector<RegisterRun> runs;  // empty: it answers, and has no register here
};

struct ScanRange {
  std::uint8_t first_unit = 1;  // 1 to 247, as the last
  std::uint8_t last_unit = 32;
  std::uint16_t first_register = 0;
  std::uint16_t registers = 16;  // 1 to 125
};

// Where no unit answers.
Duration longest_scan(const config::Link& link, const ScanRange& range);

// Blocks. `progress` is told each unit before it is asked.
Result<std::vector<FoundUnit>, config::LineTrouble> scan(
    const config::Link& link, const ScanRange& range,
    const std::function<void(std::uint8_t unit)>& progress);

// Reads one value once, undecoded but for its encoding: the raw number of a sample.
Result<double, SampleFault> read_once(const config::Link& link, const config::ModbusSource& source);

}  // namespace brinegate::drivers
