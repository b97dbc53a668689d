// SPDX-License-Identifier: Apache-2.0
#include "sim/virtual_batch.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "config/advice.h"
#include "rules/check_catalogue.h"
#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr Duration longest_physics_step = 5s;
constexpr double temperature_allowance = 0.3;  // K
constexpr double dissolution_allowance = 3.0;  // times still_to_dissolve

enum ProbeIndex : std::size_t { Bath, Level, Circulation, FirstCell };

ProbeSpec probe(const char* name, Measures measures, const VirtualBatchPlan& plan,
                Litres capacity) {
  ProbeSpec spec;
  spec.name = name;
  spec.measures = measures;
  spec.limits = default_sample_limits(measures, capacity.value());
  spec.uncertainty = default_probe_uncertainty(measures);
  spec.stale_after = std::max<Duration>(5s, 3 * plan.sample_period);
  spec.simulated = true;
  return spec;
}

StationSpec station_spec(const VirtualBatchPlan& plan) {
  StationSpec spec;
  spec.name = "mixer";
  spec.capacity = plan.water * 1.2;
  spec.low_level = plan.water * 0.05;
  spec.probes = {probe("bath", Measures::Temperature, plan, spec.capacity),
                 probe("height", Measures::Level, plan, spec.capacity),
                 probe("stirring", Measures::Circulation, plan, spec.capacity)};
  for (const CellPlan& cell : plan.cells) {
    const Measures measures =
        cell.compensation ? Measures::CompensatedConductivity : Measures::Conductivity;
    spec.probes.push_back(probe("cell", measures, plan, spec.capacity));
    spec.probes.back().temperature_from = Bath;
    spec.probes.back().compensation = cell.believed;
  }
  PumpSpec pump;
  pump.max_volume = plan.water * 0.5;
  pump.max_run = 1h;
  // Dissolving crystals, cooling and evaporation take up to a hundredth each.
  pump.unasked_loss = std::max(pump.unasked_loss, plan.water * 0.03);
  pump.simulated = true;
  spec.pump = pump;
  return spec;
}

}  // namespace

VirtualBatch::VirtualBatch(VirtualBatchPlan plan)
    : plan_(std::move(plan)),
      spec_(station_spec(plan_)),
      random_(plan_.seed),
      reservoir_(plan_.reservoir, Water{plan_.water, PracticalSalinity(0.0)}, plan_.cold),
      bath_(plan_.bath, reservoir_.temperature().value()),
      level_(plan_.level, reservoir_.volume().value()),
      station_(spec_) {
  for (const CellPlan& cell : plan_.cells)
    cells_.emplace_back(cell.traits, shown_by(cell));
  if (plan_.lie != 1.0)
    cells_.front().set_fault(ProbeFault::Lying, plan_.lie);
  reservoir_.set_heater(plan_.set_point);
  inputs_.record_kept = true;
  inputs_.output_answers = true;
  BeginCommand begin;
  begin.batch = fmt::format("seed-{}", plan_.seed);
  begin.profile = plan_.profile;
  begin.salts = {salt_of("simulated", plan_.believed)};
  inputs_.commands.emplace_back(begin);
}

Instant VirtualBatch::now() const {
  return {MonoTime(1h + elapsed_), WallTime(std::chrono::hours(24 * 365 * 56) + elapsed_)};
}

namespace {

bool falls_in(Duration elapsed, const std::vector<Pause>& pauses) {
  return std::any_of(pauses.begin(), pauses.end(), [elapsed](const Pause& pause) {
    return pause.from <= elapsed && elapsed < pause.until;
  });
}

}  // namespace

bool VirtualBatch::is_circulating() const {
  return !falls_in(elapsed_, plan_.pauses);
}

bool VirtualBatch::is_silent() const {
  return falls_in(elapsed_, plan_.gaps);
}

// In the water around the cell. The salt factor is the batch's own departure from sea water: of the
// same salinity it conducts a little less or more.
double VirtualBatch::shown_by(const CellPlan& cell) const {
  const PracticalSalinity salinity =
      cell.place == Place::Bulk ? reservoir_.salinity() : reservoir_.corner_salinity();
  const Celsius temperature = reservoir_.temperature();
  const MilliSiemensPerCm in_situ =
      std::max(MilliSiemensPerCm(0.005), conductivity(salinity / plan_.salt_factor, temperature));
  return cell.compensation ? compensated(in_situ, temperature, *cell.compensation).value()
                           : in_situ.value();
}

void VirtualBatch::happen() {
  if (!salted_ && elapsed_ >= plan_.salt_at) {
    salted_ = true;
    last_addition_ = elapsed_;
    for (const SaltAddition& salt : plan_.salt)
      reservoir_.add_salt(salt);
    if (plan_.noted) {
      NoteCommand note;
      note.salt = *plan_.noted;
      inputs_.commands.emplace_back(note);
    }
  }
  while (late_done_ < plan_.late.size() && elapsed_ >= plan_.late[late_done_].at)
    add(plan_.late[late_done_++]);
  if (plan_.heater_fails && elapsed_ >= *plan_.heater_fails)
    reservoir_.set_heater(std::nullopt);
}

void VirtualBatch::add(const LateAddition& addition) {
  last_addition_ = elapsed_;
  NoteCommand note;
  if (addition.salt) {
    reservoir_.add_salt(*addition.salt);
    note.salt = addition.salt->product;
  }
  reservoir_.add_water(addition.water, plan_.reservoir.room);
  note.water = addition.water;
  if (addition.noted)
    inputs_.commands.emplace_back(note);
  else
    last_secret_ = elapsed_;
}

void VirtualBatch::follow(const Correction& correction) {
  last_addition_ = elapsed_;
  reservoir_.remove(correction.remove);
  reservoir_.add_water(correction.water, plan_.reservoir.room);
  if (correction.salt > Grams(0.0)) {
    SaltAddition salt = plan_.salt.back();
    salt.product = correction.salt;
    reservoir_.add_salt(salt);
  }
  NoteCommand note;
  note.salt = correction.salt;
  note.water = correction.water;
  note.removed = correction.remove;
  inputs_.commands.emplace_back(note);
}

void VirtualBatch::step() {
  for (Duration left = plan_.sample_period; left > Duration::zero();) {
    const Duration slice = std::min(left, longest_physics_step);
    ReservoirInputs devices;
    devices.circulating = is_circulating();
    reservoir_.step(slice, devices);
    elapsed_ += slice;
    left -= slice;
    happen();
    // What lies on the floor of standing water shows once the water moves again.
    if (last_secret_ && !devices.circulating && reservoir_.undissolved() > Grams(0.0))
      last_secret_ = elapsed_;
  }
  bath_.step(plan_.sample_period, reservoir_.temperature().value(), random_);
  level_.step(plan_.sample_period, reservoir_.volume().value(), random_);

  const Instant at = now();
  const auto take = [&](std::size_t index, std::optional<double> shown) {
    Sample sample;
    sample.value = shown.value_or(0.0);
    sample.fault = shown ? SampleFault::None : SampleFault::Timeout;
    sample.arrived = at.mono;
    sample.simulated = true;
    inputs_.samples.push_back({index, sample});
  };
  for (std::size_t i = 0; i < cells_.size(); ++i)
    cells_[i].step(plan_.sample_period, shown_by(plan_.cells[i]), random_);
  if (!is_silent()) {
    take(Bath, bath_.shown());
    take(Level, level_.shown());
    take(Circulation, is_circulating() ? 1.0 : 0.0);
    for (std::size_t i = 0; i < cells_.size(); ++i)
      take(FirstCell + i, cells_[i].shown());
  }
  station_.step(inputs_, at);
  inputs_.samples.clear();
  inputs_.commands.clear();
}

namespace {

// The claims of a proof, held against the truth.
std::optional<std::string> denied(const VirtualBatch& batch, const VirtualBatchRules& rules) {
  const Profile& profile = batch.station().batch().profile;
  const Reservoir& water = batch.reservoir();
  const PracticalSalinity salinity = water.salinity();
  const PracticalSalinity final_salinity = water.final_salinity();
  const auto off_target = [&](PracticalSalinity value) {
    return std::abs((value - profile.target).value()) > profile.tolerance.value();
  };
  // A cell in a dead corner learns of anything only as fast as the water there is exchanged.
  const VirtualBatchPlan& plan = batch.plan();
  const Duration reaches_cell = plan.cells.front().place == Place::Corner
                                    ? 2 * plan.reservoir.corner_exchange
                                    : Duration::zero();
  const auto noticed = [&](Duration within) {
    return !batch.last_secret() || batch.elapsed() - *batch.last_secret() > within + reaches_cell;
  };
  const double remaining = std::abs((final_salinity - salinity).value());
  const double too_warm = (water.temperature() - profile.temperature_high).value();
  const double too_cold = (profile.temperature_low - water.temperature()).value();
  if (std::max(too_warm, too_cold) > temperature_allowance)
    return fmt::format("temperature {:.2f}", water.temperature().value());
  if (off_target(salinity) && noticed(rules.notice_now))
    return fmt::format("salinity {:.3f}, station says {:.3f}", salinity.value(),
                       batch.station().salinity().value.value_or(PracticalSalinity()).value());
  if (off_target(final_salinity) && noticed(rules.notice_later))
    return fmt::format("salinity {:.3f} will be {:.3f}", salinity.value(), final_salinity.value());
  if (remaining > dissolution_allowance * profile.still_to_dissolve.value() &&
      noticed(rules.notice_later))
    return fmt::format("{:.3f} is still to dissolve, at most {:.3f} by the station", remaining,
                       batch.station().settling().remaining_bound);
  return std::nullopt;
}

}  // namespace

bool lets_pump_run(const Station& station) {
  return std::all_of(station.checks().begin(), station.checks().end(),
                     [](const CheckResult& check) { return lets_through(check); });
}

std::string what_blocks(const Station& station) {
  std::string reasons;
  for (const CheckResult& check : station.checks())
    if (!lets_through(check))
      reasons += fmt::format("{}{} ", check_row(check.id).name,
                             check.measured ? fmt::format(" {:.3f}", *check.measured) : "");
  return reasons;
}

VirtualBatchOutcome run(const VirtualBatchPlan& plan, const VirtualBatchRules& rules) {
  VirtualBatch batch(plan);
  VirtualBatchOutcome outcome;
  Duration end = rules.longest;
  while (batch.elapsed() < end) {
    batch.step();
    const Station& station = batch.station();
    if (station.batch().phase == BatchPhase::Rejected && !outcome.rejected) {
      outcome.rejected = batch.elapsed();
      end = std::min(end, batch.elapsed() + rules.watch_rejection);
      const auto advice = config::corrections_for(station);
      if (rules.follow_advice && !advice.empty() && advice.front().fits) {
        batch.follow(advice.front());
        outcome.corrected = batch.elapsed();
      }
    }
    if (!station.batch().is_proven())
      continue;
    auto& first = outcome.corrected ? outcome.proven_after_correction : outcome.proven;
    if (!first) {
      first = batch.elapsed();
      end = std::min(end, batch.elapsed() + rules.watch_proof);
    }
    if (!lets_pump_run(station))
      continue;
    outcome.released += plan.sample_period;
    if (!outcome.false_proof)
      if (auto what = denied(batch, rules))
        outcome.false_proof = FalseProof{batch.elapsed(), std::move(*what)};
  }
  outcome.last_reason = what_blocks(batch.station());
  return outcome;
}

}  // namespace brinegate::sim
