// SPDX-License-Identifier: Apache-2.0
// Open slowly, shut at once (S1, S11).
#include "rules/gate.h"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace brinegate {
namespace {

using namespace std::chrono_literals;

GateInputs all_met(const std::string& permit = "b-p1") {
  GateInputs inputs;
  inputs.every_check_met = true;
  inputs.wanted = true;
  inputs.permit = Permit{permit, "b", "H-2291", 0.001, Litres(40.0)};
  inputs.dwell = 10s;
  return inputs;
}

GateInputs on_record(const std::string& permit = "b-p1") {
  GateInputs inputs = all_met(permit);
  inputs.on_record = permit;
  return inputs;
}

GateInputs unmet(CheckId check) {
  GateInputs inputs = on_record();
  inputs.every_check_met = false;
  inputs.first_unmet = check;
  return inputs;
}

Gate opened() {
  Gate gate;
  gate.step(all_met(), MonoTime(0s));
  gate.step(all_met(), MonoTime(10s));
  gate.step(on_record(), MonoTime(11s));
  return gate;
}

TEST(Gate, OpensAfterTheDwellAndTheRecord) {
  Gate gate;
  EXPECT_EQ(gate.step(on_record(), MonoTime(0s)), GateChange::None);
  EXPECT_EQ(gate.dwell_left(10s, MonoTime(4s)), 6s);
  EXPECT_EQ(gate.step(on_record(), MonoTime(10s - 1ns)), GateChange::None);
  EXPECT_EQ(gate.step(on_record(), MonoTime(10s)), GateChange::PermitNeeded);
  EXPECT_EQ(gate.state(), GateState::Shut);
  EXPECT_EQ(gate.step(all_met(), MonoTime(20s)), GateChange::None) << "not on record yet";
  GateInputs foreign = all_met();
  foreign.on_record = "b-p0";
  EXPECT_EQ(gate.step(foreign, MonoTime(21s)), GateChange::None);
  EXPECT_EQ(gate.step(on_record(), MonoTime(22s)), GateChange::Opened);
  EXPECT_EQ(gate.state(), GateState::Open);
}

TEST(Gate, ShutsInTheSameRoundAndNamesTheFirstOut) {
  Gate gate = opened();
  ASSERT_EQ(gate.state(), GateState::Open);
  EXPECT_EQ(gate.step(unmet(CheckId::NoLeak), MonoTime(12s)), GateChange::Shut);
  EXPECT_EQ(gate.state(), GateState::Shut);
  EXPECT_EQ(gate.first_out(), CheckId::NoLeak);
  EXPECT_FALSE(gate.permit());
}

TEST(Gate, StartsTheDwellAfreshAfterOneGap) {
  Gate gate;
  gate.step(all_met(), MonoTime(0s));
  gate.step(unmet(CheckId::Dissolved), MonoTime(9s));
  EXPECT_EQ(gate.dwell_left(10s, MonoTime(9s)), std::nullopt);
  gate.step(all_met(), MonoTime(9s + 1ms));
  EXPECT_EQ(gate.step(all_met(), MonoTime(19s)), GateChange::None);
  EXPECT_EQ(gate.step(all_met(), MonoTime(19s + 1ms)), GateChange::PermitNeeded);
}

TEST(Gate, ShutsWhenNothingWantsItAndBlamesNoCheck) {
  Gate gate = opened();
  GateInputs inputs = on_record();
  inputs.wanted = false;
  EXPECT_EQ(gate.step(inputs, MonoTime(12s)), GateChange::Shut);
  EXPECT_EQ(gate.first_out(), std::nullopt);
}

TEST(Gate, NeverOpensOnAPermitThatWasWithdrawn) {
  Gate gate;
  gate.step(all_met(), MonoTime(0s));
  EXPECT_EQ(gate.step(all_met(), MonoTime(10s)), GateChange::PermitNeeded);
  EXPECT_EQ(gate.step(unmet(CheckId::RecordKept), MonoTime(11s)), GateChange::PermitWithdrawn);
  GateInputs late = all_met("b-p2");
  late.on_record = "b-p1";  // the disk answers too late
  gate.step(late, MonoTime(12s));
  EXPECT_EQ(gate.step(late, MonoTime(22s)), GateChange::PermitNeeded);
  EXPECT_EQ(gate.step(late, MonoTime(23s)), GateChange::None);
  EXPECT_EQ(gate.state(), GateState::Shut);
  late.on_record = "b-p2";
  EXPECT_EQ(gate.step(late, MonoTime(24s)), GateChange::Opened);
}

// Whatever comes in whatever order: open only with everything met now, wanted, and a permit that
// was on record in the round of opening.
RC_GTEST_PROP(Gate, IsNeverOpenWithoutItsReasons, ()) {
  Gate gate;
  MonoTime now{0s};
  std::optional<MonoTime> met_since;
  int permits = 0;
  for (int i = 0; i < 100; ++i) {
    now += std::chrono::seconds(*rc::gen::inRange(0, 6));
    GateInputs inputs = all_met("b-p" + std::to_string(permits + 1));
    inputs.every_check_met = *rc::gen::inRange(0, 12) != 0;
    inputs.wanted = *rc::gen::inRange(0, 12) != 0;
    inputs.on_record = "b-p" + std::to_string(permits + *rc::gen::inRange(-1, 2));
    if (!inputs.every_check_met)
      met_since.reset();
    else if (!met_since)
      met_since = now;
    const std::string permit = gate.permit() ? gate.permit()->id : "";
    const GateChange change = gate.step(inputs, now);
    permits += change == GateChange::PermitNeeded ? 1 : 0;
    if (change == GateChange::Opened)
      RC_ASSERT(inputs.on_record == permit);
    if (gate.state() == GateState::Open) {
      RC_ASSERT(inputs.every_check_met && inputs.wanted && gate.permit());
      RC_ASSERT(now - *met_since >= inputs.dwell);
    }
  }
}

}  // namespace
}  // namespace brinegate
