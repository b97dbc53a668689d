// SPDX-License-Identifier: Apache-2.0
// What the log says in a week in which something stays broken, in virtual time: a line for each
// distinct fault, and its end as loudly.
#include <chrono>
#include <functional>
#include <string>
#include <vector>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/engine/engine.h"
#include "daemon/log_output.h"
#include "tests/safety/bench_engine.h"

namespace brinegate::daemon {
namespace {

using namespace std::chrono_literals;
using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Le;
using ::testing::SizeIs;
using ::testing::StartsWith;

// A watched reservoir without a pump or a batch, whose probes speak every two minutes.
class WatchedSite {
 public:
  WatchedSite() : engine_(std::move(Engine::create(site_, {}, now_)).value()) {}

  // Of each probe: a fault, or none.
  std::function<SampleFault(std::size_t probe)> fault = [](std::size_t) {
    return SampleFault::None;
  };
  bool broker = true;

  void pass(Duration time) {
    for (Duration passed{0}; passed < time; passed += turn) {
      now_.mono += turn;
      now_.wall += turn;
      std::vector<Event> events = std::exchange(answers_, {});
      for (std::size_t probe = 0; probe < 2; ++probe) {
        Sample sample;
        sample.value = probe == 0 ? 53.0 : 25.0;
        sample.fault = fault(probe);
        sample.arrived = now_.mono;
        events.push_back(SampleArrived{{0, probe}, sample});
      }
      if (broker != broker_told_)
        events.push_back(BrokerChanged{broker});
      broker_told_ = broker;
      for (const Effect& effect : engine_->turn(events, now_)) {
        if (const auto* append = std::get_if<Append>(&effect))
          answers_.push_back(AppendFinished{append->ticket, true});
        if (const auto* readings = std::get_if<AppendReadings>(&effect))
          answers_.push_back(AppendFinished{readings->ticket, true});
        if (const auto* said = std::get_if<Log>(&effect))
          log_.write(said->level, said->text, now_.mono, said->detail);
      }
      log_.tell_repeats(now_.mono);
    }
  }
  std::vector<std::string> said() { return std::exchange(lines_, {}); }

 private:
  static config::Site site() {
    config::Site site = bench_site();
    StationSpec& spec = site.stations[0].spec;
    spec.probes.resize(2);
    spec.pump.reset();
    site.stations[0].pump.reset();
    site.stations[0].sources.resize(2);
    return site;
  }
  static constexpr Duration turn = 2min;  // coarse: a week in seconds

  std::vector<Event> answers_;  // of the disk
  std::vector<std::string> lines_;
  LogOutput log_{[this](std::string_view line) { lines_.emplace_back(line); }, true};
  const config::Site site_ = site();
  Instant now_ = BenchEngine::start();
  std::unique_ptr<Engine> engine_;
  bool broker_told_ = true;
};

TEST(WeekOfFaults, ADeadProbeIsToldOnceAndItsReturnAsLoudly) {
  WatchedSite site;
  site.pass(10min);
  site.said();
  site.fault = [](std::size_t probe) {
    return probe == 0 ? SampleFault::Timeout : SampleFault::None;
  };
  site.pass(7 * 24h);
  const auto dead = site.said();
  EXPECT_THAT(dead, Contains(AllOf(StartsWith("<4>"), HasSubstr("no good reading of cell"))));
  EXPECT_THAT(dead, SizeIs(Le(3U)));
  site.fault = [](std::size_t) { return SampleFault::None; };
  site.pass(10min);
  EXPECT_THAT(site.said(), Contains(AllOf(StartsWith("<4>"),
                                          HasSubstr("cell_a is read again after 7 d, 5040 bad"))));
}

TEST(WeekOfFaults, AProbeThatComesAndGoesAllTheTimeFillsNoDisk) {
  WatchedSite site;
  int asked = 0;
  site.fault = [&asked](std::size_t probe) {  // four minutes dead, four minutes alive
    return probe == 0 && asked++ / 2 % 2 == 0 ? SampleFault::Timeout : SampleFault::None;
  };
  site.pass(7 * 24h);
  const auto said = site.said();
  EXPECT_THAT(said, Contains(HasSubstr("more times")));
  EXPECT_THAT(said, SizeIs(Le(2U * (7 * 24 + 10))));
}

TEST(WeekOfFaults, ADeadBrokerAddsNothingToWhatWasSaidWhenItWent) {
  WatchedSite site;
  site.pass(10min);
  site.said();
  site.broker = false;
  site.pass(24h);
  EXPECT_THAT(site.said(), IsEmpty());  // the shell and the session tell it, once
}

TEST(WeekOfFaults, ADayOnWhichAllIsWellIsSilent) {
  WatchedSite site;
  site.pass(24h);
  EXPECT_THAT(site.said(), IsEmpty());
}

}  // namespace
}  // namespace brinegate::daemon
