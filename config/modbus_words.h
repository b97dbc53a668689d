// SPDX-License-Identifier: Apache-2.0
// How a register is encoded, in the configuration's words.
#pragma once

#include <string_view>

#include "config/model.h"
#include "config/table_reader.h"

namespace brinegate::config {

inline constexpr Word<ModbusEncoding> encodings[]{
    {"uint16", ModbusEncoding::UInt16},   {"int16", ModbusEncoding::Int16},
    {"uint32", ModbusEncoding::UInt32},   {"int32", ModbusEncoding::Int32},
    {"float32", ModbusEncoding::Float32},
};
inline constexpr Word<ByteOrder> byte_orders[]{
    {"ABCD", ByteOrder::ABCD},
    {"CDAB", ByteOrder::CDAB},
    {"BADC", ByteOrder::BADC},
    {"DCBA", ByteOrder::DCBA},
};

}  // namespace brinegate::config
