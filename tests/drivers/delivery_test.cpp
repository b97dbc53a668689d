// SPDX-License-Identifier: Apache-2.0
// What is sent to tell of alarms, byte by byte, and how often it is tried.
#include "drivers/delivery.h"

#include <future>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "drivers/delivery_thread.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;
using ::testing::ElementsAre;
using ::testing::EndsWith;
using ::testing::HasSubstr;

// The example of the Standard Webhooks specification.
TEST(Delivery, SignsAsTheStandardDoes) {
  const auto key = webhook_key("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw");
  ASSERT_TRUE(key);
  EXPECT_EQ(webhook_signature(*key, "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330",
                              R"({"test": 2432232314})"),
            "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=");
}

TEST(Delivery, TakesNoShortKey) {
  EXPECT_FALSE(webhook_key("fifteen letters"));
  EXPECT_TRUE(webhook_key("sixteen letters!"));
  EXPECT_FALSE(webhook_key("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaS?"));
  EXPECT_FALSE(webhook_key("whsec_AAAA"));
}

TEST(Delivery, WritesMailThatEveryServerTakes) {
  config::Mail mail;
  mail.from = "brinegate@cellar.example";
  mail.to = {"a@cellar.example", "b@cellar.example"};
  const std::string message =
      mail_message(mail, {"n-1", "[cellar] mixer", std::string(60, 'x') + "\n", ""},
                   WallTime(Duration(std::chrono::seconds(1790000000))));
  EXPECT_THAT(message, HasSubstr("Date: Mon, 21 Sep 2026 14:13:20 +0000\r\n"));
  EXPECT_THAT(message, HasSubstr("To: a@cellar.example,\r\n b@cellar.example\r\n"));
  EXPECT_THAT(message, HasSubstr("Message-ID: <n-1@cellar.example>\r\n"));
  EXPECT_THAT(message, EndsWith("\r\n\r\neHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4eHh4"
                                "eHh4eHh4eHh4eHh4eHh4\r\neHh4Cg==\r\n"));
}

constexpr DeliveryPatience haste{1ms, 4ms, 10s};

// Answers as told, one after the other, and keeps what came of each attempt.
struct Peer {
  std::vector<DeliveryEnd> answers;
  std::vector<std::string> seen;
  std::vector<bool> again;
  std::promise<void> ended;

  Carry carry() {
    return [this](const Dispatch& dispatch, WallTime, const std::atomic<bool>&) {
      seen.push_back(dispatch.id);
      return DeliveryOutcome{answers.at(seen.size() - 1), "as told"};
    };
  }
  DeliveryThread::Tell tell() {
    return [this](const DeliveryReport& report) {
      again.push_back(report.again_in.has_value());
      if (!again.back()) {
        ended.set_value();
      }
    };
  }
};

TEST(DeliveryThread, TriesAgainWithTheSameIdUntilItIsTaken) {
  Peer peer{{DeliveryEnd::TryLater, DeliveryEnd::TryLater, DeliveryEnd::Delivered}, {}, {}, {}};
  {
    DeliveryThread thread(peer.carry(), haste, peer.tell());
    thread.send({"n-1", "", "", ""});
    EXPECT_TRUE(thread.counts().waiting);
    ASSERT_EQ(peer.ended.get_future().wait_for(10s), std::future_status::ready);
    EXPECT_EQ(thread.counts().delivered, 1U);
    EXPECT_EQ(thread.counts().failed, 2U);
    EXPECT_EQ(thread.counts().given_up, 0U);
  }
  EXPECT_THAT(peer.seen, ElementsAre("n-1", "n-1", "n-1"));
  EXPECT_THAT(peer.again, ElementsAre(true, true, false));
}

TEST(DeliveryThread, GivesUpWhatIsRefused) {
  Peer peer{{DeliveryEnd::Refused}, {}, {}, {}};
  {
    DeliveryThread thread(peer.carry(), haste, peer.tell());
    thread.send({"n-1", "", "", ""});
    ASSERT_EQ(peer.ended.get_future().wait_for(10s), std::future_status::ready);
    EXPECT_EQ(thread.counts().failed, 1U);
    EXPECT_EQ(thread.counts().given_up, 1U);
  }
  EXPECT_THAT(peer.seen, ElementsAre("n-1"));
}

TEST(DeliveryThread, EndsAtOnceThoughItWaits) {
  Peer peer{{DeliveryEnd::TryLater}, {}, {}, {}};
  const auto began = std::chrono::steady_clock::now();
  {
    DeliveryThread thread(peer.carry(), {1h, 1h, 24h}, peer.tell());
    thread.send({"n-1", "", "", ""});
  }
  EXPECT_LT(std::chrono::steady_clock::now() - began, 10s);
}

}  // namespace
}  // namespace brinegate::drivers
