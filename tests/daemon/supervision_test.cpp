// SPDX-License-Identifier: Apache-2.0
// What the service manager hears, with a real datagram socket in its place (protocol:
// sd_notify(3)).
#include "daemon/supervision.h"

#include <chrono>
#include <cstdlib>
#include <string>
#include <utility>

#include <gtest/gtest.h>
#include <unistd.h>

#include "tests/daemon/service_manager.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using std::chrono::milliseconds;

TEST(Supervision, SaysReadyAndStoppingOnAPathOrAnAbstractAddress) {
  const TemporaryFolder folder;
  for (const std::string& address :
       {(folder.path() / "notify").string(), "@" + folder.path().filename().string()}) {
    SCOPED_TRACE(address);
    const ServiceManager manager(address);
    const Supervision supervision(address, std::nullopt);
    supervision.ready();
    supervision.stopping();
    EXPECT_EQ(manager.hears(), "READY=1");
    EXPECT_EQ(manager.hears(), "STOPPING=1");
  }
}

TEST(Supervision, TheWatchdogWaitsLongerWhileTheConfigurationIsReplaced) {
  const TemporaryFolder folder;
  const std::string address = (folder.path() / "notify").string();
  const ServiceManager manager(address);
  const Supervision supervision(address, milliseconds(5000));
  supervision.reloading();
  EXPECT_EQ(manager.hears(), "RELOADING=1\nWATCHDOG_USEC=60000000");
  supervision.ready();
  EXPECT_EQ(manager.hears(), "READY=1\nWATCHDOG_USEC=5000000");
}

TEST(Supervision, PassesHealthyTurnsOnFourTimesAWatchdogPeriod) {
  const TemporaryFolder folder;
  const ServiceManager manager((folder.path() / "notify").string());
  Supervision supervision((folder.path() / "notify").string(), milliseconds(4000));
  int heard = 0;
  for (int turn = 0; turn < 80; ++turn) {  // 8 s of turns
    supervision.alive(MonoTime(milliseconds(100 * turn)));
    heard += manager.hears() == "WATCHDOG=1" ? 1 : 0;
  }
  EXPECT_EQ(heard, 8);
}

TEST(Supervision, IsTakenFromTheEnvironmentAndOutOfIt) {
  const TemporaryFolder folder;
  const std::string address = (folder.path() / "notify").string();
  const ServiceManager manager(address);
  setenv("NOTIFY_SOCKET", address.c_str(), 1);
  setenv("WATCHDOG_USEC", "1000000", 1);
  setenv("WATCHDOG_PID", std::to_string(getpid()).c_str(), 1);
  Supervision supervision = Supervision::from_environment();
  supervision.alive(MonoTime());
  EXPECT_EQ(manager.hears(), "WATCHDOG=1");
  EXPECT_EQ(std::getenv("NOTIFY_SOCKET"), nullptr);
  EXPECT_EQ(std::getenv("WATCHDOG_USEC"), nullptr);
}

TEST(Supervision, IsSilentAboutAWatchdogThatIsForAnotherProcessOrNoNumber) {
  const TemporaryFolder folder;
  const std::string address = (folder.path() / "notify").string();
  const ServiceManager manager(address);
  for (const auto& [microseconds, process] :
       {std::pair("1000000", "1"), std::pair("soon", ""), std::pair("", "")}) {
    setenv("NOTIFY_SOCKET", address.c_str(), 1);
    setenv("WATCHDOG_USEC", microseconds, 1);
    setenv("WATCHDOG_PID", process, 1);
    Supervision supervision = Supervision::from_environment();
    supervision.alive(MonoTime());
    EXPECT_EQ(manager.hears(), "");
  }
}

TEST(Supervision, WithoutAServiceManagerNothingHappens) {
  Supervision supervision("", std::nullopt);
  supervision.ready();
  supervision.alive(MonoTime());
  supervision.stopping();
  const Supervision gone("/nonexistent/notify", std::nullopt);
  gone.ready();
}

}  // namespace
}  // namespace brinegate::daemon
