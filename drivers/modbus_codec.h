// SPDX-License-Identifier: Apache-2.0
// Registers as they stand on the wire <-> numbers. Pure. Our own byte order on both sides, because
// a library's getters and setters that disagree on an order would hide each other's mistake.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "config/model.h"
#include "rules/reading.h"
#include "rules/result.h"

namespace brinegate::drivers {

// How many registers (or coils) one value takes.
std::size_t register_count(config::ModbusEncoding encoding);

// The value, or BadAnswer: a wrong number of registers, a bit that is neither 0 nor 1, and the NaN
// and infinities by which devices say "no value".
Result<double, SampleFault> decode(config::ModbusEncoding encoding, config::ByteOrder order,
                                   std::span<const std::uint16_t> registers);

// What a device holds that means `value`, rounded and clamped to what the encoding can hold. For
// the simulator and for tests.
std::vector<std::uint16_t> encode(config::ModbusEncoding encoding, config::ByteOrder order,
                                  double value);

}  // namespace brinegate::drivers
