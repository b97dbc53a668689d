// SPDX-License-Identifier: Apache-2.0
// What else on the tank is driven while water is changed: the hold-off (S18) and the drain (S19).
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/load.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using namespace std::chrono_literals;
using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

const std::string held_off = R"(
[station.mixer.probe.top_off]
measures = "held-off"
source = { link = "rack", unit = 4, discrete = 0, closed_means = "held" }
)";
const std::string hold_off = R"(
[station.mixer.hold_off]
output = { link = "rack", unit = 4, coil = 0, timed = { holding = 16, step = "100 ms" } }
)";
const std::string tank_level = R"(
[station.mixer.probe.tank]
measures = "tank-level"
source = { link = "rack", unit = 4, holding = 0, as = "uint16", scale = 0.1, in = "cm" }
table = [[0, 0], [50, 600]]
)";
const std::string drain = R"(
[station.mixer.drain]
output = { link = "rack", unit = 2, coil = 3, timed = { holding = 17, step = "100 ms" } }
readback = { link = "rack", unit = 2, discrete = 5 }
max_run = "10 min"
portion = "20 L"
)";

Loaded load(const std::string& more) {
  return load_text(std::string(cellar) + more, "cellar.toml");
}
std::vector<std::string> messages(const std::vector<Problem>& problems) {
  std::vector<std::string> result;
  for (const Problem& problem : problems)
    result.push_back(problem.message);
  return result;
}
std::vector<std::string> errors(const std::string& more) {
  return messages(load(more).errors);
}

TEST(LoadTank, ReadsTheHoldOff) {
  const Loaded loaded = load(held_off + hold_off);
  ASSERT_TRUE(loaded.site) << messages(loaded.errors).front();
  const Station& station = loaded.site->stations[0];
  EXPECT_EQ(station.spec.hold_off->lease, 60s);
  EXPECT_EQ(station.spec.hold_off->confirm_within, 30s);
  EXPECT_EQ(station.spec.hold_off->rest, 1min);
  EXPECT_TRUE(station.hold_off->lapses_by_itself());
}

TEST(LoadTank, ReadsTheDrainWithItsReadBack) {
  const Loaded loaded = load(held_off + hold_off + tank_level + drain);
  ASSERT_TRUE(loaded.site) << messages(loaded.errors).front();
  const Station& station = loaded.site->stations[0];
  EXPECT_EQ(station.spec.drain->portion, Litres(20.0));
  EXPECT_EQ(station.spec.drain->tolerance, Litres(4.0)) << "2 % of the capacity";
  EXPECT_EQ(station.spec.drain->pump.max_run, 10min);
  EXPECT_EQ(station.spec.drain->pump.lease, station.spec.pump->lease);
  EXPECT_TRUE(station.spec.drain->pump.has_readback);
  EXPECT_EQ(station.spec.probes.back().measures, Measures::DrainRunning);
  EXPECT_EQ(station.spec.probes.size(), station.sources.size());
  EXPECT_FALSE(station.spec.drain->pump.simulated);
}

TEST(LoadTank, RefusesAHoldOffWithoutConfirmation) {
  EXPECT_THAT(errors(hold_off), ElementsAre(HasSubstr("a hold-off without confirmation is none")));
}

TEST(LoadTank, RefusesADrainWithoutAWayToKnowHowMuch) {
  EXPECT_THAT(errors(drain), ElementsAre(HasSubstr("nothing tells how much is drained")));
}

TEST(LoadTank, RefusesADrainWhileProven) {
  const std::string text =
      with(cellar, "max_volume =", "permit = \"while proven\"\nmax_volume =") + tank_level + drain;
  EXPECT_THAT(messages(load_text(text, "cellar.toml").errors),
              ElementsAre(HasSubstr("it needs permit = \"per change\"")));
}

TEST(LoadTank, RefusesADrainThatCannotTellWhatIsThereToBeReturned) {
  std::string text = with(cellar, "measures = \"level\"", "measures = \"flow\"");
  text = with(text, "in = \"cm\", every", "in = \"L/h\", every");
  text = with(text, "table = [[0, 0], [10, 22.4], [80, 200]]\n", "");
  EXPECT_THAT(messages(load_text(text + tank_level + drain, "cellar.toml").errors),
              ElementsAre(HasSubstr("add a probe that measures level")));
}

TEST(LoadTank, RefusesAPortionWithinTheTolerance) {
  EXPECT_THAT(errors(tank_level + with(drain, "20 L", "4 L")),
              ElementsAre(HasSubstr("no portion that went astray would be noticed")));
}

TEST(LoadTank, RefusesAnOutputThatIsThePumpsAlready) {
  EXPECT_THAT(errors(tank_level + with(drain, "coil = 3", "coil = 0")),
              ElementsAre(HasSubstr("switch the same coil")));
}

TEST(LoadTank, WarnsOfADrainWithoutHoldOffAndOfWhatStaysOn) {
  const Loaded loaded =
      load(tank_level + with(drain, ", timed = { holding = 17, step = \"100 ms\" }", ""));
  ASSERT_TRUE(loaded.site);
  EXPECT_THAT(messages(loaded.hazards), Contains(HasSubstr("a drain without 'hold_off'")));
  EXPECT_THAT(messages(loaded.hazards),
              Contains(HasSubstr("the drain does not switch off by itself")));
}

TEST(LoadTank, WarnsOfAHoldOffThatDoesNotLapseAndOfRunsThatCannotWait) {
  const std::string latching = with(hold_off, ", timed = { holding = 16, step = \"100 ms\" }", "");
  EXPECT_THAT(messages(load(held_off + latching).hazards),
              Contains(HasSubstr("the hold-off does not lapse by itself")));
  EXPECT_THAT(messages(load(held_off + hold_off).hazards), Not(Contains(HasSubstr("hold-off"))));
  const std::string text =
      with(cellar, "max_volume =", "permit = \"while proven\"\nmax_volume =") + held_off + hold_off;
  EXPECT_THAT(messages(load_text(text, "cellar.toml").hazards),
              Contains(HasSubstr("a run begins before top-off and dosing can be held off")));
}

}  // namespace
}  // namespace brinegate::config
