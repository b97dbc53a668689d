// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/virtual_daemon.h"

#include <algorithm>
#include <utility>
#include <variant>

#include "sim/faults/virtual_site.h"

namespace brinegate::sim {
namespace {

bool holds_permit(const daemon::Append& append) {
  return std::any_of(append.entries.begin(), append.entries.end(),
                     [](const daemon::RecordEntry& entry) { return entry.kind == "permit"; });
}

}  // namespace

VirtualDaemon::VirtualDaemon(const StationTraits& station, Defect defect, Observer& observer,
                             std::uint64_t seed)
    : station_(station),
      defect_(defect),
      observer_(observer),
      random_(seed ^ 0x6461656d6f6e),
      site_(virtual_site(station, 0)) {
  if (defect == Defect::DiskLies)
    disk_.lie();
}

bool VirtualDaemon::start(Instant now) {
  const auto restored = disk_.open();
  if (!restored)
    return false;
  site_ = virtual_site(station_, edits_);
  auto created = daemon::Engine::create(site_, *restored, now);
  if (!created)
    return false;
  engine_ = std::move(created).value();
  line_.emplace(station_.has_second_cutoff);
  inbox_.clear();
  observer_.started(now);
  return true;
}

void VirtualDaemon::kill(Instant now, KillPoint at) {
  if (!engine_)
    return;
  engine_.reset();
  line_.reset();
  inbox_.clear();
  kill_point_ = KillPoint::None;
  observer_.ended({true, at, disk_.tear(random_)}, now);
}

void VirtualDaemon::stop(bool twice, RelayBoard& relay, Delivery delivery, Instant now) {
  if (!engine_)
    return;
  inbox_.emplace_back(daemon::StopAsked{});
  turn(relay, delivery, now);
  if (twice || !engine_)
    return kill(now);
  line_->close(relay, delivery, now.mono);
  for (const daemon::Effect& effect : engine_->turn({}, now))
    carry_out(effect, now);
  if (!engine_)
    return;
  disk_.close(now.mono);
  engine_.reset();
  line_.reset();
  inbox_.clear();
  observer_.ended({}, now);
}

void VirtualDaemon::put(daemon::Event event) {
  if (engine_)
    inbox_.push_back(std::move(event));
}

void VirtualDaemon::take_answers(Instant now) {
  for (daemon::AppendFinished& answer : disk_.work(now.mono)) {
    const bool of_permit = permit_ticket_ == answer.ticket;
    if (of_permit && answer.ok && kill_point_ == KillPoint::PermitAcknowledged)
      return kill(now, KillPoint::PermitAcknowledged);
    inbox_.emplace_back(answer);
  }
}

void VirtualDaemon::turn(RelayBoard& relay, Delivery delivery, Instant now) {
  if (!engine_)
    return;
  take_answers(now);
  if (!engine_)
    return;
  for (const drivers::OutputReport& report : line_->work(relay, delivery, now.mono))
    inbox_.emplace_back(daemon::OutputReported{report});
  const std::vector<daemon::Event> events = std::exchange(inbox_, {});
  for (const daemon::Event& event : events)
    observer_.took(event, now);
  for (const daemon::Effect& effect : engine_->turn(events, now)) {
    if (strikes_before(effect))
      return kill(now, KillPoint::Acted);
    carry_out(effect, now);
    if (!engine_)
      return;
  }
  for (const drivers::OutputReport& report : line_->work(relay, delivery, now.mono))
    inbox_.emplace_back(daemon::OutputReported{report});
}

// The station has acted, the append that says so is not out.
bool VirtualDaemon::strikes_before(const daemon::Effect& effect) const {
  const auto* append = std::get_if<daemon::Append>(&effect);
  return kill_point_ == KillPoint::Acted && append != nullptr &&
         std::any_of(append->states.begin(), append->states.end(),
                     [](const daemon::StoredState& state) { return state.table == "request"; });
}

void VirtualDaemon::carry_out(const daemon::Effect& effect, Instant now) {
  if (const auto* append = std::get_if<daemon::Append>(&effect)) {
    disk_.append(*append, now.mono);
    observer_.wanted(effect, now);
    if (!holds_permit(*append))
      return;
    permit_ticket_ = append->ticket;
    if (kill_point_ == KillPoint::PermitWritten)
      kill(now, KillPoint::PermitWritten);
    return;
  }
  observer_.wanted(effect, now);
  if (const auto* rows = std::get_if<daemon::AppendReadings>(&effect)) {
    disk_.append_readings(rows->ticket, now.mono);
  } else if (const auto* drive = std::get_if<daemon::DriveOutput>(&effect)) {
    const bool dropped = defect_ == Defect::OnIsDropped && drive->on_until &&
                         drive->output.role == drivers::OutputRole::Pump;
    if (!dropped)
      line_->drive(drive->output, drive->on_until, now.mono);
  }
}

}  // namespace brinegate::sim
