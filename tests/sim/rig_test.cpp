// SPDX-License-Identifier: Apache-2.0
// The rig in virtual time: commands, faults and devices acting on one another.
#include "sim/rig.h"

#include <cmath>
#include <initializer_list>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "rules/mass_balance.h"
#include "rules/seawater.h"
#include "sim/rig_commands.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;
using nlohmann::json;

constexpr MonoTime start_time{1h};

class RigTest : public testing::Test {
 protected:
  json command(std::string_view line) { return json::parse(run_command(rig_, line)); }
  json state() { return command("state"); }
  void wait(Duration time) { rig_.advance(now_ += time); }
  Pdu ask(std::uint8_t unit, const Pdu& request) {
    const auto answered = rig_.request(unit, request, now_);
    return answered ? answered->pdu : Pdu{};
  }
  void lease(std::uint8_t steps) { ask(2, {6, 0, 16, 0, steps}); }

  MonoTime now_ = start_time;
  Rig rig_{RigSpec{}, start_time};
};

TEST_F(RigTest, MixesWhatItIsTold) {
  EXPECT_TRUE(command("water 20 L").at("ok"));
  EXPECT_TRUE(command("salt 6.4 kg").at("ok"));
  const Water expected = mixed(Water{Litres(150.0), PracticalSalinity(0.0)}, Litres(20.0),
                               Grams(6400.0), SaltProduct{}, Celsius(18.0));
  EXPECT_NEAR(state()["reservoir"]["final_salinity_psu"], expected.salinity.value(), 1e-9);
  wait(6h);
  // Evaporation: 20 g/h of 175 kg for six hours is 0.07 %.
  EXPECT_NEAR(state()["reservoir"]["salinity_psu"], expected.salinity.value(), 0.05);
  const double shown = state()["probes"]["cell_a"]["shown"];
  const double temperature = state()["probes"]["temperature"]["shown"];
  // 1 % of 36 PSU: the cell's gain is drawn with a quarter of that.
  EXPECT_NEAR(practical_salinity(MilliSiemensPerCm(shown), Celsius(temperature)).value(),
              expected.salinity.value(), 0.4);
}

TEST_F(RigTest, EndsADrawWithItsLease) {
  lease(50);
  wait(1h);  // one great step: the lease ends on the way
  EXPECT_NEAR(state()["tank"]["drawn_l"], 4.0 * 5.0 / 60.0, 1e-6);
  EXPECT_FALSE(state()["devices"]["pump_on"]);
}

TEST_F(RigTest, HastensThePumpButNotTheLease) {
  RigSpec fast;
  fast.speed = 60.0;
  Rig rig(fast, start_time);
  rig.request(2, Pdu{6, 0, 16, 0, 50}, start_time);
  rig.advance(start_time + 4s);
  EXPECT_TRUE(rig.relays().pump_has_power(start_time + 4s));
  rig.advance(start_time + 60s);
  EXPECT_NEAR(rig.reservoir().drawn().value(), 4.0 * 5.0, 1e-6);
}

TEST_F(RigTest, GoesOnDrawingThroughAWeldedContact) {
  lease(10);
  command("fault relay welded");
  wait(60s);
  EXPECT_NEAR(state()["tank"]["drawn_l"], 4.0, 1e-6);
  EXPECT_FALSE(state()["devices"]["pump_coil"]);
  EXPECT_TRUE(state()["devices"]["pump_on"]);
  ask(2, {5, 0, 2, 0, 0});  // the second cut-off
  wait(60s);
  EXPECT_NEAR(state()["tank"]["drawn_l"], 4.0, 1e-6);
  command("fault relay none");
  command("second_cutoff on");
  wait(60s);
  EXPECT_NEAR(state()["tank"]["drawn_l"], 4.0, 1e-6);
}

TEST_F(RigTest, MovesNothingThroughABlockedPump) {
  command("fault pump blocked");
  lease(50);
  wait(4s);
  EXPECT_TRUE(state()["devices"]["pump_on"]);
  EXPECT_EQ(state()["tank"]["drawn_l"], 0.0);
}

TEST_F(RigTest, FlowsOnThroughASiphon) {
  command("fault pump siphon");
  lease(50);
  wait(65s);
  EXPECT_FALSE(state()["devices"]["pump_on"]);
  EXPECT_NEAR(state()["tank"]["drawn_l"], 4.0 * 5.0 / 60.0 + 1.5, 1e-6);
}

TEST_F(RigTest, AnswersOnlyItsThreeUnits) {
  EXPECT_FALSE(ask(1, {4, 0, 0, 0, 2}).empty());
  EXPECT_FALSE(ask(2, {1, 0, 0, 0, 3}).empty());
  EXPECT_FALSE(ask(3, {4, 0, 0, 0, 2}).empty());
  for (const std::uint8_t unit : std::initializer_list<std::uint8_t>{0, 4, 247, 255})
    EXPECT_TRUE(ask(unit, {4, 0, 0, 0, 2}).empty());
}

TEST_F(RigTest, ShowsAFaultOnTheNextRead) {
  const Pdu request{4, 0, 0, 0, 2};
  const Pdu honest = ask(1, request);
  command("fault cell_a swapped");
  const Pdu swapped = ask(1, request);
  EXPECT_EQ(swapped, (Pdu{4, 4, honest[4], honest[5], honest[2], honest[3]}));
  command("fault cell_a silent");
  EXPECT_TRUE(ask(1, request).empty());
  command("fault cell_a none");
  EXPECT_EQ(ask(1, request), honest);
}

TEST_F(RigTest, FaultsOneDeviceOrBoth) {
  command("fault slave silent");
  EXPECT_TRUE(ask(1, {4, 0, 0, 0, 2}).empty());
  EXPECT_TRUE(ask(2, {1, 0, 0, 0, 3}).empty());
  command("fault relay none");
  EXPECT_TRUE(ask(1, {4, 0, 0, 0, 2}).empty());
  EXPECT_FALSE(ask(2, {1, 0, 0, 0, 3}).empty());
  command("fault transmitter exception");
  EXPECT_EQ(ask(1, {4, 0, 0, 0, 2}), (Pdu{0x84, 4}));
}

TEST_F(RigTest, SaysWhatThereIsWhenItIsAskedForWhatThereIsNot) {
  const auto error = [&](std::string_view line) {
    return command(line).at("error").get<std::string>();
  };
  EXPECT_NE(error("salinate").find("water|salt|"), std::string::npos);
  EXPECT_NE(error("").find("water|salt|"), std::string::npos);
  EXPECT_NE(error("fault").find("cell_a|cell_b|"), std::string::npos);
  EXPECT_NE(error("fault cell_c flat").find("cell_a|cell_b|"), std::string::npos);
  EXPECT_NE(error("fault cell_a broken").find("flat|air|"), std::string::npos);
  EXPECT_NE(error("fault relay broken").find("welded"), std::string::npos);
  EXPECT_NE(error("fault cell_a factor nan").find("factor"), std::string::npos);
  EXPECT_NE(error("fault level swapped").find("one word"), std::string::npos);
  EXPECT_NE(error("water 20").find("L"), std::string::npos);
  EXPECT_NE(error("water 1e9 L").find("out of range"), std::string::npos);
  EXPECT_NE(error("salt -3 kg").find("salt"), std::string::npos);
  EXPECT_NE(error("heater 95 C").find("out of range"), std::string::npos);
  EXPECT_NE(error("\xff\xfe").find("no command"), std::string::npos);
  EXPECT_EQ(state()["reservoir"]["added_salt_g"], 0.0);
}

}  // namespace
}  // namespace brinegate::sim
