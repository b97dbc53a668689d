// SPDX-License-Identifier: Apache-2.0
#include "drivers/modbus_line.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "drivers/clock.h"
#include "drivers/modbus_bus.h"
#include "drivers/modbus_codec.h"
#include "drivers/quiet_thread.h"

namespace brinegate::drivers {

namespace {

constexpr Duration first_reconnect = std::chrono::milliseconds(200);
constexpr Duration longest_reconnect = std::chrono::seconds(5);
constexpr Duration longest_rest = std::chrono::seconds(5);

std::vector<PollSchedule::Source> periods(const std::vector<ModbusProbe>& probes) {
  std::vector<PollSchedule::Source> sources;
  for (const ModbusProbe& probe : probes) {
    sources.push_back({probe.source.every, probe.source.unit});
  }
  return sources;
}

std::chrono::steady_clock::time_point steady(MonoTime time) {
  return std::chrono::steady_clock::time_point(time.time_since_epoch());
}

}  // namespace

ModbusLine::ModbusLine(config::Link link, std::vector<ModbusProbe> probes,
                       std::vector<ModbusSwitch> switches, Sink& sink)
    : link_(std::move(link)),
      probes_(std::move(probes)),
      sink_(sink),
      bus_(std::make_unique<ModbusBus>(link_)),
      schedule_(periods(probes_), 2 * link_.timeout, longest_rest),
      reconnect_(first_reconnect, longest_reconnect) {
  for (ModbusSwitch& output : switches) {
    outputs_.push_back({std::move(output), OutputIntent(OutputTiming{})});
  }
}

ModbusLine::~ModbusLine() {
  close();
}

void ModbusLine::open() {
  thread_ = start_quiet_thread([this] { run(); });
}

void ModbusLine::drive(OutputKey key, std::optional<MonoTime> on_until) {
  {
    const std::lock_guard lock(mutex_);
    for (Switched& output : outputs_) {
      if (output.spec.key == key && !stop_) {
        output.intent.want(on_until, monotonic_now());
      }
    }
  }
  changed_.notify_one();
}

void ModbusLine::close() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  changed_.notify_one();
  if (thread_.joinable()) {
    thread_.join();
  }
}

void ModbusLine::run() {
  while (!stopping()) {
    if (turn()) {
      wait_for_work();
    }
  }
  switch_everything_off();
  bus_->disconnect();
}

// False: the line is out of step and wants its next turn at once.
bool ModbusLine::turn() {
  bring_into_step();
  if (bus_->connected() && bus_->out_of_step()) {
    return false;
  }
  drive_outputs();
  serve_due_source();
  return true;
}

void ModbusLine::bring_into_step() {
  if (!bus_->connected()) {
    connect_when_due(monotonic_now());
  }
  if (bus_->connected() && bus_->out_of_step()) {
    switch_off_without_proof();
    bus_->resynchronise([this] { return stopping() || off_is_waiting(); });
  }
}

void ModbusLine::connect_when_due(MonoTime now) {
  if (now < connect_at_) {
    return;
  }
  const bool was_alive = bus_->answered();
  if (!bus_->connect()) {
    down_because_ = SampleFault::NotConnected;
    connect_at_ = monotonic_now() + reconnect_.next();
    return;
  }
  // A peer that takes connections and never answers must not be connected to without pause.
  if (was_alive) {
    reconnect_.reset();
  }
  connect_at_ = monotonic_now() + reconnect_.next();
}

// "Off" does not wait for the line to be in step again: sent at once, its outcome proves nothing
// and is not used; the same "off" is sent again with proof afterwards.
void ModbusLine::switch_off_without_proof() {
  std::vector<config::ModbusOutput> unsent;
  {
    const std::lock_guard lock(mutex_);
    for (Switched& output : outputs_) {
      if (output.intent.wants_off(monotonic_now()) && !output.intent.confirmed_off() &&
          output.blind_off_of != output.intent.generation()) {
        output.blind_off_of = output.intent.generation();
        unsent.push_back(output.spec.output);
      }
    }
  }
  for (const config::ModbusOutput& output : unsent) {
    switch_off(output);
  }
}

bool ModbusLine::off_is_waiting() {
  const std::lock_guard lock(mutex_);
  return std::any_of(outputs_.begin(), outputs_.end(), [](const Switched& output) {
    return output.intent.wants_off(monotonic_now()) && !output.intent.confirmed_off() &&
           output.blind_off_of != output.intent.generation();
  });
}

OutputIntent::Step ModbusLine::take_step(Switched& output) {
  const std::lock_guard lock(mutex_);
  return output.intent.next(monotonic_now());
}

void ModbusLine::drive_outputs() {
  using Action = OutputIntent::Action;
  for (Switched& output : outputs_) {  // the vector itself never changes after construction
    for (auto step = take_step(output); step.action != Action::None; step = take_step(output)) {
      const bool asked_on = step.action == Action::SwitchOn || step.action == Action::Drop;
      const auto [fault, taken_over] = carry_out(output, step);
      const bool confirmed = fault == SampleFault::None;
      {
        const std::lock_guard lock(mutex_);
        if (step.action == Action::RestateOff && !confirmed) {
          output.intent.doubt(monotonic_now());  // switched off anew, at once
        } else if (step.action != Action::Drop) {
          output.intent.done(step, confirmed, monotonic_now());
        }
      }
      sink_.report({output.spec.key, asked_on, fault, taken_over});
    }
  }
}

ModbusLine::Outcome ModbusLine::carry_out(Switched& output, const OutputIntent::Step& step) {
  if (!bus_->connected()) {
    return {down_because_};
  }
  if (step.action == OutputIntent::Action::Drop || bus_->out_of_step()) {
    return {SampleFault::Timeout};
  }
  switch (step.action) {
    case OutputIntent::Action::SwitchOn:
      return renew_on(output, step.on_until);
    case OutputIntent::Action::RestateOff: {
      const auto coil = read_coil(output.spec.output);
      if (!coil) {
        return {coil.error()};
      }
      return {*coil ? SampleFault::BadAnswer : SampleFault::None, *coil};
    }
    case OutputIntent::Action::SwitchOff:
      output.surely_on_until = MonoTime::min();
      return {switch_off(output.spec.output)};
    case OutputIntent::Action::None:
    case OutputIntent::Action::Drop:
      break;
  }
  return {SampleFault::Timeout};
}

// S14: before an "on" is said again, the one before must still stand.
ModbusLine::Outcome ModbusLine::renew_on(Switched& output, MonoTime until) {
  Outcome outcome;
  if (monotonic_now() < output.surely_on_until) {
    const auto coil = read_coil(output.spec.output);
    outcome.taken_over = coil && !*coil && monotonic_now() < output.surely_on_until;
  }
  outcome.fault = switch_on(output.spec.output, until);
  // A device that counts in steps is off up to one step early.
  const auto& timed = output.spec.output.timed;
  output.surely_on_until = outcome.fault != SampleFault::None ? MonoTime::min()
                           : timed                            ? until - 2 * timed->step
                                                              : until;
  return outcome;
}

SampleFault ModbusLine::switch_on(const config::ModbusOutput& output, MonoTime until) {
  SampleFault fault = SampleFault::None;
  if (output.timed) {
    // The remaining time is taken as late as possible: what was spent on the line is not given.
    const std::int64_t steps = (until - monotonic_now()) / output.timed->step;
    if (steps < 1) {
      return SampleFault::Timeout;
    }
    constexpr std::int64_t most = std::numeric_limits<std::int16_t>::max();  // read as signed, too
    fault = bus_->write_register(output.unit, output.timed->holding,
                                 static_cast<std::uint16_t>(std::min(steps, most)));
  } else {
    if (monotonic_now() >= until) {
      return SampleFault::Timeout;
    }
    fault = bus_->write_coil(output.unit, output.coil, true);
  }
  return fault != SampleFault::None ? fault : expect_coil(output, true);
}

SampleFault ModbusLine::switch_off(const config::ModbusOutput& output) {
  SampleFault fault = SampleFault::None;
  if (output.timed) {
    fault = bus_->write_register(output.unit, output.timed->holding, 0);
  }
  // The coil is written even if the register was refused: one of the two may do.
  if (fault == SampleFault::None || fault == SampleFault::DeviceException) {
    const SampleFault coil = bus_->write_coil(output.unit, output.coil, false);
    fault = coil != SampleFault::None ? coil : fault;
  }
  // The echo of a write is not compared with the request by the library, and an echo is no proof:
  // only the coil read back is.
  if (fault == SampleFault::None || fault == SampleFault::DeviceException) {
    fault = expect_coil(output, false);
  }
  return fault;
}

Result<bool, SampleFault> ModbusLine::read_coil(const config::ModbusOutput& output) {
  const auto coil = bus_->read(output.unit, config::ModbusTable::Coil, output.coil, 1);
  if (!coil) {
    return coil.error();
  }
  return coil->front() != 0;
}

SampleFault ModbusLine::expect_coil(const config::ModbusOutput& output, bool on) {
  const auto coil = read_coil(output);
  if (!coil) {
    return coil.error();
  }
  return *coil == on ? SampleFault::None : SampleFault::BadAnswer;
}

void ModbusLine::serve_due_source() {
  if (bus_->connected() && bus_->out_of_step()) {
    return;
  }
  if (const auto turn = schedule_.take(monotonic_now())) {
    serve(turn->source, turn->resting);
  }
}

void ModbusLine::serve(std::size_t probe, SampleFault resting) {
  const auto& [key, source] = probes_[probe];
  if (!bus_->connected()) {
    return deliver(key, 0.0, down_because_);
  }
  if (resting != SampleFault::None) {
    return deliver(key, 0.0, resting);
  }
  const auto words = bus_->read(source.unit, source.table, source.address,
                                static_cast<std::uint16_t>(register_count(source.encoding)));
  if (!words) {
    if (words.error() != SampleFault::DeviceException) {
      schedule_.unit_failed(source.unit, words.error(), monotonic_now());
      down_because_ = words.error();
    }
    return deliver(key, 0.0, words.error());
  }
  schedule_.unit_answered(source.unit);
  const auto value = decode(source.encoding, source.order, *words);
  deliver(key, value ? *value : 0.0, value ? SampleFault::None : value.error());
}

void ModbusLine::deliver(ProbeKey key, double value, SampleFault fault) {
  Sample sample;
  sample.value = value;
  sample.fault = fault;
  sample.arrived = monotonic_now();
  sink_.deliver(key, sample);
}

void ModbusLine::wait_for_work() {
  MonoTime next = schedule_.due();
  if (!bus_->connected()) {
    next = std::min(next, connect_at_);
  }
  std::unique_lock lock(mutex_);
  const auto ready = [&] {
    MonoTime due = next;
    for (const Switched& output : outputs_) {
      due = std::min(due, output.intent.due());
    }
    return stop_ || monotonic_now() >= due;
  };
  // Wakes at least once a second, whatever was computed.
  const MonoTime latest = monotonic_now() + std::chrono::seconds(1);
  while (!ready()) {
    MonoTime until = std::min(next, latest);
    for (const Switched& output : outputs_) {
      until = std::min(until, output.intent.due());
    }
    if (changed_.wait_until(lock, steady(until)) == std::cv_status::timeout) {
      return;
    }
  }
}

bool ModbusLine::everything_off() {
  const std::lock_guard lock(mutex_);
  return std::all_of(outputs_.begin(), outputs_.end(),
                     [](const Switched& output) { return output.intent.confirmed_off(); });
}

void ModbusLine::switch_everything_off() {
  {
    const std::lock_guard lock(mutex_);
    for (Switched& output : outputs_) {
      output.intent.want(std::nullopt, monotonic_now());
    }
  }
  const MonoTime give_up = monotonic_now() + 8 * link_.timeout;
  while (!everything_off() && monotonic_now() < give_up) {
    if (!bus_->connected() && !bus_->connect()) {
      return;  // nobody there to be told
    }
    if (bus_->out_of_step()) {
      switch_off_without_proof();
      if (!bus_->resynchronise([give_up] { return monotonic_now() >= give_up; })) {
        continue;
      }
    }
    for (Switched& output : outputs_) {
      if (!output.intent.confirmed_off()) {  // drive() changes nothing any more
        const OutputIntent::Step step{
            OutputIntent::Action::SwitchOff, {}, output.intent.generation()};
        const SampleFault fault = carry_out(output, step).fault;
        output.intent.done(step, fault == SampleFault::None, monotonic_now());
        sink_.report({output.spec.key, false, fault});
      }
    }
  }
}

bool ModbusLine::stopping() {
  const std::lock_guard lock(mutex_);
  return stop_;
}

}  // namespace brinegate::drivers
