// SPDX-License-Identifier: Apache-2.0
#include "sim/virtual_batch_plan.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/probe.h"
#include "rules/salinity_estimate.h"
#include "rules/seawater.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

// One seed's chance, with the ways of drawing that the plan needs.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : random_(seed) {}

  double between(double low, double high) { return uniform(random_, low, high); }
  // Every factor of ten is as likely.
  double across(double low, double high) {
    return std::exp(between(std::log(low), std::log(high)));
  }
  Duration between(Duration low, Duration high) {
    return from_seconds(between(seconds(low), seconds(high)));
  }
  Duration across(Duration low, Duration high) {
    return from_seconds(across(seconds(low), seconds(high)));
  }
  bool chance(double probability) { return between(0.0, 1.0) < probability; }
  template <std::size_t N>
  double one_of(const std::array<double, N>& values) {
    const auto index = static_cast<std::size_t>(between(0.0, static_cast<double>(N)));
    return values[std::min(index, N - 1)];
  }

 private:
  Random random_;
};

void draw_instruments(VirtualBatchPlan& plan, bool good, Draw& draw) {
  // An error within one standard uncertainty as stated; a good instrument within a third of it.
  const double share = good ? 0.3 : 1.0;
  const ProbeUncertainty cell = default_probe_uncertainty(Measures::Conductivity);
  plan.cell = conductivity_traits();
  plan.cell.gain = 1.0 + share * draw.between(-cell.relative, cell.relative);
  plan.cell.offset = share * draw.between(-cell.absolute, cell.absolute);
  plan.cell.lag = draw.across(3s, 40s);
  plan.cell.noise = draw.across(0.0005, good ? 0.003 : 0.02);
  plan.cell.relative_noise = draw.across(0.00005, 0.0005);
  plan.cell.wander = good ? 0.0001 : draw.between(0.0, 0.0006);
  plan.cell.wander_time = draw.across(10min, 60min);
  plan.cell.resolution =
      good ? draw.one_of(std::array{0.01, 0.02}) : draw.one_of(std::array{0.01, 0.02, 0.05, 0.1});
  plan.cell.bubbles_per_hour = draw.between(0.0, good ? 6.0 : 30.0);
  plan.place = !good && draw.chance(0.2) ? Place::Corner : Place::Bulk;
  plan.salt_factor = 1.0 + share * draw.between(-salt_factor_half_width, salt_factor_half_width);

  const double bath = default_probe_uncertainty(Measures::Temperature).absolute;
  plan.bath = temperature_traits();
  plan.bath.offset = share * draw.between(-bath, bath);
  plan.bath.lag = draw.across(10s, good ? 40s : 180s);
  plan.bath.noise = draw.across(0.003, 0.03);
  plan.bath.resolution =
      good ? draw.one_of(std::array{0.01, 0.0625}) : draw.one_of(std::array{0.01, 0.0625, 0.1});

  const ProbeUncertainty level = default_probe_uncertainty(Measures::Level);
  plan.level.gain = 1.0 + share * draw.between(-level.relative, level.relative);
  plan.level.offset = share * draw.between(-level.absolute, level.absolute);
  plan.level.lag = 2s;
  plan.level.noise = draw.across(0.05, 0.3);
  plan.level.resolution = draw.one_of(std::array{0.1, 0.5, 1.0});
  plan.sample_period = std::chrono::seconds(static_cast<int>(draw.between(1.0, 6.0)));
}

void draw_water(VirtualBatchPlan& plan, bool good, Draw& draw) {
  plan.water = Litres(draw.across(40.0, 600.0));
  plan.reservoir.corner_share = draw.between(0.02, good ? 0.06 : 0.12);
  plan.reservoir.corner_exchange = draw.across(20s, good ? 120s : 400s);
  plan.reservoir.heater_time = draw.across(20min, 90min);
  plan.reservoir.room = Celsius(draw.between(16.0, 23.0));
  plan.reservoir.evaporation_grams_per_hour = plan.water.value() * draw.between(0.05, 0.5);
  plan.cold = Celsius(draw.chance(0.3) ? draw.between(20.0, 25.0) : draw.between(8.0, 20.0));
  const double spread = !good && draw.chance(0.2) ? 1.2 : 0.5;  // some heaters aim at the edge
  plan.set_point = Celsius(25.0 + draw.between(-spread, spread));
  if (!good && draw.chance(0.1))
    plan.heater_fails = draw.between(1h, 8h);
}

// The salinity that the dose aims at: what is wrong with a batch is wrong from here on.
PracticalSalinity draw_aim(BatchKind kind, const Profile& profile, Draw& draw) {
  double error = 0.0;
  switch (kind) {
    case BatchKind::UnderSalted:
      error = draw.between(-6.0, -2.0);
      break;
    case BatchKind::OverSalted:
      error = draw.between(2.0, 6.0);
      break;
    case BatchKind::Anything:
      error = draw.chance(0.5) ? draw.between(-0.5, 0.5) : draw.between(-3.0, 3.0);
      break;
    case BatchKind::Good:
      error = draw.between(-0.1, 0.1);
      break;
  }
  return profile.target + PracticalSalinity(error);
}

SaltAddition draw_salt(Grams amount, SaltProduct product, Draw& draw) {
  SaltAddition salt;
  salt.product = amount;
  salt.kind = product;
  salt.slow_share = draw.between(0.0, 0.2);
  salt.fast_time = draw.across(1min, 6min);
  salt.slow_time = draw.across(10min, 100min);
  return salt;
}

void draw_dose(VirtualBatchPlan& plan, BatchKind kind, Draw& draw) {
  plan.product.dry_fraction = draw.between(0.85, 0.97);
  plan.believed.dry_fraction = plan.product.dry_fraction * draw.between(0.985, 1.015);
  const auto dose = dose_for_water(plan.water, {}, draw_aim(kind, plan.profile, draw), plan.product,
                                   plan.set_point);
  const Grams whole = dose.value().salt;
  plan.salt_at = draw.between(1min, 15min);
  SaltAddition salt = draw_salt(whole, plan.product, draw);
  // A clump lets go before the circulation that the profile asks for has ended: that time is the
  // keeper's word that nothing lies undissolved and unseen any more.
  if (kind == BatchKind::Anything && draw.chance(0.4)) {
    SaltAddition clump = salt;
    clump.product = whole * draw.between(0.01, 0.08);
    clump.lets_go_after = draw.between(2min, plan.profile.circulate - 2min);
    salt.product = whole - clump.product;
    plan.salt.push_back(clump);
  }
  plan.salt.push_back(salt);
  if (kind != BatchKind::Anything)
    plan.noted = whole;
  else if (draw.chance(0.7))
    plan.noted = whole * (draw.chance(0.15) ? draw.between(0.8, 1.2) : draw.between(0.99, 1.01));
}

void draw_disturbances(VirtualBatchPlan& plan, Draw& draw) {
  const int pauses = static_cast<int>(draw.between(0.0, 4.0));
  for (int i = 0; i < pauses; ++i) {
    const Duration from = draw.between(Duration::zero(), Duration(4h));
    plan.pauses.push_back({from, from + draw.across(20s, 40min)});
  }
  if (!draw.chance(0.4))
    return;
  const int additions = static_cast<int>(draw.between(1.0, 3.0));
  for (int i = 0; i < additions; ++i) {
    LateAddition late;
    late.at = draw.between(10min, 6h);
    late.noted = draw.chance(0.5);
    if (draw.chance(0.5))
      late.salt = draw_salt(Grams(plan.water.value() * draw.between(0.2, 3.0)), plan.product, draw);
    else
      late.water = plan.water * draw.between(0.002, 0.08);
    plan.late.push_back(late);
  }
  std::sort(plan.late.begin(), plan.late.end(),
            [](const LateAddition& a, const LateAddition& b) { return a.at < b.at; });
}

}  // namespace

VirtualBatchPlan draw_plan(std::uint64_t seed, BatchKind kind) {
  Draw draw(seed);
  const bool good = kind != BatchKind::Anything;
  VirtualBatchPlan plan;
  plan.seed = seed;
  draw_water(plan, good, draw);
  draw_dose(plan, kind, draw);
  draw_instruments(plan, good, draw);
  if (kind == BatchKind::Anything)
    draw_disturbances(plan, draw);
  return plan;
}

}  // namespace brinegate::sim
