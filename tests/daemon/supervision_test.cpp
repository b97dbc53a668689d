// SPDX-License-Identifier: Apache-2.0
// What the service manager hears, with a real datagram socket in its place (protocol:
// sd_notify(3)).
#include "daemon/supervision.h"

#include <array>
#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <string>

#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "tests/daemon/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using std::chrono::milliseconds;

class ServiceManager {
 public:
  explicit ServiceManager(std::string address) : address_(std::move(address)) {
    sockaddr_un name{};
    name.sun_family = AF_UNIX;
    std::memcpy(name.sun_path, address_.data(), address_.size());
    if (address_.front() == '@') {
      name.sun_path[0] = '\0';
    }
    const auto size = static_cast<socklen_t>(offsetof(sockaddr_un, sun_path) + address_.size());
    EXPECT_EQ(bind(descriptor_, reinterpret_cast<const sockaddr*>(&name), size), 0);
  }
  ~ServiceManager() { ::close(descriptor_); }
  ServiceManager(const ServiceManager&) = delete;
  ServiceManager& operator=(const ServiceManager&) = delete;

  // The next message; empty when there is none.
  std::string heard() {
    std::array<char, 256> text{};
    const ssize_t size = recv(descriptor_, text.data(), text.size(), MSG_DONTWAIT);
    return size > 0 ? std::string(text.data(), static_cast<std::size_t>(size)) : "";
  }

 private:
  std::string address_;
  int descriptor_ = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
};

TEST(Supervision, SaysReadyAndStoppingOnAPathOrAnAbstractAddress) {
  const TemporaryFolder folder;
  for (const std::string& address :
       {(folder.path() / "notify").string(), "@" + folder.path().filename().string()}) {
    SCOPED_TRACE(address);
    ServiceManager manager(address);
    const Supervision supervision(address, std::nullopt);
    supervision.ready();
    supervision.stopping();
    EXPECT_EQ(manager.heard(), "READY=1");
    EXPECT_EQ(manager.heard(), "STOPPING=1");
  }
}

TEST(Supervision, PassesHealthyTurnsOnFourTimesAWatchdogPeriod) {
  const TemporaryFolder folder;
  ServiceManager manager((folder.path() / "notify").string());
  Supervision supervision((folder.path() / "notify").string(), milliseconds(4000));
  int heard = 0;
  for (int turn = 0; turn < 80; ++turn) {  // 8 s of turns
    supervision.alive(MonoTime(milliseconds(100 * turn)));
    heard += manager.heard() == "WATCHDOG=1" ? 1 : 0;
  }
  EXPECT_EQ(heard, 8);
}

TEST(Supervision, IsTakenFromTheEnvironmentAndOutOfIt) {
  const TemporaryFolder folder;
  const std::string address = (folder.path() / "notify").string();
  ServiceManager manager(address);
  setenv("NOTIFY_SOCKET", address.c_str(), 1);
  setenv("WATCHDOG_USEC", "1000000", 1);
  setenv("WATCHDOG_PID", std::to_string(getpid()).c_str(), 1);
  Supervision supervision = Supervision::from_environment();
  supervision.alive(MonoTime());
  EXPECT_EQ(manager.heard(), "WATCHDOG=1");
  EXPECT_EQ(std::getenv("NOTIFY_SOCKET"), nullptr);
  EXPECT_EQ(std::getenv("WATCHDOG_USEC"), nullptr);
}

TEST(Supervision, IsSilentAboutAWatchdogThatIsForAnotherProcessOrNoNumber) {
  const TemporaryFolder folder;
  const std::string address = (folder.path() / "notify").string();
  ServiceManager manager(address);
  for (const auto& [microseconds, process] :
       {std::pair("1000000", "1"), std::pair("soon", ""), std::pair("", "")}) {
    setenv("NOTIFY_SOCKET", address.c_str(), 1);
    setenv("WATCHDOG_USEC", microseconds, 1);
    setenv("WATCHDOG_PID", process, 1);
    Supervision supervision = Supervision::from_environment();
    supervision.alive(MonoTime());
    EXPECT_EQ(manager.heard(), "");
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
