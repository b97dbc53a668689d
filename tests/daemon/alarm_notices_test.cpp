// SPDX-License-Identifier: Apache-2.0
// What a receiver is told of alarms, and when, in virtual time.
#include "daemon/alarm_notices.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/notice_text.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using ::testing::HasSubstr;
using ::testing::Not;

constexpr const char* unacknowledged = "unacknowledged";
constexpr const char* acknowledged = "acknowledged";
constexpr const char* returned = "returned unacknowledged";

nlohmann::json alarm(const char* state, const std::string& id = "change-ended-early") {
  return {{"id", id},
          {"state", state},
          {"cause", "A cause."},
          {"consequence", "A consequence."},
          {"action", "An action."}};
}

class Receiver {
 public:
  void station(nlohmann::json alarms, nlohmann::json shelved = nlohmann::json::array(),
               const std::string& name = "mixer") {
    notices.take(
        {{"station", name}, {"alarms", std::move(alarms)}, {"shelved", std::move(shelved)}});
  }
  std::optional<AlarmNotice> after(Duration time) {
    now += time;
    return notices.due(now);
  }
  AlarmNotices notices{30min};
  MonoTime now{1000h};
};

const nlohmann::json nothing = nlohmann::json::array();
const nlohmann::json on_shelf = {{{"id", "change-ended-early"}, {"for_s", 60}, {"reason", ""}}};

TEST(AlarmNotices, TellOfAnAlarmOnceAndAgainWhileNobodyAcknowledges) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged)});
  const auto first = receiver.after(0s);
  ASSERT_TRUE(first);
  ASSERT_EQ(first->lines.size(), 1U);
  EXPECT_EQ(first->lines[0].event, NoticeEvent::Raised);
  EXPECT_EQ(first->lines[0].station, "mixer");
  EXPECT_EQ(first->lines[0].alarm, "change-ended-early");
  EXPECT_EQ(first->lines[0].action, "An action.");
  receiver.station({alarm(unacknowledged)});
  EXPECT_FALSE(receiver.after(29min));
  const auto again = receiver.after(1min);
  ASSERT_TRUE(again);
  EXPECT_EQ(again->lines[0].event, NoticeEvent::Repeated);
  receiver.station({alarm(acknowledged)});
  EXPECT_FALSE(receiver.after(24h));
}

TEST(AlarmNotices, TellOfTheReturnToNormal) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged)});
  ASSERT_TRUE(receiver.after(0s));
  receiver.station({alarm(acknowledged)});
  EXPECT_FALSE(receiver.after(1s));
  receiver.station(nothing);
  const auto back = receiver.after(1s);
  ASSERT_TRUE(back);
  EXPECT_EQ(back->lines[0].event, NoticeEvent::Returned);
  EXPECT_EQ(back->lines[0].state, "normal");
  EXPECT_FALSE(receiver.after(24h));
}

TEST(AlarmNotices, TellOfWhatReturnedButWasNotAcknowledgedUntilItIs) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged)});
  ASSERT_TRUE(receiver.after(0s));
  receiver.station({alarm(returned)});
  EXPECT_EQ(receiver.after(1s)->lines[0].event, NoticeEvent::Returned);
  EXPECT_EQ(receiver.after(31min)->lines[0].event, NoticeEvent::Repeated);
  receiver.station(nothing);
  EXPECT_FALSE(receiver.after(24h)) << "that it returned was said";
}

TEST(AlarmNotices, TellOfWhatHappenedWithoutALastingCondition) {
  Receiver receiver;
  receiver.station({alarm(returned)});
  const auto notice = receiver.after(0s);
  ASSERT_TRUE(notice);
  EXPECT_EQ(notice->lines[0].event, NoticeEvent::Raised);
}

TEST(AlarmNotices, FoldAChatteringAlarmAndCountIt) {
  Receiver receiver;
  int told = 0;
  int times = 0;
  for (int second = 0; second < 600; ++second) {
    receiver.station({alarm(second % 2 == 0 ? unacknowledged : returned)});
    if (const auto notice = receiver.after(1s)) {
      ++told;
      times += notice->lines[0].times;
    }
  }
  EXPECT_LE(told, 4 + 10) << "four at once and then one a minute";
  EXPECT_GE(told, 10);
  EXPECT_GE(times, 270) << "of 300, but for what waits for the next minute";
  EXPECT_LE(times, 300);
}

TEST(AlarmNotices, FoldAFloodIntoOneNoticeThatCountsTheRest) {
  Receiver receiver;
  for (int station = 0; station < 50; ++station) {
    receiver.station({alarm(unacknowledged)}, nothing, "mixer" + std::to_string(station));
  }
  const auto notice = receiver.after(0s);
  ASSERT_TRUE(notice);
  EXPECT_EQ(notice->lines.size(), 20U);
  EXPECT_EQ(notice->more, 30U);
  EXPECT_FALSE(receiver.after(1s));
}

TEST(AlarmNotices, GatherWhileNobodyAsks) {
  Receiver receiver;
  for (const char* state : {unacknowledged, returned, unacknowledged}) {
    receiver.station({alarm(state)});
  }
  receiver.station(nothing);
  const auto notice = receiver.after(1h);
  ASSERT_TRUE(notice) << "it has come and gone, and somebody must know";
  EXPECT_EQ(notice->lines[0].event, NoticeEvent::Raised);
  EXPECT_EQ(notice->lines[0].times, 2);
  EXPECT_EQ(notice->lines[0].state, "normal");
}

TEST(AlarmNotices, SayNothingOfAShelvedAlarmUntilItIsTakenBack) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged)}, on_shelf);
  EXPECT_FALSE(receiver.after(0s));
  receiver.station({alarm(returned)}, on_shelf);
  receiver.station({alarm(unacknowledged)}, on_shelf);
  EXPECT_FALSE(receiver.after(2h));
  receiver.station({alarm(unacknowledged)});
  const auto notice = receiver.after(1s);
  ASSERT_TRUE(notice);
  EXPECT_EQ(notice->lines[0].event, NoticeEvent::Raised);
}

TEST(AlarmNotices, DoNotRepeatAShelvedAlarmThatWasTold) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged)});
  ASSERT_TRUE(receiver.after(0s));
  receiver.station({alarm(unacknowledged)}, on_shelf);
  EXPECT_FALSE(receiver.after(5h));
  receiver.station(nothing, on_shelf);
  EXPECT_FALSE(receiver.after(1s));
  receiver.station(nothing);
  EXPECT_EQ(receiver.after(1s)->lines[0].event, NoticeEvent::Returned);
}

TEST(AlarmNotices, BearAStateThatIsNone) {
  Receiver receiver;
  receiver.notices.take(nlohmann::json::object());
  receiver.station(nlohmann::json::object(), 7);
  EXPECT_FALSE(receiver.after(0s));
}

TEST(NoticeText, IsJsonForMachinesAndATextForPeople) {
  Receiver receiver;
  receiver.station({alarm(unacknowledged), alarm(returned, "record-failing")});
  const auto dispatch = dispatch_of(*receiver.after(0s), "n-1", "cellar",
                                    WallTime(Duration(std::chrono::seconds(1790000000))));
  const auto json = nlohmann::json::parse(dispatch.json);
  EXPECT_EQ(json.at("id"), "n-1");
  EXPECT_EQ(json.at("site"), "cellar");
  EXPECT_EQ(json.at("at"), "2026-09-21T14:13:20Z");
  EXPECT_EQ(json.at("more"), 0);
  ASSERT_EQ(json.at("alarms").size(), 2U);
  EXPECT_EQ(json.at("alarms").at(0).dump(),
            R"({"action":"An action.","alarm":"change-ended-early","cause":"A cause.",)"
            R"("consequence":"A consequence.","event":"raised","state":"unacknowledged",)"
            R"("station":"mixer","times":1})");
  EXPECT_EQ(dispatch.subject, "[cellar] mixer: change-ended-early: alarm, and 1 more");
  EXPECT_THAT(dispatch.text, HasSubstr("A cause.\n  A consequence.\n  An action.\n"));
  EXPECT_THAT(dispatch.text, Not(HasSubstr("Raised 1 times")));
}

}  // namespace
}  // namespace brinegate::daemon
