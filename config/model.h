// SPDX-License-Identifier: Apache-2.0
// The configuration after it was read: everything the daemon needs, in types, no text left to
// interpret. Produced by config/load, never changed afterwards.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "rules/probe.h"
#include "rules/profile.h"
#include "rules/station_spec.h"
#include "rules/time.h"

namespace brinegate::config {

struct Mqtt {
  std::string broker;  // mqtt://host:port or mqtts://host:port
  std::string username;
  std::string password_file;
  std::string ca_file;     // of mqtts; empty: whom this computer trusts
  bool discovery = false;  // home automation is told what there is
  std::string discovery_prefix = "homeassistant";
  std::string birth_topic =
      "homeassistant/status";  // on which it says birth_payload when it starts
  std::string birth_payload = "online";
};

// The dashboard and the interface for programs: HTTP without TLS, on this computer unless said
// otherwise.
struct Http {
  std::string address = "127.0.0.1";  // a numeric address of this computer to listen on
  std::uint16_t port = 8480;
  std::string token_file;          // empty: it can be read on this computer, and nothing asked for
  std::vector<std::string> hosts;  // names it is reached by, lower case, beside those of loopback
  [[nodiscard]] bool on_loopback() const;
};

// How long the history is kept: single readings, and what was of each minute. What was of each hour
// is kept for good.
struct History {
  Duration readings = std::chrono::hours(24 * 60);
  Duration minutes = std::chrono::hours(24 * 730);
};

struct TcpAddress {
  std::string host;
  std::uint16_t port = 502;
};

enum class Parity { None, Even, Odd };

struct SerialAddress {
  std::string device;
  int baud = 19200;
  Parity parity = Parity::Even;
  int stop_bits = 1;
};

// A Modbus line: one TCP peer or one serial bus.
struct Link {
  std::string name;
  std::variant<TcpAddress, SerialAddress> address;
  Duration timeout = std::chrono::milliseconds(500);  // of one answer
  bool simulated = false;  // everything on this line comes from a simulator (S17)
};

enum class ModbusTable { Coil, Discrete, Input, Holding };
enum class ModbusEncoding { Bit, UInt16, Int16, UInt32, Int32, Float32 };
// Order of the four bytes of a 32-bit value on the wire. There is no default.
enum class ByteOrder { ABCD, CDAB, BADC, DCBA };

// One value on a Modbus line. Addresses are zero-based as on the wire.
struct ModbusSource {
  std::string link;
  std::uint8_t unit = 1;  // 1 to 247; 0 (broadcast) is refused
  ModbusTable table = ModbusTable::Input;
  std::uint16_t address = 0;
  ModbusEncoding encoding = ModbusEncoding::UInt16;
  ByteOrder order = ByteOrder::ABCD;  // only for 32-bit encodings
  Duration every = std::chrono::seconds(1);
};

struct MqttSource {
  std::string topic;
  std::string pointer;            // JSON pointer to the value; empty: the payload is the number
  std::string time_pointer;       // JSON pointer to ISO 8601 or Unix seconds; empty: none
  std::string simulated_pointer;  // JSON pointer to a boolean mark; default "/simulated"
};

// A child process that prints one JSON reading a line: {"value": 53.1, "time": ..., "simulated":
// ..}
struct ProcessSource {
  std::vector<std::string> command;
};

using SourceAddress = std::variant<ModbusSource, MqttSource, ProcessSource>;

// The self-lapsing "on": a count of `step` written to a holding register, after which the device
// switches off by itself.
struct TimedOn {
  std::uint16_t holding = 0;
  Duration step = std::chrono::milliseconds(100);
};

struct ModbusOutput {
  std::string link;
  std::uint8_t unit = 1;
  std::uint16_t coil = 0;
  std::optional<TimedOn> timed;  // none: the device stays on when the daemon dies
  bool simulated = false;        // the output says it is a simulated one (S17)
};

struct MqttOutput {
  std::string topic;
  std::string on;   // payload; "{seconds}" in it is replaced by the lease: the self-lapsing form
  std::string off;  // payload
  bool simulated = false;
};

using OutputAddress = std::variant<ModbusOutput, MqttOutput>;

struct Output {
  OutputAddress address;
  // True where the device switches off by itself when it hears nothing more.
  [[nodiscard]] bool lapses_by_itself() const;
  [[nodiscard]] bool simulated() const;
};

struct Pump {
  Output output;
  std::optional<Output> second_cutoff;  // dropped when the pump runs while shut, or not while open
  std::optional<Litres> change_button;  // what home automation's button asks for; none: no button
};

struct Station {
  StationSpec spec;
  std::string profile;                 // default for batch begin
  std::string tank;                    // on record, into which its pump draws; empty: none
  std::vector<SourceAddress> sources;  // in the order of spec.probes
  std::optional<Pump> pump;            // its read-back is a probe that measures PumpRunning
  std::optional<Output> hold_off;
  std::optional<Output> drain;  // its read-back is a probe that measures DrainRunning
};

struct Site {
  std::string name;
  std::string data;  // folder
  std::optional<Mqtt> mqtt;
  std::optional<Http> http;
  History history;
  std::vector<Link> links;
  std::vector<Profile> profiles;
  std::vector<Station> stations;
};

}  // namespace brinegate::config
