// SPDX-License-Identifier: Apache-2.0
// What can happen to the engine: the whole of its input. The shell queues these from its drivers,
// servers, disk and timer and hands them over with the one "now" of the turn.
#pragma once

#include <cstdint>
#include <string>
#include <variant>

#include "drivers/driver.h"
#include "rules/reading.h"

namespace brinegate::daemon {

struct SampleArrived {
  drivers::ProbeKey probe;
  Sample sample;  // raw, before the probe's conversion
};

struct OutputReported {
  drivers::OutputReport report;
};

// Where a request came from, which decides what it may ask for.
enum class Origin {
  Reader,   // HTTP's own readings of the state, and nothing else
  Network,  // MQTT: may ask for a change, stop one, note what was added
  Token,    // a person over HTTP: also begins, ends and acknowledges, but for what moves a probe,
            // or makes a wrong dose or a wrong salt look right
  Local,    // the control socket, which only the site's own user can open: everything
};

// Whom to answer; opaque to the engine, which gives it back in Reply.
using ReplyAddress = std::uint64_t;

struct RequestArrived {
  ReplyAddress from = 0;
  Origin origin = Origin::Network;
  std::string station;  // from the topic; empty: the payload names it
  std::string payload;  // JSON, see request.h
  bool retained = false;
};

// The disk's answer to Append. A failed one means that nothing of it was written.
struct AppendFinished {
  std::uint64_t ticket = 0;
  bool ok = false;
};

struct BrokerChanged {
  bool connected = false;
};

// Home automation has said that it started, a random while ago.
struct HomeAutomationStarted {};

// The daemon is to end: shut every gate and say so. The shell then drives outputs off itself too.
struct StopAsked {};

using Event = std::variant<SampleArrived, OutputReported, RequestArrived, AppendFinished,
                           BrokerChanged, HomeAutomationStarted, StopAsked>;

}  // namespace brinegate::daemon
