// SPDX-License-Identifier: Apache-2.0
// A Modbus peer of bytes, independent of libmodbus: answers each request as a script says, late or
// wrongly where the script says so, and keeps every request. Over TCP or over a pseudo terminal.
#pragma once

#include <atomic>
#include <chrono>
#include <cstdint>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "config/model.h"

namespace brinegate::drivers {

using Bytes = std::vector<std::uint8_t>;

struct ScriptedAnswer {
  Bytes pdu;                           // empty: silence
  std::chrono::milliseconds after{0};  // the device works one request at a time, in order
  std::uint8_t unit = 0;               // 0: the unit asked
  bool spoil = false;                  // RTU: a wrong checksum; TCP: a wrong transaction
};

struct SeenRequest {
  Bytes frame;  // as on the wire
  std::uint8_t unit = 0;
  Bytes pdu;
  std::chrono::steady_clock::time_point at;
};

// CRC-16 of a serial frame, low byte first on the wire.
std::uint16_t crc16(const Bytes& bytes);
Bytes from_hex(const std::string& text);

class ScriptedPeer {
 public:
  enum class Medium { Tcp, Serial };
  using Script = std::function<ScriptedAnswer(const SeenRequest&)>;

  ScriptedPeer(Medium medium, Script script);
  ~ScriptedPeer();
  ScriptedPeer(const ScriptedPeer&) = delete;
  ScriptedPeer& operator=(const ScriptedPeer&) = delete;

  config::Link link(std::chrono::milliseconds timeout) const;
  std::vector<SeenRequest> requests() const;
  int connections() const { return connections_; }

 private:
  void run();
  void serve(int descriptor);
  bool read_exactly(int descriptor, Bytes& into, std::size_t count);
  bool read_request(int descriptor, SeenRequest& request);
  void answer(int descriptor, const SeenRequest& request, const ScriptedAnswer& answer);

  Medium medium_;
  Script script_;
  int descriptor_ = -1;  // the listening socket, or the terminal's master side
  int keeps_open_ = -1;  // a terminal without a slave side hangs up
  std::uint16_t port_ = 0;
  std::string device_;
  std::atomic<bool> stop_ = false;
  std::atomic<int> connections_ = 0;
  mutable std::mutex mutex_;
  std::vector<SeenRequest> requests_;
  std::thread thread_;
};

}  // namespace brinegate::drivers
