// SPDX-License-Identifier: Apache-2.0
// What the mass balance promises beyond the table: what is left of the last batch counts, following
// a correction lands on the target, salt is neither made nor lost, impossible wishes are refused.
#include "rules/mass_balance.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/seawater.h"
#include "tests/uniform.h"

namespace brinegate {
namespace {

using testing::HasSubstr;

const Celsius room{22.0};
const PracticalSalinity sea{35.0};

Water some_batch(double from_salinity, double to_salinity) {
  return {Litres(uniform(1.0, 1000.0)), PracticalSalinity(uniform(from_salinity, to_salinity))};
}
SaltProduct some_salt() {
  return {uniform(0.5, 1.0)};
}
double grams_of_salt(Water w, Celsius t) {
  return w.volume.value() * salt_grams_per_litre(w.salinity, t);
}
bool close(double a, double b, double relative = 1e-9) {
  return std::abs(a - b) <= relative * std::max({1.0, std::abs(a), std::abs(b)});
}

Water followed(const Correction& way, Water batch, SaltProduct salt, Celsius t) {
  batch.volume -= way.remove;
  return mixed(batch, way.water, way.salt, salt, t);
}

RC_GTEST_PROP(MassBalance, FollowingACorrectionLandsOnTheTarget, ()) {
  const Water batch = some_batch(1.0, 50.0);
  const PracticalSalinity target(uniform(1.0, 50.0));
  const Litres capacity(batch.volume.value() * uniform(0.5, 1.5));
  const SaltProduct salt = some_salt();
  const Celsius t(uniform(0.0, 40.0));
  const auto ways = corrections(batch, target, capacity, salt, t);
  RC_ASSERT(ways.ok());
  for (const Correction& way : *ways) {
    const Water after = followed(way, batch, salt, t);
    RC_ASSERT(close(after.salinity.value(), target.value()));
    RC_ASSERT(close(after.volume.value(), way.after.volume.value()));
    RC_ASSERT(close(way.after.salinity.value(), target.value()));
    RC_ASSERT(way.remove >= Litres(0.0) && way.remove < batch.volume);
    RC_ASSERT(way.water >= Litres(0.0) && way.salt >= Grams(0.0));
    RC_ASSERT(way.fits == (way.after.volume <= capacity + Litres(1e-9)));
  }
}

// A person must always have a way that does not overflow the reservoir.
RC_GTEST_PROP(MassBalance, OneCorrectionAlwaysFitsAndStandsFirst, ()) {
  const Water batch = some_batch(1.0, 50.0);
  const PracticalSalinity target(uniform(1.0, 50.0));
  RC_PRE(std::abs((batch.salinity - target).value()) > 1e-6);
  const Litres capacity(batch.volume.value() * uniform(0.5, 1.5));
  const auto ways = corrections(batch, target, capacity, some_salt(), Celsius(uniform(0.0, 40.0)));
  RC_ASSERT(ways.ok() && !ways->empty());
  RC_ASSERT(ways->front().fits);
}

RC_GTEST_PROP(MassBalance, SaltIsConserved, ()) {
  const Water rest = some_batch(0.0, 50.0);
  const Litres water(uniform(0.0, 500.0));
  const Grams product(uniform(0.0, 500.0));
  const SaltProduct salt = some_salt();
  const Celsius t(uniform(0.0, 40.0));
  const Water after = mixed(rest, water, product, salt, t);
  RC_ASSERT(
      close(grams_of_salt(after, t), grams_of_salt(rest, t) + product.value() * salt.dry_fraction));
}

RC_GTEST_PROP(MassBalance, ADoseMixesToItsTargetOnTopOfTheRest, ()) {
  const Water rest = some_batch(0.0, 30.0);
  const PracticalSalinity target(uniform(30.0, 50.0));
  const SaltProduct salt = some_salt();
  const Celsius t(uniform(0.0, 40.0));
  const auto on_water = dose_for_water(Litres(uniform(0.0, 500.0)), rest, target, salt, t);
  RC_ASSERT(on_water.ok());
  const Water one = mixed(rest, on_water->water, on_water->salt, salt, t);
  RC_ASSERT(close(one.salinity.value(), target.value()));
  RC_ASSERT(close(one.volume.value(), on_water->volume_after.value()));
  const auto to_volume = dose_for_volume(on_water->volume_after, rest, target, salt, t);
  RC_ASSERT(to_volume.ok());
  RC_ASSERT(close(to_volume->salt.value(), on_water->salt.value(), 1e-8));
  RC_ASSERT(close(to_volume->water.value(), on_water->water.value(), 1e-8));
}

RC_GTEST_PROP(MassBalance, MoreSaltIsSaltierAndMoreWaterIsWeakerAndBothAreMoreVolume, ()) {
  const Water rest = some_batch(5.0, 45.0);
  const Grams product(uniform(0.0, 1000.0));
  const Litres water(uniform(0.0, 100.0));
  const SaltProduct salt = some_salt();
  const Celsius t(uniform(0.0, 40.0));
  const Water base = mixed(rest, water, product, salt, t);
  const Water saltier = mixed(rest, water, product + Grams(10.0), salt, t);
  const Water weaker = mixed(rest, water + Litres(1.0), product, salt, t);
  RC_ASSERT(saltier.salinity > base.salinity && saltier.volume > base.volume);
  RC_ASSERT(weaker.salinity < base.salinity && weaker.volume > base.volume);
}

// Where a correction lands, by drawing what it starts from (JCGM 101), against what is stated.
TEST(MassBalance, WhereACorrectionLandsIsAsUncertainAsDrawingShows) {
  std::mt19937_64 random(35);
  std::normal_distribution<double> normal;
  const Water batch{Litres(180.0), PracticalSalinity(30.0)};
  const SaltProduct salt{0.9, 0.05};
  const WaterUncertainty u{Litres(6.0), PracticalSalinity(0.25)};
  for (const double target : {35.0, 26.0}) {
    const auto ways =
        corrections(batch, PracticalSalinity(target), Litres(185.0), salt, room, u).value();
    for (const Correction& way : ways) {
      double sum = 0.0;
      double squares = 0.0;
      constexpr int draws = 20'000;
      for (int i = 0; i < draws; ++i) {
        const Water truly{batch.volume + normal(random) * u.volume,
                          batch.salinity + normal(random) * u.salinity};
        const SaltProduct product{0.9 * (1.0 + 0.05 * normal(random))};
        const double off =
            (followed(way, truly, product, room).salinity - PracticalSalinity(target)).value();
        sum += off;
        squares += off * off;
      }
      const double spread = std::sqrt(squares / draws - (sum / draws) * (sum / draws));
      EXPECT_NEAR(way.standard_uncertainty.value(), spread, 0.05 * spread) << target;
    }
  }
}

TEST(MassBalance, WhatIsSureLandsWhereItIsMeantTo) {
  const auto ways =
      corrections({Litres(200.0), PracticalSalinity(37.0)}, sea, Litres(250.0), {}, room).value();
  for (const Correction& way : ways)
    EXPECT_EQ(way.standard_uncertainty.value(), 0.0) << "no salt is added, so its yield is nothing";
}

TEST(MassBalance, WhatIsLeftOfTheLastBatchSavesSaltAndWater) {
  const Water rest{Litres(20.0), sea};
  const auto from_empty = dose_for_volume(Litres(200.0), {}, sea, {}, room);
  const auto on_rest = dose_for_volume(Litres(200.0), rest, sea, {}, room);
  ASSERT_TRUE(from_empty && on_rest);
  EXPECT_NEAR(on_rest->salt.value(), 0.9 * from_empty->salt.value(), 1e-6);
  EXPECT_NEAR(on_rest->water.value(), 0.9 * from_empty->water.value(), 1e-9);
}

TEST(MassBalance, ReplacingTakesOutFirstAndKeepsTheVolume) {
  const auto ways =
      corrections({Litres(200.0), PracticalSalinity(37.0)}, sea, Litres(200.0), {}, room);
  ASSERT_TRUE(ways);
  ASSERT_EQ(ways->size(), 2U);
  const Correction& first = ways->front();
  EXPECT_EQ(first.action, CorrectionAction::ReplaceWithWater);
  EXPECT_TRUE(first.fits);
  EXPECT_GT(first.remove, Litres(0.0));
  EXPECT_NEAR(first.after.volume.value(), 200.0, 1e-9);
  EXPECT_EQ(ways->back().action, CorrectionAction::AddWater);
  EXPECT_FALSE(ways->back().fits);
}

TEST(MassBalance, SaltingABrimfulReservoirTakesOutFirst) {
  const auto ways =
      corrections({Litres(200.0), PracticalSalinity(33.0)}, sea, Litres(200.0), {}, room);
  ASSERT_TRUE(ways);
  ASSERT_EQ(ways->size(), 2U);
  EXPECT_TRUE(ways->front().fits);
  EXPECT_GT(ways->front().remove, Litres(0.0));
  EXPECT_NEAR(ways->front().after.volume.value(), 200.0, 1e-9);
  EXPECT_EQ(ways->back().remove, Litres(0.0));
  EXPECT_FALSE(ways->back().fits);
}

TEST(MassBalance, ABatchOnTargetNeedsNoCorrection) {
  const auto ways = corrections({Litres(200.0), sea}, sea, Litres(200.0), {}, room);
  ASSERT_TRUE(ways);
  EXPECT_TRUE(ways->empty());
}

TEST(MassBalance, NothingMixedIsNothing) {
  const Water none = mixed({}, Litres(0.0), Grams(0.0), {}, room);
  EXPECT_EQ(none.volume, Litres(0.0));
  EXPECT_EQ(none.salinity, PracticalSalinity(0.0));
  const Water noise = mixed({Litres(-0.4), sea}, Litres(-1.0), Grams(-3.0), {}, room);
  EXPECT_EQ(noise.volume, Litres(0.0));
}

TEST(MassBalance, ARestSaltierThanTheTargetIsRefusedWithWhatItComesTo) {
  const auto dose =
      dose_for_water(Litres(1.0), {Litres(100.0), PracticalSalinity(40.0)}, sea, {}, room);
  ASSERT_FALSE(dose);
  EXPECT_THAT(dose.error().message, HasSubstr("39.8"));  // 40.19 g/kg thinned by a hundredth
  EXPECT_THAT(dose.error().message, HasSubstr("35.17 ppt"));
}

TEST(MassBalance, AVolumeTooSmallForTheRestIsRefused) {
  const Water weak{Litres(100.0), PracticalSalinity(20.0)};
  EXPECT_THAT(dose_for_volume(Litres(100.0), weak, sea, {}, room).error().message,
              HasSubstr("no room"));
  const Water strong{Litres(100.0), PracticalSalinity(40.0)};
  EXPECT_THAT(dose_for_volume(Litres(100.0), strong, sea, {}, room).error().message,
              HasSubstr("more salt"));
}

TEST(MassBalance, ImpossibleInputIsRefusedByName) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinite = std::numeric_limits<double>::infinity();
  for (const double v : {nan, infinite, -1.0}) {
    EXPECT_THAT(dose_for_water(Litres(v), {}, sea, {}, room).error().message,
                HasSubstr("fresh water"));
    EXPECT_THAT(dose_for_volume(Litres(v), {}, sea, {}, room).error().message,
                HasSubstr("finished batch"));
    EXPECT_THAT(dose_for_water(Litres(1.0), {Litres(v), sea}, sea, {}, room).error().message,
                HasSubstr("last batch"));
    EXPECT_THAT(dose_for_water(Litres(1.0), {Litres(1.0), PracticalSalinity(v)}, sea, {}, room)
                    .error()
                    .message,
                HasSubstr("last batch"));
    EXPECT_THAT(dose_for_water(Litres(1.0), {}, PracticalSalinity(v), {}, room).error().message,
                HasSubstr("target"));
    EXPECT_THAT(corrections({Litres(v), sea}, sea, Litres(1.0), {}, room).error().message,
                HasSubstr("batch"));
    EXPECT_THAT(corrections({Litres(1.0), sea}, sea, Litres(v), {}, room).error().message,
                HasSubstr("reservoir"));
  }
  for (const double fraction : {nan, 0.2, 0.0, -1.0, 1.001})
    EXPECT_THAT(dose_for_water(Litres(1.0), {}, sea, {fraction}, room).error().message,
                HasSubstr("dry fraction"))
        << fraction;
  for (const double t : {nan, -0.1, 40.1})
    EXPECT_THAT(dose_for_water(Litres(1.0), {}, sea, {}, Celsius(t)).error().message,
                HasSubstr("temperature"));
  EXPECT_THAT(dose_for_water(Litres(1.0), {}, PracticalSalinity(61.0), {}, room).error().message,
              HasSubstr("60 PSU"));
  EXPECT_THAT(corrections({}, sea, Litres(200.0), {}, room).error().message, HasSubstr("no batch"));
  EXPECT_THAT(corrections({Litres(100.0), sea}, PracticalSalinity(0.0), Litres(200.0), {}, room)
                  .error()
                  .message,
              HasSubstr("diluted"));
}

}  // namespace
}  // namespace brinegate
