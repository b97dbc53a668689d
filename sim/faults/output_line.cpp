// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/output_line.h"

#include <algorithm>

namespace brinegate::sim {
namespace {

using drivers::OutputIntent;
using drivers::OutputRole;

// As in README.md.
constexpr std::uint16_t pump_coil = 0;
constexpr std::uint16_t cutoff_coil = 2;
constexpr std::uint16_t timed_on = 16;

void switch_on(OutputRole role, MonoTime on_until, RelayBoard& relay, MonoTime now) {
  if (role == OutputRole::SecondCutoff)
    return relay.write(config::ModbusTable::Coil, cutoff_coil, 1, now);
  const auto steps = (on_until - now) / RelayBoard::timed_step;
  if (steps >= 1)
    relay.write(config::ModbusTable::Holding, timed_on, static_cast<std::uint16_t>(steps), now);
}

void switch_off(OutputRole role, RelayBoard& relay, MonoTime now) {
  if (role == OutputRole::SecondCutoff)
    return relay.write(config::ModbusTable::Coil, cutoff_coil, 0, now);
  relay.write(config::ModbusTable::Holding, timed_on, 0, now);
  relay.write(config::ModbusTable::Coil, pump_coil, 0, now);
}

bool is_on(OutputRole role, const RelayBoard& relay, MonoTime now) {
  return role == OutputRole::Pump ? relay.pump_coil(now) : relay.second_cutoff();
}

}  // namespace

OutputLine::OutputLine(bool has_cutoff) {
  outputs_.push_back({OutputRole::Pump});
  if (has_cutoff)
    outputs_.push_back({OutputRole::SecondCutoff});
}

void OutputLine::drive(drivers::OutputKey output, std::optional<MonoTime> on_until, MonoTime now) {
  for (Switched& each : outputs_)
    if (each.role == output.role)
      each.intent.want(on_until, now);
}

std::vector<drivers::OutputReport> OutputLine::work(RelayBoard& relay, Delivery delivery,
                                                    MonoTime now) {
  std::vector<drivers::OutputReport> reports;
  for (Switched& each : outputs_)
    carry_out(each, relay, delivery, now, reports);
  return reports;
}

void OutputLine::carry_out(Switched& output, RelayBoard& relay, Delivery delivery, MonoTime now,
                           std::vector<drivers::OutputReport>& reports) {
  using Action = OutputIntent::Action;
  for (auto step = output.intent.next(now); step.action != Action::None;
       step = output.intent.next(now)) {
    const bool asked_on = step.action == Action::SwitchOn || step.action == Action::Drop;
    const bool arrives = delivery != Delivery::Lost && step.action != Action::Drop;
    if (arrives && step.action == Action::RestateOff && output.role == OutputRole::Pump)
      found_foreign_on_ |= is_on(output.role, relay, now);
    if (arrives && asked_on)
      switch_on(output.role, step.on_until, relay, now);
    else if (arrives)
      switch_off(output.role, relay, now);
    const bool confirmed = delivery == Delivery::Done && step.action != Action::Drop;
    if (step.action != Action::Drop)
      output.intent.done(step, confirmed, now);
    reports.push_back(
        {{0, output.role}, asked_on, confirmed ? SampleFault::None : SampleFault::Timeout});
  }
}

void OutputLine::close(RelayBoard& relay, Delivery delivery, MonoTime now) {
  for (const Switched& each : outputs_)
    if (delivery != Delivery::Lost)
      switch_off(each.role, relay, now);
}

}  // namespace brinegate::sim
