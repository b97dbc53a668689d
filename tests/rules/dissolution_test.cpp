// SPDX-License-Identifier: Apache-2.0
// Courses that are drawn here from the model of salt with a fast and a slow part; what campaigns
// find under many disturbances is tested in sim/campaign_test.cpp.
#include "rules/dissolution.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <random>

#include <gtest/gtest.h>

#include "rules/seawater.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr PracticalSalinity allowed{0.1};

struct Salt {
  double all = 34.8;  // PSU
  double slow_share = 0.08;
  double fast_seconds = 150.0;
  double slow_seconds = 40.0 * 60.0;
};

// One course, sampled every 5 s.
class CourseOf {
 public:
  explicit CourseOf(const Salt& salt, double noise = 0.003) : salt_(salt), noise_(noise) {}

  [[nodiscard]] double salinity() const {
    const double t = seconds(elapsed_ - salted_at_);
    return base_ +
           salt_.all * (1.0 - salt_.slow_share) * (1.0 - std::exp(-t / salt_.fast_seconds)) +
           salt_.all * salt_.slow_share * (1.0 - std::exp(-t / salt_.slow_seconds));
  }
  [[nodiscard]] double remaining() const { return base_ + salt_.all - salinity(); }
  // More of it is thrown in; what was there counts as dissolved by then.
  void throw_in(const Salt& salt) {
    base_ = salinity();
    salt_ = salt;
    salted_at_ = elapsed_;
  }
  void pass(Dissolution& dissolution, Duration time) {
    for (const Duration until = elapsed_ + time; elapsed_ < until;) {
      elapsed_ += 5s;
      const double noise = std::normal_distribution<double>(0.0, noise_)(random_);
      const double bubble = bubbles && ++sample_ % 17 == 0 ? -1.0 : 0.0;
      const double artefact = per_celsius * (temperature() - 25.0);
      dissolution.add({MonoTime(elapsed_),
                       PracticalSalinity(salinity() + noise + bubble + artefact),
                       Celsius(temperature()), -0.775});
    }
  }
  [[nodiscard]] double temperature() const {
    return warms_from
               ? 25.0 - 10.0 * std::exp(-seconds(std::max(Duration(0), elapsed_ - *warms_from)) /
                                        3000.0)
               : 25.0;
  }

  bool bubbles = false;
  std::optional<Duration> warms_from;  // the heater comes on
  double per_celsius = 0.0;            // PSU / °C of a compensation that is wrong

 private:
  Salt salt_;
  double noise_;
  double base_ = 0.0;
  Duration salted_at_{0};
  Duration elapsed_{0};
  int sample_ = 0;
  std::mt19937_64 random_{11};
};

Dissolution fresh() {
  return {160min, allowed};
}

TEST(Dissolution, SaysNothingBeforeItHasACourse) {
  Dissolution dissolution = fresh();
  EXPECT_FALSE(dissolution.forecast().known);
  CourseOf course(Salt{});
  course.pass(dissolution, 1min);
  EXPECT_FALSE(dissolution.forecast().known);
  EXPECT_EQ(dissolution.forecast().settled_probability, 0.0);
}

TEST(Dissolution, ForecastsTheEndWithinItsOwnInterval) {
  Dissolution dissolution = fresh();
  CourseOf course(Salt{});
  course.pass(dissolution, 60min);
  const Forecast& forecast = dissolution.forecast();
  ASSERT_TRUE(forecast.known);
  EXPECT_GT(course.remaining(), 0.5);
  EXPECT_NEAR(forecast.remaining, course.remaining(), 3.0 * forecast.remaining_uncertainty);
  EXPECT_LT(forecast.remaining_uncertainty, 0.5);
  EXPECT_NEAR(forecast.final.value(), 34.8, 3.0 * forecast.final_uncertainty);
  EXPECT_TRUE(forecast.course_agrees);
}

// The exact time at which the slow part has come down to what is allowed.
TEST(Dissolution, IsSettledSoonAfterItTrulyIsAndNotBefore) {
  const Salt salt;
  const double truly = salt.slow_seconds * std::log(salt.all * salt.slow_share / allowed.value());
  Dissolution dissolution = fresh();
  CourseOf course(salt);
  Duration settled{0};
  for (Duration t{0}; t < 6h && settled == Duration::zero(); t += 30s) {
    course.pass(dissolution, 30s);
    if (dissolution.forecast().settled_probability >= 0.95)
      settled = t + 30s;
  }
  EXPECT_GT(seconds(settled), truly);
  EXPECT_LT(seconds(settled), 1.2 * truly);
}

// A slope that is small but goes on for long is the trap: 0.3 PSU with a time constant of 90 min
// rises by 0.003 PSU a minute.
TEST(Dissolution, IsNotFooledByASlowTailWhoseSlopeIsSmall) {
  Salt salt;
  salt.slow_share = 0.6 / salt.all;
  salt.slow_seconds = 90.0 * 60.0;
  Dissolution dissolution = fresh();
  CourseOf course(salt);
  for (int i = 0; i < 120; ++i) {
    course.pass(dissolution, 30s);
    ASSERT_GT(course.remaining(), 0.25);
    ASSERT_LT(dissolution.forecast().settled_probability, 0.95) << "after " << i / 2 << " min";
  }
}

TEST(Dissolution, ABubbleNowAndThenChangesLittle) {
  Dissolution dissolution = fresh();
  CourseOf course(Salt{});
  course.bubbles = true;
  course.pass(dissolution, 4h);
  EXPECT_GE(dissolution.forecast().settled_probability, 0.95);
  EXPECT_EQ(dissolution.surprises(), 0);
}

TEST(Dissolution, SaltThatNobodyToldOfIsASurpriseAndStartsAfresh) {
  Dissolution dissolution = fresh();
  CourseOf course(Salt{});
  course.pass(dissolution, 5h);
  ASSERT_GE(dissolution.forecast().settled_probability, 0.95);
  Salt more;
  more.all = 1.5;
  course.throw_in(more);
  course.pass(dissolution, 5min);
  EXPECT_EQ(dissolution.surprises(), 1);
  EXPECT_LT(dissolution.forecast().settled_probability, 0.95);
  course.pass(dissolution, 4h);
  EXPECT_GE(dissolution.forecast().settled_probability, 0.95);
  EXPECT_NEAR(dissolution.forecast().final.value(), course.salinity() + course.remaining(), 0.05);
}

TEST(Dissolution, AfterAnAdditionNothingIsKnownUntilTheCourseShowsIt) {
  Dissolution dissolution = fresh();
  CourseOf course(Salt{});
  course.pass(dissolution, 5h);
  for (const bool salt : {true, false}) {
    salt ? dissolution.restart() : dissolution.dilute();
    EXPECT_FALSE(dissolution.forecast().known);
    course.pass(dissolution, 1min);
    EXPECT_LT(dissolution.forecast().settled_probability, 0.95);
  }
}

TEST(Dissolution, BridgesAGapInTheSamples) {
  Dissolution dissolution = fresh();
  CourseOf course(Salt{});
  course.pass(dissolution, 50min);
  Dissolution nobody_listens = fresh();
  course.pass(nobody_listens, 20min);
  course.pass(dissolution, 10min);
  EXPECT_EQ(dissolution.surprises(), 0);
  EXPECT_NEAR(dissolution.forecast().remaining, course.remaining(),
              3.0 * dissolution.forecast().remaining_uncertainty);
}

TEST(Dissolution, ASlowerSampleRateForecastsTheSame) {
  Dissolution often = fresh();
  Dissolution seldom = fresh();
  CourseOf course(Salt{}, 0.0);
  for (int i = 0; i < 5 * 120; ++i) {
    course.pass(often, 25s);
    Dissolution one = fresh();
    course.pass(one, 5s);
  }
  CourseOf again(Salt{}, 0.0);
  for (int i = 0; i < 5 * 120; ++i) {
    Dissolution skipped = fresh();
    again.pass(skipped, 25s);
    again.pass(seldom, 5s);
  }
  EXPECT_NEAR(often.forecast().final.value(), seldom.forecast().final.value(), 0.02);
}

// S21: how a probe behaves whose compensation is missing or doubled, 0.78 PSU / °C near 25 °C
// (compensated_conductivity.csv: dSP/dt).
TEST(Dissolution, TellsASalinityThatFollowsTheTemperatureFromSaltThatDissolves) {
  for (const double per_celsius : {-0.78, 0.0}) {
    SCOPED_TRACE(per_celsius);
    Dissolution dissolution = fresh();
    Salt salt;
    salt.slow_share = 0.02;
    CourseOf course(salt);
    course.warms_from = 1h;
    course.per_celsius = per_celsius;
    course.pass(dissolution, 2h);
    course.warms_from = 2h;  // and again, as after a night with the heater off
    course.pass(dissolution, 3h);
    const Forecast& forecast = dissolution.forecast();
    if (per_celsius == 0.0) {
      EXPECT_LT(forecast.follows_temperature_probability, 0.5);
    } else {
      EXPECT_GE(forecast.follows_temperature_probability, 0.99);
      EXPECT_NEAR(forecast.per_celsius, per_celsius, 0.1);
    }
  }
}

}  // namespace
}  // namespace brinegate
