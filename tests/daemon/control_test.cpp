// SPDX-License-Identifier: Apache-2.0
// The control socket and its client with real sockets: what a daemon's user sends rightly, wrongly,
// too much, too slowly or not at all (S13).
#include <atomic>
#include <chrono>
#include <deque>
#include <filesystem>
#include <fstream>
#include <string>
#include <thread>
#include <vector>

#include <boost/asio/io_context.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include "daemon/control_client.h"
#include "daemon/control_socket.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using boost::asio::local::stream_protocol;
using std::chrono::milliseconds;
using ::testing::EndsWith;
using ::testing::HasSubstr;

constexpr milliseconds long_enough{10'000};

// A control socket on a thread of its own, which answers each line by repeating it in brackets.
class ControlServer {
 public:
  explicit ControlServer(ControlLimits limits = {}, ControlSocket::Requested requested = repeat()) {
    auto listening = ControlSocket::listen(context_, file(), std::move(requested), limits);
    EXPECT_TRUE(listening.ok()) << listening.error().message;
    socket_ = std::move(listening).value();
    thread_ = std::thread([this] { context_.run(); });
  }
  ~ControlServer() {
    boost::asio::post(context_, [this] { socket_.reset(); });
    thread_.join();
  }
  [[nodiscard]] std::filesystem::path file() const { return control_socket_file(folder_.path()); }

 private:
  static ControlSocket::Requested repeat() {
    return [](const std::string& line, const ControlSocket::Answer& answer) {
      answer("[" + line + "]");
    };
  }

  TemporaryFolder folder_;
  boost::asio::io_context context_;
  std::unique_ptr<ControlSocket> socket_;
  std::thread thread_;
};

// A client that does as it likes.
class RawClient {
 public:
  explicit RawClient(const std::filesystem::path& file) : socket_(context_) {
    socket_.connect(stream_protocol::endpoint(file.string()));
  }
  void send(const std::string& bytes) { boost::asio::write(socket_, boost::asio::buffer(bytes)); }
  void end_sending() { socket_.shutdown(stream_protocol::socket::shutdown_send); }
  std::string read_line() {
    boost::system::error_code failure;
    const std::size_t size =
        boost::asio::read_until(socket_, boost::asio::dynamic_buffer(received_), '\n', failure);
    if (failure) {
      return "closed";
    }
    std::string line = received_.substr(0, size - 1);
    received_.erase(0, size);
    return line;
  }

 private:
  boost::asio::io_context context_;
  stream_protocol::socket socket_;
  std::string received_;
};

TEST(ControlSocket, AnswersItsOwnClient) {
  const ControlServer server;
  const auto answer = ask_daemon(server.file(), R"({"do": "status"})", long_enough);
  ASSERT_TRUE(answer.ok()) << answer.error().message;
  EXPECT_EQ(*answer, R"([{"do": "status"}])");
}

TEST(ControlSocket, IsForItsOwnUserAlone) {
  const ControlServer server;
  struct stat status {};
  ASSERT_EQ(stat(server.file().c_str(), &status), 0);
  EXPECT_EQ(status.st_mode & 0777U, 0600U);
}

TEST(ControlSocket, AnswersSeveralLinesOfOneConnectionInOrder) {
  const ControlServer server;
  RawClient client(server.file());
  client.send("one\ntw");
  EXPECT_EQ(client.read_line(), "[one]");
  client.send("o\n\nthree\n");
  EXPECT_EQ(client.read_line(), "[two]");
  EXPECT_EQ(client.read_line(), "[]");
  EXPECT_EQ(client.read_line(), "[three]");
}

TEST(ControlSocket, RefusesALineThatIsTooLongAndGoesOnServingOthers) {
  const ControlServer server({.line_bytes = 100});
  RawClient client(server.file());
  client.send(std::string(100, 'a') + "\n");
  EXPECT_EQ(client.read_line(), "[" + std::string(100, 'a') + "]");
  client.send(std::string(101, 'a') + "\n");
  EXPECT_THAT(client.read_line(), HasSubstr("longer than 100 bytes"));
  EXPECT_EQ(client.read_line(), "closed");
  EXPECT_EQ(*ask_daemon(server.file(), "{}", long_enough), "[{}]");
}

TEST(ControlSocket, ItsClientHearsWhyAHugeRequestWasRefused) {
  const ControlServer server;
  const auto answer = ask_daemon(server.file(), std::string(10'000'000, '['), long_enough);
  ASSERT_TRUE(answer.ok()) << answer.error().message;
  EXPECT_THAT(*answer, HasSubstr(fmt::format("longer than {} bytes", largest_local_request)));
}

TEST(ControlSocket, SaysThatALineHasNoEnd) {
  const ControlServer server;
  RawClient client(server.file());
  client.send(R"({"do": "status"})");
  client.end_sending();
  EXPECT_THAT(client.read_line(), HasSubstr("newline"));
  EXPECT_EQ(client.read_line(), "closed");
}

TEST(ControlSocket, TurnsAwayWhoIsOneTooManyAndServesAgainWhenThereIsRoom) {
  const ControlServer server({.connections = 3});
  std::deque<RawClient> clients;
  for (int i = 0; i < 3; ++i) {
    clients.emplace_back(server.file());
    clients.back().send("here\n");
    ASSERT_EQ(clients.back().read_line(), "[here]");
  }
  const auto refused = ask_daemon(server.file(), "{}", long_enough);
  ASSERT_TRUE(refused.ok()) << refused.error().message;
  EXPECT_THAT(*refused, HasSubstr("too many connections"));
  clients.front().end_sending();
  ASSERT_EQ(clients.front().read_line(), "closed");
  EXPECT_EQ(*ask_daemon(server.file(), "{}", long_enough), "[{}]");
}

TEST(ControlSocket, ClosesAConnectionThatSendsNothing) {
  const ControlServer server({.idle = milliseconds(50)});
  RawClient client(server.file());
  client.send("half a line");
  EXPECT_EQ(client.read_line(), "closed");
}

TEST(ControlSocket, SlowReaderNeitherDelaysOthersNorKeepsItsAnswer) {
  const std::string huge(8'000'000, 'x');  // more than the kernel buffers
  const ControlServer server({.idle = milliseconds(300)},
                             [&](const std::string& line, const ControlSocket::Answer& answer) {
                               answer(line == "huge" ? huge : line);
                             });
  RawClient slow(server.file());
  slow.send("huge\n");
  EXPECT_EQ(*ask_daemon(server.file(), "quick", long_enough), "quick");
  std::this_thread::sleep_for(milliseconds(600));  // a real peer that does not read
  EXPECT_EQ(slow.read_line(), "closed");
}

TEST(ControlSocket, AnswerThatComesTwiceOrAfterTheAskerLeftHarmsNothing) {
  ControlSocket::Answer kept;
  std::atomic<bool> asked = false;
  const ControlServer server({.idle = milliseconds(50)},
                             [&](const std::string& line, const ControlSocket::Answer& answer) {
                               if (line == "keep") {
                                 kept = answer;
                                 asked = true;
                                 return;
                               }
                               if (asked) {
                                 kept("too late");
                               }
                               answer("first");
                               answer("second");
                             });
  {
    RawClient client(server.file());
    client.send("keep\n");
    EXPECT_EQ(client.read_line(), "closed");
  }
  RawClient client(server.file());
  client.send("a\n");
  EXPECT_EQ(client.read_line(), "first");
  client.send("b\n");
  EXPECT_EQ(client.read_line(), "first");
}

TEST(ControlSocket, ReplacesAFileLeftBehindAndRemovesItsOwn) {
  const TemporaryFolder folder;
  const auto file = control_socket_file(folder.path());
  std::ofstream(file) << "left behind";
  boost::asio::io_context context;
  auto socket = ControlSocket::listen(context, file, {});
  ASSERT_TRUE(socket.ok()) << socket.error().message;
  EXPECT_TRUE(std::filesystem::is_socket(file));
  std::move(socket).value().reset();
  EXPECT_FALSE(std::filesystem::exists(file));
}

TEST(ControlSocket, SaysThatAPathIsTooLong) {
  boost::asio::io_context context;
  const auto socket = ControlSocket::listen(context, "/tmp/" + std::string(120, 'd'), {});
  ASSERT_FALSE(socket.ok());
  EXPECT_THAT(socket.error().message, HasSubstr("shorter path"));
}

TEST(ControlClient, SaysThatNoDaemonRuns) {
  const TemporaryFolder folder;
  const auto file = control_socket_file(folder.path());
  const auto missing = ask_daemon(file, "{}", long_enough);
  ASSERT_FALSE(missing.ok());
  EXPECT_THAT(missing.error().message, HasSubstr("could not reach the daemon at"));
  EXPECT_THAT(missing.error().message, HasSubstr("does not run"));
  // A socket file whose daemon was killed.
  boost::asio::io_context context;
  stream_protocol::acceptor(context, stream_protocol::endpoint(file.string())).close();
  ASSERT_TRUE(std::filesystem::is_socket(file));
  EXPECT_THAT(ask_daemon(file, "{}", long_enough).error().message, HasSubstr("does not run"));
}

TEST(ControlClient, GivesUpOnADaemonThatDoesNotAnswer) {
  const ControlServer server({}, [](const std::string&, const ControlSocket::Answer&) {});
  const auto answer = ask_daemon(server.file(), "{}", milliseconds(50));
  ASSERT_FALSE(answer.ok());
  EXPECT_THAT(answer.error().message, EndsWith("no answer within 50 ms"));
}

}  // namespace
}  // namespace brinegate::daemon
