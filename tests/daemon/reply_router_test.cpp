// SPDX-License-Identifier: Apache-2.0
// Each asker gets one answer, and those who are never answered take no memory for ever.
#include "daemon/reply_router.h"

#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::daemon {
namespace {

using ::testing::ElementsAre;

TEST(ReplyRouter, AnswersTheRightAskerOnce) {
  std::vector<std::string> heard;
  ReplyRouter router;
  const auto first = router.expect([&](const std::string& text) { heard.push_back("1" + text); });
  const auto second = router.expect([&](const std::string& text) { heard.push_back("2" + text); });
  router.answer(second, "yes");
  router.answer(first, "no");
  router.answer(first, "again");
  router.answer(9999, "nobody");
  EXPECT_THAT(heard, ElementsAre("2yes", "1no"));
}

TEST(ReplyRouter, ForgetsWhoHasWaitedLongest) {
  std::vector<std::string> heard;
  ReplyRouter router(2);
  std::vector<ReplyAddress> addresses;
  for (const std::string name : {"a", "b", "c"}) {
    addresses.push_back(
        router.expect([&heard, name](const std::string&) { heard.push_back(name); }));
  }
  for (const ReplyAddress address : addresses) {
    router.answer(address, "");
  }
  EXPECT_THAT(heard, ElementsAre("b", "c"));
}

TEST(ReplyRouter, MayBeUsedFromWithinAnAnswer) {
  ReplyRouter router;
  std::string heard;
  const auto inner = router.expect([&](const std::string& text) { heard = text; });
  router.answer(router.expect([&](const std::string& text) { router.answer(inner, text); }), "in");
  EXPECT_EQ(heard, "in");
}

}  // namespace
}  // namespace brinegate::daemon
