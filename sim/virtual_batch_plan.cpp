// SPDX-License-Identifier: Apache-2.0
#include "sim/virtual_batch_plan.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "rules/probe.h"
#include "rules/salinity_estimate.h"
#include "rules/seawater.h"
#include "sim/random.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

// One seed's chance, with the ways of drawing that the plan needs.
class Draw {
 public:
  Draw(std::uint64_t seed, ErrorLaw errors) : random_(seed), errors_(errors) {}

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
  int count(int low, int high) {
    return std::min(high, static_cast<int>(std::floor(between(low, high + 1.0))));
  }
  template <std::size_t N>
  double one_of(const std::array<double, N>& values) {
    return values[static_cast<std::size_t>(count(0, N - 1))];
  }
  // Of an instrument with this standard uncertainty.
  double error(double standard_uncertainty) {
    if (errors_ == ErrorLaw::Normal)
      return normal(random_, 0.0, standard_uncertainty);
    const double half_width = errors_ == ErrorLaw::Within ? 1.0 : std::sqrt(3.0);
    return half_width * standard_uncertainty * between(-1.0, 1.0);
  }
  double normally(double standard_deviation) { return normal(random_, 0.0, standard_deviation); }

 private:
  Random random_;
  ErrorLaw errors_;
};

bool is_disturbed(BatchKind kind) {
  return kind == BatchKind::Anything || kind == BatchKind::OneLyingCell ||
         kind == BatchKind::OnlyCellLying;
}

// A good instrument is better than its data sheet.
double share_of_error(bool good) {
  return good ? 0.3 : 1.0;
}

CellPlan draw_cell(bool good, Draw& draw) {
  const ProbeUncertainty stated = default_probe_uncertainty(Measures::Conductivity);
  CellPlan cell;
  cell.traits = conductivity_traits();
  cell.traits.gain = 1.0 + share_of_error(good) * draw.error(stated.relative);
  cell.traits.offset = share_of_error(good) * draw.error(stated.absolute);
  cell.traits.lag = draw.across(3s, 40s);
  cell.traits.noise = draw.across(0.0005, good ? 0.003 : 0.02);
  cell.traits.relative_noise = draw.across(0.00005, 0.0005);
  cell.traits.wander = good ? 0.0001 : draw.between(0.0, 0.0006);
  cell.traits.wander_time = draw.across(10min, 60min);
  cell.traits.resolution = good ? draw.one_of(std::array{0.01, 0.02})
                                : draw.one_of(std::array{0.001, 0.01, 0.01, 0.02, 0.05, 0.1});
  cell.traits.bubbles_per_hour = draw.between(0.0, good ? 6.0 : 30.0);
  cell.place = !good && draw.chance(0.15) ? Place::Corner : Place::Bulk;
  if (!good && draw.chance(0.25)) {
    cell.compensation = LinearCompensation{Celsius(25.0), draw.between(0.019, 0.021)};
    cell.believed = *cell.compensation;
    // As the manual says it, to a tenth of a per cent.
    cell.believed.alpha_per_celsius = std::round(cell.believed.alpha_per_celsius * 1e3) / 1e3;
  }
  return cell;
}

// Beyond three standard uncertainties of what it states, either way; a fouled cell reads low.
double draw_lie(Draw& draw) {
  const double size = draw.between(0.02, 0.12);
  return draw.chance(0.7) ? 1.0 - size : 1.0 + size;
}

void draw_instruments(VirtualBatchPlan& plan, bool good, Draw& draw) {
  plan.cells.push_back(draw_cell(good, draw));
  const bool second = plan.kind == BatchKind::OneLyingCell ||
                      (plan.kind == BatchKind::Anything && draw.chance(0.3));
  if (second)
    plan.cells.push_back(draw_cell(good, draw));
  if (plan.kind == BatchKind::OneLyingCell || plan.kind == BatchKind::OnlyCellLying)
    plan.lie = draw_lie(draw);
  plan.salt_factor =
      1.0 + share_of_error(good) * draw.between(-salt_factor_half_width, salt_factor_half_width);

  const double share = share_of_error(good);
  plan.bath = temperature_traits();
  plan.bath.offset = share * draw.error(default_probe_uncertainty(Measures::Temperature).absolute);
  plan.bath.lag = draw.across(10s, good ? 40s : 180s);
  plan.bath.noise = draw.across(0.003, 0.03);
  plan.bath.resolution =
      good ? draw.one_of(std::array{0.01, 0.0625}) : draw.one_of(std::array{0.01, 0.0625, 0.1});

  const ProbeUncertainty level = default_probe_uncertainty(Measures::Level);
  plan.level.gain = 1.0 + share * draw.error(level.relative);
  plan.level.offset = share * draw.error(level.absolute);
  plan.level.lag = 2s;
  plan.level.noise = draw.across(0.05, 0.3);
  plan.level.resolution = draw.one_of(std::array{0.1, 0.5, 1.0});
  plan.sample_period = std::chrono::seconds(std::lround(draw.across(1.0, 20.0)));
  if (is_disturbed(plan.kind) && draw.chance(0.2))
    for (int i = draw.count(1, 3); i > 0; --i) {
      const Duration from = draw.between(1min, 4h);
      plan.gaps.push_back({from, from + draw.across(10s, 10min)});
    }
}

void draw_water(VirtualBatchPlan& plan, bool good, Draw& draw) {
  plan.water = Litres(draw.across(40.0, 600.0));
  plan.reservoir.corner_share = draw.between(0.02, good ? 0.06 : 0.12);
  plan.reservoir.corner_exchange = draw.across(20s, good ? 120s : 400s);
  plan.reservoir.heater_time = draw.across(20min, 90min);
  plan.reservoir.room = Celsius(draw.between(16.0, 23.0));
  plan.reservoir.evaporation_grams_per_hour = plan.water.value() * draw.between(0.05, 0.5);
  const double spread = !good && draw.chance(0.1) ? 0.9 : 0.5;  // some heaters aim at the edge
  plan.set_point = Celsius(25.0 + draw.between(-spread, spread));
  // Half of the keepers warm the water before they salt it.
  plan.cold = draw.chance(0.5) ? plan.set_point + Celsius(draw.between(-0.3, 0.3))
                               : Celsius(draw.between(8.0, 23.0));
  if (!good && draw.chance(0.05))
    plan.heater_fails = draw.between(1h, 8h);
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

struct Weighed {
  Grams thrown_in;
  Grams noted;
};

// What a keeper does: reads the level, believes a yield, weighs, and sometimes miscounts the
// scoops.
Weighed weigh(const VirtualBatchPlan& plan, Draw& draw) {
  const Litres read = plan.water * plan.level.gain + Litres(plan.level.offset);
  const Grams wanted =
      dose_for_water(read, {}, plan.profile.target, plan.believed, plan.set_point).value().salt;
  const double slip = draw.chance(0.08) ? (draw.chance(0.5) ? 1.0 : -1.0) * draw.between(0.03, 0.25)
                                        : draw.normally(0.005);
  return {wanted * (1.0 + slip), wanted};
}

// Deliberately right or wrong, and every gram noted.
Weighed aim(const VirtualBatchPlan& plan, Draw& draw) {
  const double error = plan.kind == BatchKind::UnderSalted  ? draw.between(-6.0, -2.0)
                       : plan.kind == BatchKind::OverSalted ? draw.between(2.0, 6.0)
                                                            : draw.between(-0.1, 0.1);
  const PracticalSalinity aimed = plan.profile.target + PracticalSalinity(error);
  const Grams whole =
      dose_for_water(plan.water, {}, aimed, plan.product, plan.set_point).value().salt;
  return {whole, whole};
}

void draw_dose(VirtualBatchPlan& plan, Draw& draw) {
  plan.product.dry_fraction = draw.between(0.85, 0.97);
  // Of a lot that is known from earlier batches, or of a new one.
  const bool known = draw.chance(0.7);
  plan.believed.dry_fraction_uncertainty = known ? 0.005 : 0.02;
  plan.believed.dry_fraction = std::clamp(
      plan.product.dry_fraction * (1.0 + draw.normally(plan.believed.dry_fraction_uncertainty)),
      0.3, 1.0);
  const bool disturbed = is_disturbed(plan.kind);
  const Weighed weighed = disturbed ? weigh(plan, draw) : aim(plan, draw);
  plan.salt_at = draw.between(1min, 15min);
  SaltAddition salt = draw_salt(weighed.thrown_in, plan.product, draw);
  // A clump lets go before the circulation that the profile asks for has ended: that time is the
  // keeper's word that nothing lies undissolved and unseen any more.
  if (disturbed && draw.chance(0.25)) {
    SaltAddition clump = salt;
    clump.product = weighed.thrown_in * draw.between(0.005, 0.08);
    clump.lets_go_after = draw.between(2min, plan.profile.circulate - 2min);
    salt.product = weighed.thrown_in - clump.product;
    plan.salt.push_back(clump);
  }
  plan.salt.push_back(salt);
  if (!disturbed || plan.kind == BatchKind::OnlyCellLying || draw.chance(0.8))
    plan.noted = weighed.noted;
}

void draw_disturbances(VirtualBatchPlan& plan, Draw& draw) {
  if (draw.chance(0.3))
    for (int i = draw.count(1, 3); i > 0; --i) {
      const Duration from = draw.between(Duration::zero(), Duration(4h));
      plan.pauses.push_back({from, from + draw.across(20s, 20min)});
    }
  if (!draw.chance(0.15))
    return;
  for (int i = draw.count(1, 2); i > 0; --i) {
    LateAddition late;
    late.at = draw.between(10min, 4h);
    late.noted = draw.chance(0.7);
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

VirtualBatchPlan draw_plan(std::uint64_t seed, BatchKind kind, ErrorLaw errors) {
  Draw draw(seed, errors);
  const bool good = !is_disturbed(kind);
  VirtualBatchPlan plan;
  plan.seed = seed;
  plan.kind = kind;
  draw_water(plan, good, draw);
  draw_instruments(plan, good, draw);
  draw_dose(plan, draw);
  if (!good)
    draw_disturbances(plan, draw);
  return plan;
}

}  // namespace brinegate::sim
