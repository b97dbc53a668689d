// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/message_ways.h"

#include <algorithm>
#include <limits>
#include <utility>

#include "sim/faults/virtual_site.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

}  // namespace

MessageWays::MessageWays(const StationTraits& station, std::uint64_t seed)
    : station_(station),
      instruments_(instruments_of(station)),
      came_(instruments_.size(), false),
      random_(seed ^ 0x77617973) {}

double MessageWays::disturb_cell(double value, const ActiveFaults& faults) {
  if (faults.has(FaultKind::CellNotANumber) && chance(0.7))
    return std::numeric_limits<double>::quiet_NaN();
  if (faults.has(FaultKind::CellInAir))
    return 0.02;
  if (faults.has(FaultKind::CellSpikes) && chance(0.3))
    return value * uniform(random_, 0.3, 1.5);
  if (faults.has(FaultKind::CellBubbles) && chance(0.6))
    return value * (1.0 - 0.4 * uniform(random_, 0.0, 1.0));
  return value;
}

MessageWays::Shown MessageWays::show(Instrument instrument, const Plant& plant,
                                     const ActiveFaults& faults, MonoTime now) {
  if (instrument == Instrument::ReadBack)
    return {plant.pump_powered(now) ? 1.0 : 0.0, true};
  Shown shown{plant.shown(instrument), true};
  if (instrument != Instrument::CellA)
    return shown;
  if (faults.has(FaultKind::CellMissing))
    return {std::nullopt, false};
  if (faults.has(FaultKind::CellLate)) {
    if (now < cell_comes_)
      return {std::nullopt, false};
    cell_comes_ = now + from_seconds(uniform(random_, 2.0, 30.0));
  }
  shown.value = disturb_cell(*shown.value, faults);
  return shown;
}

void MessageWays::sample(const Plant& plant, const ActiveFaults& faults, Instant now,
                         Duration wall_off) {
  const double lost = faults.has(FaultKind::LinkSilent) ? 1.0
                      : faults.has(FaultKind::LinkLoses)
                          ? 0.3 + 0.6 * faults.of(FaultKind::LinkLoses)
                      : faults.has(FaultKind::LinkLate) ? 0.5
                                                        : 0.0;
  for (std::size_t i = 0; i < instruments_.size(); ++i) {
    const Shown shown = show(instruments_[i], plant, faults, now.mono);
    came_[i] = shown.comes;
    if (!shown.comes)
      continue;
    Sample sample;
    sample.value = *shown.value;
    sample.fault = SampleFault::None;
    sample.arrived = now.mono;
    if (instruments_[i] == Instrument::Bath && station_.bath_by_broker) {
      sample.source_time = now.wall - wall_off;  // its own clock is right
      by_broker(i, sample, faults, now);
      continue;
    }
    if (lost > 0.0 && chance(lost)) {
      sample.fault = SampleFault::Timeout;
      came_[i] = false;
    }
    put(daemon::SampleArrived{{0, i}, sample}, now.mono);
  }
}

void MessageWays::by_broker(std::size_t probe, Sample sample, const ActiveFaults& faults,
                            Instant now) {
  daemon::SampleArrived arrived{{0, probe}, sample};
  if (faults.has(FaultKind::BathOldTime) && last_bath_)
    arrived.sample = last_bath_->sample;
  else
    last_bath_ = arrived;
  const bool lost =
      faults.has(FaultKind::BrokerAway) || (faults.has(FaultKind::BrokerLoses) && chance(0.5));
  came_[probe] = !lost;
  if (lost)
    return;
  const Duration takes = faults.has(FaultKind::BrokerReorders)
                             ? from_seconds(uniform(random_, 0.0, 3.0))
                             : Duration(0);
  arrived.sample.arrived = now.mono + takes;
  put(arrived, now.mono + takes);
  if (faults.has(FaultKind::BrokerRepeats))
    put(arrived, now.mono + takes);
}

void MessageWays::request(const daemon::RequestArrived& request, const ActiveFaults& faults,
                          MonoTime now) {
  if (!request.retained)
    last_request_ = request;
  if (faults.has(FaultKind::BrokerAway) || (faults.has(FaultKind::BrokerLoses) && chance(0.5)))
    return;
  const Duration takes = faults.has(FaultKind::BrokerReorders)
                             ? from_seconds(uniform(random_, 0.0, 20.0))
                             : Duration(0);
  put(request, now + takes);
}

void MessageWays::replay_retained(MonoTime now) {
  if (!last_bath_)
    return;
  daemon::SampleArrived old = *last_bath_;
  old.sample.retained = true;
  old.sample.arrived = now;
  put(old, now);
}

std::vector<daemon::Event> MessageWays::arrived(MonoTime now) {
  std::vector<daemon::Event> events;
  while (!on_the_way_.empty() && on_the_way_.begin()->first <= now) {
    events.push_back(std::move(on_the_way_.begin()->second));
    on_the_way_.erase(on_the_way_.begin());
  }
  return events;
}

std::optional<MonoTime> MessageWays::next_arrival() const {
  return on_the_way_.empty() ? std::nullopt : std::optional(on_the_way_.begin()->first);
}

bool MessageWays::came(Instrument instrument) const {
  for (std::size_t i = 0; i < instruments_.size(); ++i)
    if (instruments_[i] == instrument)
      return came_[i];
  return false;
}

}  // namespace brinegate::sim
