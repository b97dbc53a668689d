// SPDX-License-Identifier: Apache-2.0
// Listening to what is said on a broker (mosquitto), without a word of our own.
#include "drivers/mqtt_listener.h"

#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/drivers/mqtt_bench.h"

namespace brinegate::drivers {
namespace {

TEST(MqttListener, HearsWhatIsKeptAndWhatIsSaidMeanwhile) {
  const Broker broker;
  say(broker, "cellar/old", "20.5", {"-r"});
  std::jthread sender([&](const std::stop_token& heard) {
    for (int i = 0; !heard.stop_requested(); ++i) {
      say(broker, "cellar/bath", std::to_string(i));
    }
  });
  const auto heard = listen(broker.address(), "cellar/#", 4s);
  sender.request_stop();
  sender.join();
  ASSERT_TRUE(heard.ok());
  ASSERT_EQ(heard->topics.size(), 2U);
  EXPECT_EQ(heard->topics[0].topic, "cellar/bath");
  EXPECT_GT(heard->topics[0].messages, 1U);
  EXPECT_FALSE(heard->topics[0].retained);
  EXPECT_EQ(heard->topics[1].payload, "20.5");
  EXPECT_TRUE(heard->topics[1].retained);
  EXPECT_TRUE(heard->all);
}

TEST(MqttListener, SaysNothingItself) {
  const Broker broker;
  Listener others(broker, "#");
  ASSERT_TRUE(listen(broker.address(), "#", 300ms).ok());
  say(broker, "cellar/after", "1");
  EXPECT_EQ(others.next(), "0 cellar/after 1") << "not even a will";
}

TEST(MqttListener, TellsWhyThereIsNoConnection) {
  config::Mqtt nobody;
  nobody.broker = "mqtt://127.0.0.1:1";
  EXPECT_EQ(listen(nobody, "#", 10ms).error(), config::BrokerTrouble::NobodyAnswers);
}

TEST(MqttListener, HearsABrokerOfTheOlderVersion) {
  PeerProcess broker({"/usr/bin/python3", BRINEGATE_SOURCE_DIR "/tests/peers/mqtt_311_broker.py"});
  config::Mqtt mqtt;
  mqtt.broker = "mqtt://127.0.0.1:" + broker.line();
  EXPECT_TRUE(listen(mqtt, "#", 100ms).ok());
}

}  // namespace
}  // namespace brinegate::drivers
