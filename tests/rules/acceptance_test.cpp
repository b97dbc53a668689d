// SPDX-License-Identifier: Apache-2.0
// What the instruments leave of a tolerance, and what would leave more.
#include "rules/acceptance.h"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "rules/conformity.h"

namespace brinegate {
namespace {

class Accepting : public testing::Test {
 protected:
  Accepting() {
    for (const Measures measures : {Measures::Temperature, Measures::Conductivity}) {
      ProbeSpec& probe = probes.emplace_back();
      probe.measures = measures;
      probe.uncertainty = default_probe_uncertainty(measures);
      probe.drift_per_day = default_probe_drift(measures);
    }
    probes[1].temperature_from = 0;
    conditions.resize(2);
    profile.target = PracticalSalinity(35.0);
    profile.tolerance = PracticalSalinity(1.0);
  }
  [[nodiscard]] Acceptance left() const {
    return acceptance(probes, conditions, factor, profile).value();
  }
  static const WiderZone* find(const Acceptance& a, Widening by) {
    const auto found = std::find_if(a.wider.begin(), a.wider.end(),
                                    [by](const WiderZone& zone) { return zone.by == by; });
    return found == a.wider.end() ? nullptr : &*found;
  }

  std::vector<ProbeSpec> probes;
  std::vector<ProbeCondition> conditions;
  SaltFactor factor;
  Profile profile;
};

TEST_F(Accepting, LeavesWhereTheRiskIsJustTheAcceptedOne) {
  const Acceptance a = left();
  ASSERT_TRUE(a.half_width);
  const double w = a.half_width->value();
  EXPECT_NEAR(nonconformance_probability(w, a.budget.systematic(), -1.0, 1.0), profile.risk, 1e-9);
}

// By JCGM 106 with u = 0.2 PSU and a risk of 1 %: the guard band of 1 is 2.326 u; of 0.5 nothing is
// left, as in its very middle both tails together are 1.24 %.
TEST_F(Accepting, LeavesTheToleranceLessItsGuardBand) {
  probes.resize(1);
  probes[0].measures = Measures::SpecificGravity;  // no salt factor, no thermometer
  probes[0].drift_per_day = {};
  const double per_gravity =
      (salinity_of_gravity(1.0265, {}) - salinity_of_gravity(1.0264, {})).value() / 1e-4;
  probes[0].uncertainty = {0.2 / per_gravity, 0.0};
  conditions.resize(1);
  EXPECT_NEAR(left().half_width->value(), 1.0 - 2.326 * 0.2, 0.005);
  profile.tolerance = PracticalSalinity(0.5);
  EXPECT_FALSE(left().half_width);
}

TEST_F(Accepting, OffersOnlyWhatHelps) {
  EXPECT_EQ(find(left(), Widening::FreshCalibration), nullptr) << "it is fresh";
  conditions[1].days_since_calibration = 60.0;
  ASSERT_NE(find(left(), Widening::FreshCalibration), nullptr);
  EXPECT_NE(find(left(), Widening::SecondCell), nullptr);
  EXPECT_NE(find(left(), Widening::MeasuredSaltFactor), nullptr);
  factor = {1.004, 0.001};
  EXPECT_EQ(find(left(), Widening::MeasuredSaltFactor), nullptr) << "it is known better";
}

TEST_F(Accepting, SaysWhatEachWayLeavesAsIfItWereDone) {
  conditions[1].days_since_calibration = 60.0;
  const Acceptance before = left();
  for (std::size_t i = 1; i < before.wider.size(); ++i)
    EXPECT_GE(before.wider[i - 1].half_width, before.wider[i].half_width);
  const double promised = find(before, Widening::SecondCell)->half_width.value();
  probes.push_back(probes[1]);
  conditions.push_back(conditions[1]);
  EXPECT_NEAR(left().half_width->value(), promised, 1e-9);
  conditions.pop_back();
  probes.pop_back();
  const double fresh = find(before, Widening::FreshCalibration)->half_width.value();
  conditions[1].days_since_calibration = 0.0;
  EXPECT_NEAR(left().half_width->value(), fresh, 1e-9);
}

TEST_F(Accepting, HasNothingLeftOfATightToleranceButSaysWhichWouldDo) {
  profile.tolerance = PracticalSalinity(0.3);
  const Acceptance a = left();
  EXPECT_FALSE(a.half_width);
  const WiderZone* zone = find(a, Widening::WiderTolerance);
  ASSERT_NE(zone, nullptr);
  EXPECT_NEAR(zone->half_width.value(), zone->tolerance.value() / 2.0, 1e-6);
  profile.tolerance = zone->tolerance;
  EXPECT_NEAR(left().half_width->value(), zone->half_width.value(), 1e-9);
  EXPECT_EQ(find(left(), Widening::WiderTolerance), nullptr) << "half of it is left";
}

TEST_F(Accepting, DoesNotSpeakWithoutACell) {
  probes.resize(1);
  conditions.resize(1);
  EXPECT_FALSE(acceptance(probes, conditions, factor, profile));
}

}  // namespace
}  // namespace brinegate
