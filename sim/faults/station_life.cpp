// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/station_life.h"

#include <algorithm>
#include <utility>
#include <variant>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr MonoTime begin{1h};
constexpr WallTime wall_begin{std::chrono::seconds(1'790'000'000)};

// How far the world goes on between two turns.
constexpr Duration something_wrong = 5s;
// The longer one where no fault is on, and none was for a while.
struct Pace {
  Duration troubled;
  Duration calm;
};
constexpr Pace at_stake{1s, 2s};
constexpr Pace mixing{30s, 1min};
constexpr Pace nothing_to_see{15min, 1h};
constexpr Duration trouble_lasts = 1h;

}  // namespace

StationLife::StationLife(const LifePlan& plan, Defect defect, bool tell_everything)
    : plan_(plan),
      defect_(defect),
      random_(plan.seed ^ 0x6c696665),
      now_{begin, wall_begin},
      plant_(plan.station, plan.seed),
      watch_(plan, finding_.tally),
      daemon_(plan.station, defect, watch_, plan.seed),
      keeper_(plan, plant_, watch_, [this](Letter letter) { send(std::move(letter)); }),
      ways_(plan.station, plan.seed) {
  watch_.attach(daemon_, [this](const std::string& id, const std::string& payload, Instant now) {
    keeper_.answered(id, payload, now.mono);
  });
  if (tell_everything)
    watch_.tell_everything();
}

LifeFinding StationLife::run() {
  finding_.tally.lives = 1;
  come_up();
  live();
  recover();
  finding_.story.assign(watch_.story().begin(), watch_.story().end());
  return std::move(finding_);
}

void StationLife::live() {
  while (elapsed() < plan_.faults_last)
    step(next_step());
}

// Everything is repaired, and a person does what the advice says.
void StationLife::recover() {
  watch_.tell("every fault ends", now_.mono);
  waiting_.clear();
  about_to_strike_.clear();
  for (Active& each : active_)
    each.until = now_.mono;
  end_faults();
  daemon_.arm(KillPoint::None);
  next_fault_ = plan_.faults.size();
  keeper_.become_careful(now_.mono);
  const MonoTime from = now_.mono;
  const std::uint64_t proofs = watch_.proofs();
  std::optional<std::uint64_t> completed;  // before the new proof
  const auto done = [&] { return completed && watch_.changes_completed() > *completed; };
  while (now_.mono - from < recovery_within && !done()) {
    step(next_step());
    if (!completed && watch_.proofs() > proofs)
      completed = watch_.changes_completed();
  }
  watch_.recovered(done(), now_.mono - from, now_);
}

bool StationLife::is_troubled() const {
  return now_.mono < troubled_until_ ||
         std::any_of(active_.begin(), active_.end(),
                     [](const Active& each) { return !is_habit(each.fault->kind); });
}

Duration StationLife::next_step() const {
  const bool troubled = is_troubled();
  const auto at = [troubled](const Pace& pace) { return troubled ? pace.troubled : pace.calm; };
  const bool flows = plant_.pump_powered(now_.mono) || plant_.siphoning();
  const bool per_change = plan_.station.permit == PermitMode::PerChange;
  Duration dt = at(watch_.phase() == "mixing" ? mixing : nothing_to_see);
  if (flows || foreign_on_)
    dt = something_wrong;
  if (watch_.wants_on())  // renewals must come in time, and samples before the last are stale
    dt = std::min({dt, per_change ? at(at_stake) : something_wrong,
                   std::chrono::duration_cast<Duration>(plan_.station.lease * 4 / 5)});
  if ((watch_.wants_on() && flows) || now_.mono < attentive_until_)
    dt = at(at_stake);
  const auto until = [&](std::optional<MonoTime> event) {
    if (event)
      dt = std::min(dt, std::max<Duration>(*event - now_.mono, 100ms));
  };
  until(keeper_.due());
  until(up_again_);
  until(ways_.next_arrival());
  for (const Active& each : active_)
    until(each.until);
  if (!about_to_strike_.empty())
    until(about_to_strike_.begin()->first);
  if (next_fault_ < plan_.faults.size())
    until(begin + plan_.faults[next_fault_].at);
  return dt;
}

void StationLife::step(Duration dt) {
  now_.mono += dt;
  now_.wall += dt;
  const bool coil_was_on = plant_.relay().pump_coil(now_.mono - dt);
  end_faults();
  schedule_faults();
  refresh_active();
  apply_to_devices();
  plant_.step(dt, now_.mono, faults_);
  keeper_.act(now_.mono);
  was_asked_ = keeper_.asked_change_at(now_.mono);
  if (was_asked_)
    be_attentive(90s);
  if (up_again_ && now_.mono >= *up_again_)
    come_up();
  ways_.sample(plant_, faults_, now_, wall_off_);
  deliver();
  watch_.see(plant_, world_step(dt), now_);
  const bool was_on = watch_.wants_on();
  ++finding_.tally.turns;
  apply_to_disk_and_clock();
  daemon_.turn(plant_.relay(), delivery(), now_);
  watch_.see_turn(plant_, now_);
  notice(was_on, coil_was_on);
}

void StationLife::deliver() {
  for (daemon::Event& event : ways_.arrived(now_.mono))
    daemon_.put(std::move(event));
}

WorldStep StationLife::world_step(Duration dt) const {
  WorldStep step;
  step.dt = dt;
  step.foreign_on = foreign_on_;
  step.readback_arrives = daemon_.runs() && ways_.came(Instrument::ReadBack);
  step.level_arrives = ways_.came(Instrument::Level) && !active(FaultKind::LevelStuck);
  step.water_moved_by_hand = keeper_.has_hands_in(now_.mono);
  step.claims_honest = defect_ == Defect::HonestCellLies;
  return step;
}

Delivery StationLife::delivery() {
  if (active(FaultKind::LinkSilent) || active(FaultKind::OutputDeaf))
    return Delivery::Lost;
  if (active(FaultKind::LinkLoses))
    return chance(0.5) ? Delivery::Lost : chance(0.5) ? Delivery::AnswerLost : Delivery::Done;
  if (active(FaultKind::LinkLate))
    return chance(0.5) ? Delivery::AnswerLost : Delivery::Done;
  return Delivery::Done;
}

void StationLife::schedule_faults() {
  while (next_fault_ < plan_.faults.size() && plan_.faults[next_fault_].at <= elapsed())
    waiting_.push_back(&plan_.faults[next_fault_++]);
  std::erase_if(waiting_, [&](const PlannedFault* fault) {
    const bool now = fault->strikes == Strikes::AtItsTime ||
                     (fault->strikes == Strikes::ChangeAsked && was_asked_) ||
                     (fault->strikes == Strikes::GateOpens && watch_.wants_on());
    if (now)
      about_to_strike_.emplace(now_.mono + fault->after, fault);
    return now;
  });
  while (!about_to_strike_.empty() && about_to_strike_.begin()->first <= now_.mono) {
    const PlannedFault* fault = about_to_strike_.begin()->second;
    about_to_strike_.erase(about_to_strike_.begin());
    strike(*fault);
  }
}

void StationLife::strike(const PlannedFault& fault) {
  watch_.tell(fmt::format("fault: {}, {:.0f} s, {:.2f}", word(fault.kind), seconds(fault.lasts),
                          fault.size),
              now_.mono);
  ++finding_.tally.faults[static_cast<std::size_t>(fault.kind)];
  be_attentive(20s);
  troubled_until_ = now_.mono + trouble_lasts;
  if (is_of_process(fault.kind))
    return strike_process(fault);
  if (fault.kind == FaultKind::HostileRequests)
    return keeper_.ask_hostile(now_.mono);
  if (fault.kind == FaultKind::SecretAddition)
    return keeper_.add_secretly(fault.size, now_.mono);
  if (fault.kind == FaultKind::WrongCalibration)
    return keeper_.calibrate_wrongly(fault.size, now_.mono);
  if (fault.kind == FaultKind::BrokerAway)
    daemon_.put(daemon::BrokerChanged{false});
  if (fault.kind == FaultKind::BrokerReplays) {
    ways_.replay_retained(now_.mono);
    watch_.reach(Mark::RetainedSampleDelivered);
  }
  if (watch_.wants_on() && fault.kind == FaultKind::ClockBack)
    watch_.reach(Mark::ClockBackWhileOpen);
  if (watch_.wants_on() && fault.kind == FaultKind::ClockForward)
    watch_.reach(Mark::ClockForwardWhileOpen);
  active_.push_back({&fault, now_.mono + fault.lasts});
}

void StationLife::strike_process(const PlannedFault& fault) {
  RelayBoard& relay = plant_.relay();
  switch (fault.kind) {
    case FaultKind::KilledAtPermit:
      return daemon_.arm(fault.size < 0.5 ? KillPoint::PermitWritten
                                          : KillPoint::PermitAcknowledged);
    case FaultKind::KilledAtRequest:
      return daemon_.arm(KillPoint::Acted);
    case FaultKind::Stopped:
      if (watch_.wants_on())
        watch_.reach(Mark::StopDuringChange);
      daemon_.stop(false, relay, delivery(), now_);
      return go_down(fault.lasts);
    case FaultKind::StoppedTwice:
      if (daemon_.runs())
        watch_.reach(Mark::StoppedTwice);
      daemon_.stop(true, relay, delivery(), now_);
      return go_down(fault.lasts);
    case FaultKind::Reloaded:
    case FaultKind::ReloadedEdited:
      if (!daemon_.runs())
        return;
      if (watch_.wants_on())
        watch_.reach(Mark::ReloadDuringChange);
      if (fault.kind == FaultKind::ReloadedEdited)
        daemon_.edit_configuration();
      daemon_.stop(false, relay, delivery(), now_);
      return come_up();
    case FaultKind::RecordCorrupted:
      daemon_.kill(now_);
      daemon_.disk().corrupt();
      return go_down(fault.lasts);
    default:
      daemon_.kill(now_);
      return go_down(fault.lasts);
  }
}

void StationLife::go_down(Duration lasts) {
  if (!up_again_)
    up_again_ = now_.mono + lasts;
}

void StationLife::come_up() {
  up_again_.reset();
  if (daemon_.runs())
    return;
  be_attentive(30s);
  troubled_until_ = now_.mono + trouble_lasts;
  if (daemon_.start(now_)) {
    down_since_.reset();
    daemon_.put(daemon::BrokerChanged{!active(FaultKind::BrokerAway)});
    if (active(FaultKind::BrokerReplays))
      ways_.replay_retained(now_.mono);
    return;
  }
  watch_.reach(Mark::CorruptedRecordRefused);
  watch_.tell("the record cannot be read: the daemon does not start", now_.mono);
  if (!down_since_)
    down_since_ = now_.mono;
  if (now_.mono - *down_since_ > 30min) {  // a person begins a new record
    daemon_.disk().replace();
    watch_.record_replaced();
  }
  up_again_ = now_.mono + 10min;
}

void StationLife::end_faults() {
  std::erase_if(active_, [&](const Active& each) {
    if (each.until > now_.mono)
      return false;
    be_attentive(20s);
    troubled_until_ = now_.mono + trouble_lasts;
    watch_.tell(fmt::format("ends: {}", word(each.fault->kind)), now_.mono);
    if (each.fault->kind == FaultKind::BrokerAway)
      daemon_.put(daemon::BrokerChanged{true});
    return true;
  });
}

void StationLife::refresh_active() {
  faults_ = {};
  for (const Active& each : active_) {
    const auto kind = static_cast<std::size_t>(each.fault->kind);
    faults_.on[kind] = true;
    faults_.size[kind] = each.fault->size;
  }
  keeper_.set_habits(active(FaultKind::WrongDose), active(FaultKind::RepeatedRequests));
}

void StationLife::apply_to_disk_and_clock() {
  const DiskFault disk = active(FaultKind::DiskSilent) ? DiskFault::Silent
                         : active(FaultKind::DiskFull) ? DiskFault::Full
                         : active(FaultKind::DiskSlow) ? DiskFault::Slow
                                                       : DiskFault::None;
  daemon_.disk().set_fault(disk, from_seconds(0.2 + 12.0 * faults_.of(FaultKind::DiskSlow)));
}

void StationLife::apply_to_devices() {
  const auto jump = [&](FaultKind kind, double sign) {
    return active(kind) ? from_seconds(sign * 200'000.0 * faults_.of(kind)) : Duration(0);
  };
  const Duration off = jump(FaultKind::ClockForward, 1.0) + jump(FaultKind::ClockBack, -1.0);
  now_.wall += off - wall_off_;
  wall_off_ = off;
  RelayBoard& relay = plant_.relay();
  if (active(FaultKind::SecondMaster) && now_.mono >= master_next_) {
    const bool insists = faults_.of(FaultKind::SecondMaster) > 0.5;
    master_next_ = now_.mono + from_seconds(insists ? 0.5 : uniform(random_, 5.0, 60.0));
    relay.write(config::ModbusTable::Coil, 0, 1, now_.mono);
    foreign_on_ = true;
  } else if (defect_ == Defect::PumpIgnoresLease && relay.lapses_at(now_.mono)) {
    relay.write(config::ModbusTable::Coil, 0, 1, now_.mono);
  }
  // A hand on the coil while a lease runs ends the lease, so that it is asked for after it.
  if (!relay.pump_coil(now_.mono) || relay.lapses_at(now_.mono))
    foreign_on_ = false;
}

void StationLife::send(Letter letter) {
  if (letter.request.acts)
    be_attentive(10s);
  const int times =
      active(FaultKind::BrokerRepeats) && letter.origin == daemon::Origin::Network ? 2 : 1;
  if (defect_ == Defect::IdsAreLost && letter.request.acts && !letter.request.id.empty()) {
    auto text = nlohmann::json::parse(letter.payload);
    text["id"] = fmt::format("lost{}", next_address_);
    letter.request.id = text["id"];
    letter.payload = text.dump();
  }
  for (int i = 0; i < times; ++i) {
    daemon::RequestArrived request;
    request.from = next_address_++;
    request.origin = letter.origin;
    request.station = letter.origin == daemon::Origin::Network ? "mixer" : "";
    request.payload = letter.payload;
    request.retained = letter.retained;
    watch_.asked(request.from, letter.request);
    if (letter.origin == daemon::Origin::Network)
      ways_.request(request, faults_, now_.mono);
    else
      daemon_.put(request);
  }
  // A broker that keeps requests gives them to whoever comes.
  if (active(FaultKind::BrokerReplays) && letter.origin == daemon::Origin::Network &&
      !letter.retained) {
    letter.retained = true;
    letter.request.expected = Expected::Refusal;
    letter.request.refusal = Mark::RetainedRequestRefused;
    letter.request.asks_change = false;
    send(std::move(letter));
  }
}

// Rare branches that only the world can tell.
void StationLife::notice(bool was_on, bool coil_was_on) {
  const bool is_on = watch_.wants_on();
  if (!daemon_.runs() && !up_again_)  // killed where a kill waited
    go_down(from_seconds(uniform(random_, 1.0, 600.0)));
  if (was_on != is_on)
    be_attentive(90s);
  if (was_on && !is_on && active(FaultKind::DiskFull))
    watch_.reach(Mark::DiskFailedWhileOpen);
  if (was_on && !is_on && (active(FaultKind::DiskSilent) || active(FaultKind::DiskSlow)))
    watch_.reach(Mark::DiskSilentWhileOpen);
  if (was_on && !is_on && active(FaultKind::OutputDeaf))
    watch_.reach(Mark::OutputDeafWhileOpen);
  if (is_on && active(FaultKind::TopOff) && plant_.pumping())
    watch_.reach(Mark::TopOffDuringChange);
  if (!daemon_.runs() && coil_was_on && !plant_.relay().pump_coil(now_.mono) && !foreign_on_)
    watch_.reach(Mark::LeaseLapsedAlone);
}

}  // namespace brinegate::sim
