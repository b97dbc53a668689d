// SPDX-License-Identifier: Apache-2.0
// Floods are bounded, nothing that must arrive is lost, and the loop is woken once a batch.
#include "daemon/event_queue.h"

#include <atomic>
#include <thread>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::daemon {
namespace {

using ::testing::SizeIs;

TEST(EventQueue, WakesOnceABatch) {
  int woken = 0;
  EventQueue queue([&] { ++woken; });
  queue.put(SampleArrived{});
  queue.put(StopAsked{});
  EXPECT_EQ(woken, 1);
  EXPECT_THAT(queue.take().events, SizeIs(2));
  EXPECT_THAT(queue.take().events, SizeIs(0));
  queue.put(SampleArrived{});
  EXPECT_EQ(woken, 2);
}

TEST(EventQueue, DropsSamplesAndRequestsBeyondTheirLimitsAndCountsThem) {
  EventQueue queue([] {}, {.samples = 3, .requests = 2});
  for (int i = 0; i < 5; ++i) {
    EXPECT_EQ(queue.put(SampleArrived{}), i < 3);
    EXPECT_EQ(queue.put(RequestArrived{}), i < 2);
  }
  const EventQueue::Taken taken = queue.take();
  EXPECT_THAT(taken.events, SizeIs(5));
  EXPECT_EQ(taken.dropped, 5U);
  EXPECT_TRUE(queue.put(SampleArrived{}));
  EXPECT_EQ(queue.take().dropped, 0U);
}

TEST(EventQueue, AFloodFromTheNetworkKeepsNobodyOutWhoStandsAtTheVessel) {
  EventQueue queue([] {}, {.samples = 3, .requests = 2});
  RequestArrived request;
  request.origin = Origin::Network;
  for (int i = 0; i < 100; ++i) {
    queue.put(request);
  }
  for (const Origin origin : {Origin::Token, Origin::Local}) {
    request.origin = origin;
    EXPECT_TRUE(queue.put(request));
  }
}

TEST(EventQueue, WhoOnlyReadsKeepsNobodyOutWhoAsksForSomething) {
  EventQueue queue([] {}, {.requests = 2, .readings = 3});
  RequestArrived request;
  request.origin = Origin::Reader;
  for (int i = 0; i < 100; ++i) {
    EXPECT_EQ(queue.put(request), i < 3);
  }
  for (const Origin origin : {Origin::Network, Origin::Token, Origin::Local}) {
    request.origin = origin;
    EXPECT_TRUE(queue.put(request));
    EXPECT_TRUE(queue.put(request));
  }
}

TEST(EventQueue, NeverDropsWhatTheGateDependsOn) {
  EventQueue queue([] {}, {.samples = 0, .requests = 0});
  for (int i = 0; i < 100; ++i) {
    EXPECT_TRUE(queue.put(AppendFinished{}));
    EXPECT_TRUE(queue.put(OutputReported{}));
    EXPECT_TRUE(queue.put(BrokerChanged{}));
    EXPECT_TRUE(queue.put(StopAsked{}));
  }
  EXPECT_THAT(queue.take().events, SizeIs(400));
}

TEST(EventQueue, TakesFromManyThreadsAndLosesNothing) {
  constexpr std::size_t each = 1000;
  EventQueue queue([] {});
  std::vector<std::thread> threads;
  for (int i = 0; i < 4; ++i) {
    threads.emplace_back([&] {
      for (std::size_t ticket = 0; ticket < each; ++ticket) {
        queue.put(AppendFinished{ticket, true});
      }
    });
  }
  std::size_t taken = 0;
  while (taken < 4 * each) {
    taken += queue.take().events.size();
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  EXPECT_EQ(taken + queue.take().events.size(), 4 * each);
}

}  // namespace
}  // namespace brinegate::daemon
