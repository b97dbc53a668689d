// SPDX-License-Identifier: Apache-2.0
// The log does not flood, and nobody outside writes lines of their own into it.
#include "daemon/log_output.h"

#include <string>
#include <vector>

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

using ::testing::ElementsAre;
using ::testing::SizeIs;

MonoTime at(int second) {
  return MonoTime(std::chrono::seconds(second));
}

class LogOutputTest : public ::testing::Test {
 protected:
  std::vector<std::string> lines_;
  LogOutput log_{[this](std::string_view line) { lines_.emplace_back(line); }, true};
};

// An exception here would end the daemon for the disk that it is telling of.
TEST(LogOutputToStderr, ALineThatADiskDoesNotTakeIsLostAndNothingElse) {
  const int before = dup(STDERR_FILENO);
  const int full = open("/dev/full", O_WRONLY | O_CLOEXEC);
  ASSERT_GE(full, 0);
  dup2(full, STDERR_FILENO);
  EXPECT_NO_THROW(LogOutput::to_stderr().write(LogLevel::Error, "not written", at(0)));
  dup2(before, STDERR_FILENO);
  close(full);
  close(before);
}

TEST_F(LogOutputTest, MarksEachLineWithItsSyslogPriority) {
  log_.write(LogLevel::Error, "a", at(0));
  log_.write(LogLevel::Warning, "b", at(0));
  log_.write(LogLevel::Info, "c", at(0));
  EXPECT_THAT(lines_, ElementsAre("<3>a", "<4>b", "<6>c"));
}

TEST_F(LogOutputTest, CountsTheSameLineWithinAMinuteInsteadOfPrintingIt) {
  for (int second = 0; second < 60; ++second) {
    log_.write(LogLevel::Warning, "no answer", at(second));
  }
  log_.write(LogLevel::Info, "another", at(59));
  EXPECT_THAT(lines_, ElementsAre("<4>no answer", "<6>another"));
  log_.tell_repeats(at(60));
  EXPECT_THAT(lines_, ElementsAre("<4>no answer", "<6>another", "<4>no answer (59 more times)"));
}

// Of a broker, say, that comes and goes twice a minute.
TEST_F(LogOutputTest, AWeekOfOneFaultThatComesAndGoesFillsNoDisk) {
  constexpr int a_week = 7 * 24 * 3600;
  for (int second = 0; second < a_week; second += 30) {
    log_.write(LogLevel::Warning, "broker: connection lost", at(second));
    log_.write(LogLevel::Warning, "broker: connected", at(second + 5));
  }
  EXPECT_THAT(lines_, SizeIs(::testing::Le(2 * (7 * 24 + 10))));
  EXPECT_THAT(lines_.back(), ::testing::HasSubstr("more times"));
  const std::size_t before = lines_.size();
  log_.tell_repeats(at(a_week + 3 * 3600));
  log_.tell_repeats(at(a_week + 6 * 3600));
  log_.write(LogLevel::Warning, "broker: connection lost", at(a_week + 7 * 3600));
  EXPECT_THAT(lines_, SizeIs(before + 3)) << "the last counts, and then it is news again";
}

TEST_F(LogOutputTest, IsTheSameLineWhateverItsDetail) {
  log_.write(LogLevel::Warning, "turns stood still", at(0), " for 0.4 s");
  log_.write(LogLevel::Warning, "turns stood still", at(1), " for 0.5 s");
  log_.tell_repeats(at(60));
  EXPECT_THAT(lines_,
              ElementsAre("<4>turns stood still for 0.4 s", "<4>turns stood still (1 more times)"));
}

TEST_F(LogOutputTest, PrintsALineAgainAfterAQuietMinute) {
  log_.write(LogLevel::Info, "hello", at(0));
  log_.tell_repeats(at(60));
  log_.write(LogLevel::Info, "hello", at(61));
  EXPECT_THAT(lines_, ElementsAre("<6>hello", "<6>hello"));
}

TEST_F(LogOutputTest, PrintsEveryLineWhenThereAreTooManyToRemember) {
  for (int i = 0; i < 1000; ++i) {
    log_.write(LogLevel::Info, std::to_string(i), at(0));
  }
  EXPECT_THAT(lines_, SizeIs(1000));
}

TEST_F(LogOutputTest, KeepsControlCharactersFromStartingALineOrSteeringATerminal) {
  log_.write(LogLevel::Info, "lot \"x\n<3>forged\x1b[2J\"", at(0));
  EXPECT_THAT(lines_, ElementsAre("<6>lot \"x <3>forged [2J\""));
}

}  // namespace
}  // namespace brinegate::daemon
