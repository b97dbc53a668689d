// SPDX-License-Identifier: Apache-2.0
// The reservoir's physics: what is conserved, where it ends, what lags.
#include "sim/reservoir.h"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/mass_balance.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;

constexpr Celsius warm_water{24.0};
constexpr ReservoirInputs circulating_inputs{true, false, false};
constexpr ReservoirInputs still_water{false, false, false};
constexpr ReservoirInputs drawing_inputs{true, true, false};

// Nothing but salt and water: no heat, no evaporation.
ReservoirSpec quiet() {
  ReservoirSpec spec;
  spec.room = warm_water;
  spec.evaporation_grams_per_hour = 0.0;
  return spec;
}

Reservoir fresh(double litres) {
  return {quiet(), Water{Litres(litres), PracticalSalinity(0.0)}, warm_water};
}

SaltAddition salt(double grams) {
  SaltAddition addition;
  addition.product = Grams(grams);
  return addition;
}

void settle(Reservoir& reservoir) {
  reservoir.step(24h, circulating_inputs);
}

double ledger(const Reservoir& r) {
  return (r.dissolved_salt() + r.undissolved_salt() + r.drawn_salt() + r.removed_salt()).value();
}

RC_GTEST_PROP(ReservoirProperty, ConservesSaltWhateverIsDone, ()) {
  Reservoir reservoir(ReservoirSpec{}, Water{Litres(150.0), PracticalSalinity(20.0)}, warm_water);
  const auto acts = *rc::gen::container<std::vector<int>>(rc::gen::inRange(0, 7));
  for (const int act : acts) {
    const double amount = *rc::gen::inRange(0, 2000);
    if (act == 0)
      reservoir.add_salt(salt(amount));
    else if (act == 1)
      reservoir.add_water(Litres(amount / 100.0), Celsius(15.0));
    else if (act == 2)
      reservoir.remove(Litres(amount / 50.0));
    else
      reservoir.step(from_seconds(amount), {act % 2 == 0, act == 5, act == 6});
    RC_ASSERT(std::abs(ledger(reservoir) / reservoir.added_salt().value() - 1.0) < 1e-9);
    RC_ASSERT(reservoir.undissolved().value() >= 0.0);
    RC_ASSERT(reservoir.volume().value() >= 0.0);
  }
}

// Oracle: the mass balance of the rules, which is checked against tables of its own.
TEST(Reservoir, EndsAtTheSalinityOfTheMassBalance) {
  Reservoir reservoir(quiet(), Water{Litres(40.0), PracticalSalinity(33.0)}, warm_water);
  reservoir.add_water(Litres(120.0), warm_water);
  SaltAddition addition = salt(4600.0);
  reservoir.add_salt(addition);
  const Water expected = mixed(Water{Litres(40.0), PracticalSalinity(33.0)}, Litres(120.0),
                               addition.product, addition.kind, warm_water);
  EXPECT_NEAR(reservoir.final_salinity().value(), expected.salinity.value(), 1e-9);
  settle(reservoir);
  EXPECT_NEAR(reservoir.salinity().value(), expected.salinity.value(), 1e-6);
  EXPECT_NEAR(reservoir.corner_salinity().value(), expected.salinity.value(), 1e-6);
  EXPECT_NEAR(reservoir.volume().value(), expected.volume.value(), 1e-6);
  EXPECT_EQ(reservoir.undissolved().value(), 0.0);
}

TEST(Reservoir, DissolvesMonotonicallyTowardItsFinalSalinity) {
  Reservoir reservoir = fresh(150.0);
  reservoir.add_salt(salt(5500.0));
  const double end = reservoir.final_salinity().value();
  double before = reservoir.salinity().value();
  double crystals = reservoir.undissolved().value();
  for (int minute = 0; minute < 120; ++minute) {
    reservoir.step(1min, circulating_inputs);
    EXPECT_GT(reservoir.salinity().value(), before);
    EXPECT_LT(reservoir.salinity().value(), end + 1e-9);
    EXPECT_LT(reservoir.undissolved().value(), crystals);
    EXPECT_NEAR(reservoir.final_salinity().value(), end, 1e-9);
    before = reservoir.salinity().value();
    crystals = reservoir.undissolved().value();
  }
}

TEST(Reservoir, HasAFastAndASlowPart) {
  Reservoir reservoir = fresh(150.0);
  SaltAddition addition = salt(1000.0);
  addition.slow_share = 0.4;
  addition.fast_time = 1min;
  addition.slow_time = 60min;
  reservoir.add_salt(addition);
  reservoir.step(10min, circulating_inputs);
  // After ten fast time constants only the slow part is left, less what it lost: e^(-10/60).
  EXPECT_NEAR(reservoir.undissolved().value(), 400.0 * std::exp(-10.0 / 60.0), 0.1);
}

TEST(Reservoir, KeepsAClumpUntilItLetsGo) {
  Reservoir reservoir = fresh(150.0);
  SaltAddition clump = salt(500.0);
  clump.lets_go_after = 30min;
  reservoir.add_salt(clump);
  reservoir.step(30min, circulating_inputs);
  EXPECT_EQ(reservoir.undissolved().value(), 500.0);
  reservoir.step(1min, circulating_inputs);
  EXPECT_LT(reservoir.undissolved().value(), 400.0);
}

TEST(Reservoir, LetsTheCornerLagBehindTheBulk) {
  Reservoir reservoir = fresh(150.0);
  reservoir.add_salt(salt(5500.0));
  for (int i = 0; i < 30; ++i) {
    reservoir.step(10s, circulating_inputs);
    EXPECT_LT(reservoir.corner_salinity(), reservoir.salinity());
  }
}

TEST(Reservoir, StopsTheExchangeWithTheCirculation) {
  Reservoir reservoir(quiet(), Water{Litres(150.0), PracticalSalinity(35.0)}, warm_water);
  reservoir.add_water(Litres(30.0), warm_water);  // floats on top
  const double bulk = reservoir.salinity().value();
  const double corner = reservoir.corner_salinity().value();
  reservoir.step(12h, still_water);
  EXPECT_DOUBLE_EQ(reservoir.salinity().value(), bulk);
  EXPECT_DOUBLE_EQ(reservoir.corner_salinity().value(), corner);
  settle(reservoir);
  EXPECT_NEAR(reservoir.salinity().value(), reservoir.corner_salinity().value(), 1e-9);
}

TEST(Reservoir, DissolvesIntoTheCornerWhileItStandsStill) {
  Reservoir reservoir = fresh(150.0);
  reservoir.add_salt(salt(5500.0));
  reservoir.step(2h, still_water);
  EXPECT_EQ(reservoir.salinity().value(), 0.0);
  EXPECT_GT(reservoir.corner_salinity().value(), 10.0);
  EXPECT_GT(reservoir.undissolved().value(), 3000.0);
}

TEST(Reservoir, WarmsTowardTheHeaterAndCoolsTowardTheRoom) {
  ReservoirSpec spec;
  spec.room = Celsius(15.0);
  Reservoir reservoir(spec, Water{Litres(150.0), PracticalSalinity(0.0)}, Celsius(18.0));
  reservoir.set_heater(Celsius(25.0));
  reservoir.step(spec.heater_time, circulating_inputs);
  // One time constant covers 1 - 1/e of the way.
  EXPECT_NEAR(reservoir.temperature().value(), 25.0 - 7.0 * std::exp(-1.0), 1e-9);
  reservoir.set_heater(std::nullopt);
  reservoir.step(240h, circulating_inputs);
  EXPECT_NEAR(reservoir.temperature().value(), 15.0, 1e-6);
}

TEST(Reservoir, MixesTheTemperatureOfWhatIsPouredIn) {
  Reservoir reservoir = fresh(100.0);
  reservoir.add_water(Litres(100.0), Celsius(12.0));
  EXPECT_NEAR(reservoir.temperature().value(), 18.0, 0.02);
}

TEST(Reservoir, GetsSaltierAsItEvaporates) {
  ReservoirSpec spec = quiet();
  spec.evaporation_grams_per_hour = 100.0;
  Reservoir reservoir(spec, Water{Litres(100.0), PracticalSalinity(35.0)}, warm_water);
  const double salt_before = reservoir.dissolved_salt().value();
  reservoir.step(10h, circulating_inputs);
  EXPECT_NEAR(reservoir.volume().value(), 99.0, 0.05);  // 1 kg of fresh water is a good litre
  EXPECT_GT(reservoir.salinity().value(), 35.3);
  EXPECT_NEAR(reservoir.dissolved_salt().value(), salt_before, 1e-9);
}

TEST(Reservoir, DrawsAtThePumpsFlow) {
  Reservoir reservoir(quiet(), Water{Litres(100.0), PracticalSalinity(35.0)}, warm_water);
  reservoir.step(5min, drawing_inputs);
  EXPECT_NEAR(reservoir.drawn().value(), 20.0, 1e-9);  // 4 L/min
  EXPECT_NEAR(reservoir.volume().value(), 80.0, 1e-9);
  EXPECT_NEAR(reservoir.drawn_salinity().value(), 35.0, 1e-9);
  reservoir.step(10h, drawing_inputs);
  EXPECT_NEAR(reservoir.drawn().value(), 100.0, 1e-6);  // no more than there was
}

TEST(Reservoir, GoesOnFlowingThroughASiphonOnlyOnceThePumpRan) {
  Reservoir reservoir(quiet(), Water{Litres(100.0), PracticalSalinity(35.0)}, warm_water);
  const ReservoirInputs siphon{true, false, true};
  reservoir.step(1min, siphon);
  EXPECT_EQ(reservoir.drawn().value(), 0.0);
  reservoir.step(1min, {true, true, true});
  reservoir.step(2min, siphon);
  EXPECT_NEAR(reservoir.drawn().value(), 4.0 + 2 * 1.5, 1e-9);
  reservoir.step(1min, circulating_inputs);  // the air break is back
  reservoir.step(1min, siphon);
  EXPECT_NEAR(reservoir.drawn().value(), 7.0, 1e-9);
}

TEST(Reservoir, RemovesNoMoreThanThereIs) {
  Reservoir reservoir(quiet(), Water{Litres(100.0), PracticalSalinity(35.0)}, warm_water);
  EXPECT_NEAR(reservoir.remove(Litres(10.0)).value(), 10.0, 1e-9);
  EXPECT_NEAR(reservoir.remove(Litres(500.0)).value(), 85.0, 1e-9);  // the corner keeps its 5 L
}

}  // namespace
}  // namespace brinegate::sim
