// SPDX-License-Identifier: Apache-2.0
// Child processes that behave, crash, babble and refuse to die.
#include "drivers/process_source.h"

#include <cerrno>
#include <filesystem>
#include <fstream>
#include <thread>

#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include "tests/drivers/peer_process.h"
#include "tests/drivers/recording_sink.h"
#include "tests/temporary_folder.h"

namespace brinegate::drivers {
namespace {

using namespace std::chrono_literals;

constexpr ProbeKey cell{0, 0};
constexpr ProcessTiming quick{50ms, 200ms, 10s, 300ms};

config::ProcessSource shell(const std::string& script) {
  return {{"/bin/sh", "-c", script}};
}

TEST(ProcessSource, DeliversOneReadingALine) {
  RecordingSink sink;
  ProcessSource source(
      cell,
      shell(R"(echo '{"value": 53.1, "time": "2030-12-20T12:26:40Z", "simulated": true}'; cat)"),
      false, sink, quick);
  source.open();
  ASSERT_TRUE(sink.wait_for_value(cell, 53.1));
  const Sample sample = sink.samples(cell).front();
  EXPECT_TRUE(sample.simulated);
  EXPECT_EQ(sample.source_time, WallTime{1924000000s});
  EXPECT_FALSE(sample.retained);
}

TEST(ProcessSource, ACrashIsABadReadingAndARestart) {
  RecordingSink sink;
  ProcessSource source(cell, shell(R"(echo '{"value": 1}'; kill -SEGV $$)"), false, sink, quick);
  source.open();
  ASSERT_TRUE(sink.wait_for_fault(cell, SampleFault::ProcessEnded));
  sink.forget();
  EXPECT_TRUE(sink.wait_for_value(cell, 1.0));
}

TEST(ProcessSource, AProgramThatIsNotThereIsABadReading) {
  RecordingSink sink;
  ProcessSource source(cell, {{"/nonexistent/probe"}}, false, sink, quick);
  source.open();
  EXPECT_TRUE(sink.wait_for_fault(cell, SampleFault::ProcessEnded));
}

TEST(ProcessSource, NonsenseAndEndlessLinesAreUnparsableAndTheNextLineCounts) {
  RecordingSink sink;
  ProcessSource source(cell, shell(R"(echo oops; head -c 200000 /dev/zero | tr '\0' '7'; echo;
                               echo '{"value": 2}'; cat)"),
                       false, sink, quick);
  source.open();
  ASSERT_TRUE(sink.wait_for_value(cell, 2.0));
  const auto samples = sink.samples(cell);
  ASSERT_EQ(samples.size(), 3U);
  EXPECT_EQ(samples[0].fault, SampleFault::Unparsable);
  EXPECT_EQ(samples[1].fault, SampleFault::Unparsable);
}

TEST(ProcessSource, ClosingEndsAChildThatIgnoresTheRequestAndWhatItStarted) {
  const TemporaryFolder folder;
  const std::string ids = folder.file("ids");
  RecordingSink sink;
  ProcessSource source(cell,
                       shell("trap '' TERM; sleep 60 & echo $$ $! > " + ids +
                             R"(; echo '{"value": 3}'; while :; do sleep 1; done)"),
                       false, sink, quick);
  source.open();
  ASSERT_TRUE(sink.wait_for_value(cell, 3.0));
  const auto begin = std::chrono::steady_clock::now();
  source.close();
  EXPECT_LT(std::chrono::steady_clock::now() - begin, 5s);
  pid_t child = 0;
  pid_t grandchild = 0;
  std::ifstream(ids) >> child >> grandchild;
  ASSERT_GT(child, 0);
  EXPECT_EQ(::kill(child, 0), -1) << "a zombie or a survivor";
  EXPECT_EQ(errno, ESRCH);
  const auto gone = [grandchild] {
    std::ifstream status("/proc/" + std::to_string(grandchild) + "/stat");
    std::string id;
    std::string name;
    std::string state;
    return !(status >> id >> name >> state) || state == "Z";  // reaped by whoever adopted it
  };
  for (int tries = 0; tries < 100 && !gone(); ++tries) {
    std::this_thread::sleep_for(20ms);
  }
  EXPECT_TRUE(gone());
}

TEST(ProcessSource, TheChildGetsNoneOfOurDescriptorsAndUnblockedSignals) {
  const int leaked = ::dup(STDERR_FILENO);  // not close-on-exec
  ASSERT_GE(leaked, 3);
  RecordingSink sink;
  // The value is how many descriptors from 3 up it finds open, once that by which it looks is
  // closed, and a hundred more where signals are blocked.
  constexpr const char* look = R"py(
import os, re, sys
folder = "/proc/self/fd/"
found = [d for d in os.listdir(folder) if int(d) > 2 and os.path.exists(folder + d)]
blocked = int(re.search(r"SigBlk:\s*(\w+)", open("/proc/self/status").read())[1], 16)
print('{"value": %d}' % (len(found) + (100 if blocked else 0)), flush=True)
sys.stdin.read()
)py";
  ProcessSource source(cell, {{"/usr/bin/python3", "-c", look}}, false, sink, quick);
  source.open();
  EXPECT_TRUE(sink.wait_for_value(cell, 0.0));
  ::close(leaked);
}

}  // namespace
}  // namespace brinegate::drivers
