// SPDX-License-Identifier: Apache-2.0
// The whole daemon as a process of its own, without any device: it starts, says that it is ready,
// answers, stops when asked, takes a new configuration (S10), and leaves behind what it should
// (S1, S7, S13).
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <thread>

#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/command_run.h"
#include "daemon/control_client.h"
#include "daemon/store_tables.h"
#include "tests/daemon/service_manager.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using std::chrono::milliseconds;
using ::testing::HasSubstr;

constexpr milliseconds long_enough{10'000};

// Invented. Nothing listens on port 1, so nothing but the daemon itself is there.
constexpr const char* cellar = R"(
site = "cellar"
data = "data"

[link.rack]
address = "modbus-tcp://127.0.0.1:1"

[profile.reef]
salinity = "35 ppt"
tolerance = "1 ppt"
temperature = ["24 C", "26 C"]
circulate = "30 min"
keep = "14 d"

[station.mixer]
profile = "reef"
capacity = "200 L"

[station.mixer.probe.cell_a]
measures = "conductivity"
source = { link = "rack", unit = 1, input = 0, as = "float32", order = "ABCD", in = "mS/cm" }
temperature_from = "bath"
stale_after = "5 s"

[station.mixer.probe.bath]
measures = "temperature"
source = { link = "rack", unit = 1, input = 2, as = "float32", order = "ABCD", in = "C" }
stale_after = "5 s"
)";

// `brinegate run` as a child process with a service manager that listens.
class Daemon {
 public:
  explicit Daemon(const std::filesystem::path& folder, const std::string& configuration = cellar)
      : folder_(folder), manager_((folder / "notify").string()) {
    const std::filesystem::path file = folder / "cellar.toml";
    configure(configuration);
    process_ = fork();
    if (process_ == 0) {
      setenv("NOTIFY_SOCKET", manager_.address().c_str(), 1);
      setenv("WATCHDOG_USEC", "400000", 1);
      const int log = ::open((folder / "log").c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
      dup2(log, STDERR_FILENO);
      std::_Exit(run_daemon(file));
    }
  }
  ~Daemon() {
    if (process_ > 0) {
      end_with(SIGKILL);
    }
  }
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;

  void configure(const std::string& configuration) const {
    std::ofstream(folder_ / "cellar.toml") << configuration;
  }
  // A hang-up, and the word that what it asked for is done.
  bool reloads() const {
    send(SIGHUP);
    std::string said = says();
    while (said == "WATCHDOG=1") {
      said = says();
    }
    return said == "RELOADING=1\nWATCHDOG_USEC=60000000" && becomes_ready();
  }

  // What the service manager hears next; empty when that is nothing.
  std::string says() const { return manager_.hears(long_enough); }
  bool becomes_ready() const {
    std::string said = says();
    while (said == "WATCHDOG=1") {
      said = says();
    }
    return said == "READY=1\nWATCHDOG_USEC=400000";
  }
  Result<std::string> ask(const std::string& request) const {
    return ask_daemon(control_socket_file(data()), request, long_enough);
  }
  // The exit status; -1 when a signal ended it.
  int end_with(int signal) {
    kill(process_, signal);
    return wait_for_end();
  }
  int wait_for_end() {
    int status = 0;
    waitpid(process_, &status, 0);
    process_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  void send(int signal) const { kill(process_, signal); }
  std::filesystem::path data() const { return folder_ / "data"; }
  std::string log() const {
    std::ifstream file(folder_ / "log");
    return {std::istreambuf_iterator<char>(file), {}};
  }

 private:
  std::filesystem::path folder_;
  ServiceManager manager_;
  pid_t process_ = -1;
};

TEST(Shell, IsReadyAnswersAndEndsWithStatusZeroWhenAsked) {
  for (const int signal : {SIGTERM, SIGINT}) {
    SCOPED_TRACE(signal);
    const TemporaryFolder folder;
    Daemon daemon(folder.path());
    ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
    const auto answer = daemon.ask(R"({"do": "status"})");
    ASSERT_TRUE(answer.ok()) << answer.error().message;
    EXPECT_THAT(*answer, HasSubstr("cellar"));
    EXPECT_EQ(daemon.end_with(signal), 0) << daemon.log();
    std::string said = daemon.says();
    while (said == "WATCHDOG=1") {
      said = daemon.says();
    }
    EXPECT_EQ(said, "STOPPING=1");
    EXPECT_FALSE(std::filesystem::exists(control_socket_file(daemon.data())));
    EXPECT_TRUE(query_record(daemon.data(), {}).ok());
  }
}

TEST(Shell, KeepsTheWatchdogQuietWhileItTurns) {
  const TemporaryFolder folder;
  const Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  for (int i = 0; i < 5; ++i) {
    EXPECT_EQ(daemon.says(), "WATCHDOG=1");
  }
}

std::string renamed(const std::string& site) {
  std::string configuration = cellar;
  return configuration.replace(configuration.find(R"("cellar")"), 8, '"' + site + '"');
}

TEST(Shell, S10TheSameConfigurationAgainDoesNothing) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  daemon.configure("# only a remark\n" + std::string(cellar));
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
  EXPECT_EQ(query_record(daemon.data(), {}).value().size(), 1U) << "started more than once";
  EXPECT_THAT(daemon.log(), HasSubstr("has not changed"));
}

// A password that is changed because somebody knows it must not go on being used.
TEST(Shell, S10AChangedPasswordFileIsPutInPlaceAndAMissingOneRefused) {
  const TemporaryFolder folder;
  const std::filesystem::path password = folder.path() / "mqtt.password";
  const auto write = [&password](const char* text) {
    std::ofstream(password) << text;
    std::filesystem::permissions(
        password, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write);
  };
  write("first");
  Daemon daemon(folder.path(), std::string(cellar) + R"(
[mqtt]
broker = "mqtt://127.0.0.1:1"
username = "brinegate"
password_file = "mqtt.password"
)");
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  EXPECT_THAT(daemon.log(), HasSubstr("has not changed"));
  write("second");
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  EXPECT_THAT(daemon.log(), HasSubstr("is put in place"));
  std::filesystem::remove(password);
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  EXPECT_THAT(daemon.log(), HasSubstr("mqtt.password cannot be read"));
  EXPECT_TRUE(daemon.ask(R"({"do": "status"})").ok());
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
  EXPECT_EQ(query_record(daemon.data(), {}).value().size(), 2U) << "each start is on record";
}

TEST(Shell, S10RefusesABadConfigurationWithEveryErrorAndKeepsTheOldOne) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  daemon.configure("site = 7\nnonsense = true\n");
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  const auto answer = daemon.ask(R"({"do": "status"})");
  ASSERT_TRUE(answer.ok()) << answer.error().message;
  EXPECT_THAT(*answer, HasSubstr("cellar"));
  EXPECT_THAT(daemon.log(), HasSubstr("cellar.toml:1:"));
  EXPECT_THAT(daemon.log(), HasSubstr("cellar.toml:2:"));
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
}

TEST(Shell, S10PutsAGoodConfigurationInPlaceAgainAndAgain) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  for (const std::string site : {"loft", "shed", "hall"}) {
    daemon.configure(renamed(site));
    ASSERT_TRUE(daemon.reloads()) << daemon.log();
    const auto answer = daemon.ask(R"({"do": "status"})");
    ASSERT_TRUE(answer.ok()) << answer.error().message;
    EXPECT_THAT(*answer, HasSubstr(site));
  }
  EXPECT_EQ(daemon.end_with(SIGTERM), 0) << daemon.log();
  EXPECT_EQ(query_record(daemon.data(), {}).value().size(), 4U) << "each start is on record";
}

TEST(Shell, S10GoesBackToTheOldConfigurationWhereTheNewOneCannotBePutInPlace) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  std::ofstream(folder.path() / "a-file") << "no folder";
  std::string elsewhere = cellar;
  elsewhere.replace(elsewhere.find(R"("data")"), 6, R"("a-file")");
  daemon.configure(elsewhere);
  ASSERT_TRUE(daemon.reloads()) << daemon.log();
  EXPECT_TRUE(daemon.ask(R"({"do": "status"})").ok());
  EXPECT_THAT(daemon.log(), HasSubstr("back to the old one"));
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
}

// However they fall together with what a hang-up does.
TEST(Shell, S10SignalsOnTopOfEachOtherLoseNothing) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  for (int i = 0; i < 20; ++i) {
    daemon.configure(renamed("site-" + std::to_string(i)));
    daemon.send(SIGHUP);
    std::this_thread::sleep_for(milliseconds(i));
  }
  const auto latest_in_force = [&daemon] {
    const auto answer = daemon.ask(R"({"do": "status"})");
    return answer.ok() && answer->find("site-19") != std::string::npos;
  };
  while (!latest_in_force()) {
    ASSERT_NE(daemon.says(), "") << daemon.log();  // the watchdog keeps time
  }
  EXPECT_EQ(daemon.end_with(SIGTERM), 0) << daemon.log();
}

TEST(Shell, StartsAgainAfterItWasKilled) {
  const TemporaryFolder folder;
  {
    Daemon daemon(folder.path());
    ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
    daemon.end_with(SIGKILL);
  }
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  EXPECT_TRUE(daemon.ask(R"({"do": "status"})").ok());
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
}

TEST(Shell, SecondDaemonOnTheSameFolderEndsAndTheFirstGoesOn) {
  const TemporaryFolder folder;
  Daemon first(folder.path());
  ASSERT_TRUE(first.becomes_ready()) << first.log();
  {
    const TemporaryFolder elsewhere;
    std::string configuration = cellar;
    configuration.replace(configuration.find(R"("data")"), 6,
                          "\"" + (folder.path() / "data").string() + "\"");
    Daemon second(elsewhere.path(), configuration);
    EXPECT_EQ(second.wait_for_end(), 1);
    EXPECT_THAT(second.log(), HasSubstr("in use by process"));
  }
  EXPECT_TRUE(first.ask(R"({"do": "status"})").ok());
}

TEST(Shell, RefusesAnInvalidConfigurationBeforeAnythingIsTouched) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path(), "site = 7\nnonsense = true\n");
  EXPECT_EQ(daemon.wait_for_end(), 2);
  EXPECT_THAT(daemon.log(), HasSubstr("cellar.toml:1:"));
  EXPECT_THAT(daemon.log(), HasSubstr("cellar.toml:2:"));
  EXPECT_FALSE(std::filesystem::exists(daemon.data()));
}

TEST(Shell, HostileLinesAreAnsweredAndChangeNothing) {
  const TemporaryFolder folder;
  Daemon daemon(folder.path());
  ASSERT_TRUE(daemon.becomes_ready()) << daemon.log();
  for (const std::string& line :
       {std::string("{"), std::string(16000, '['), std::string("\0\xff", 2), std::string(),
        std::string("{\"do\": 1e999}")}) {
    const auto answer = daemon.ask(line);
    ASSERT_TRUE(answer.ok()) << answer.error().message;
    EXPECT_THAT(*answer, HasSubstr("\"ok\""));
  }
  EXPECT_EQ(daemon.end_with(SIGTERM), 0);
}

}  // namespace
}  // namespace brinegate::daemon
