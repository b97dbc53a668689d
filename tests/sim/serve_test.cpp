// SPDX-License-Identifier: Apache-2.0
// The command line of `serve` and the control socket.
#include "sim/serve.h"

#include <array>
#include <cstring>
#include <fstream>
#include <initializer_list>
#include <string>
#include <vector>

#include <boost/asio/local/stream_protocol.hpp>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "sim/control.h"
#include "tests/temporary_folder.h"

namespace brinegate::sim {
namespace {

Result<ServeOptions> parse(std::initializer_list<std::string_view> words) {
  return parse_serve_options(std::vector<std::string_view>(words));
}

TEST(ServeOptions, ServesModbusTcpOnLoopbackUnlessToldOtherwise) {
  EXPECT_EQ(parse({})->modbus_tcp, "127.0.0.1:1502");
  const auto serial = parse({"--modbus-rtu", "line"});
  EXPECT_FALSE(serial->modbus_tcp.has_value());
  EXPECT_EQ(serial->modbus_rtu, "line");
}

TEST(ServeOptions, ReadsQuantitiesWithTheirUnits) {
  const auto options = parse({"--volume", "40 L", "--temperature", "21 C", "--pump-flow", "60 L/h",
                              "--speed", "60", "--seed", "7", "--bubbles", "0", "--site", "attic"});
  ASSERT_TRUE(options.ok());
  EXPECT_EQ(options->rig.volume.value(), 40.0);
  EXPECT_EQ(options->rig.temperature.value(), 21.0);
  EXPECT_DOUBLE_EQ(options->rig.reservoir.pump_flow.value(), 1.0);
  EXPECT_EQ(options->rig.speed, 60.0);
  EXPECT_EQ(options->rig.bubbles_per_hour, 0.0);
  EXPECT_EQ(options->rig.seed, 7u);
  EXPECT_EQ(options->site, "attic");
}

TEST(ServeOptions, NamesTheOptionThatIsWrong) {
  const auto error = [](std::initializer_list<std::string_view> words) {
    const auto options = parse(words);
    return options.ok() ? std::string() : options.error().message;
  };
  EXPECT_NE(error({"--port", "1"}).find("\"--port\""), std::string::npos);
  EXPECT_NE(error({"--speed"}).find("--speed needs a value"), std::string::npos);
  for (const auto speed : {"0", "-1", "nan", "fast", "1e6", ""})
    EXPECT_NE(error({"--speed", speed}).find("--speed"), std::string::npos) << speed;
  EXPECT_NE(error({"--volume", "40"}).find("no unit"), std::string::npos);
  EXPECT_NE(error({"--temperature", "60 C"}).find("out of range"), std::string::npos);
  EXPECT_NE(error({"--site", "a/#"}).find("--site"), std::string::npos);
}

TEST(Serve, RefusesToListenBeyondLoopback) {
  for (const auto* address : {"0.0.0.0:0", "192.0.2.1:1502", "127.0.0.1", "127.0.0.1:x", "::"}) {
    ServeOptions options;
    options.modbus_tcp = address;
    EXPECT_EQ(serve(options), 2) << address;
  }
}

class ControlSocket : public testing::Test {
 protected:
  ControlSocket() { path_ = folder_.file("control"); }
  ~ControlSocket() override { ::unlink(path_.c_str()); }

  Result<std::unique_ptr<Control>> open() {
    return take_commands_from_socket(
        loop_, path_, [](std::string_view line) { return "<" + std::string(line) + ">"; });
  }

  // Sends, runs the loop as long as it has something to do at once, and returns what came back.
  std::string exchange(const std::string& text) {
    boost::asio::local::stream_protocol::socket client(loop_);
    client.connect(path_);
    const int descriptor = client.native_handle();
    EXPECT_EQ(::send(descriptor, text.data(), text.size(), MSG_NOSIGNAL),
              static_cast<::ssize_t>(text.size()));
    loop_.restart();
    while (loop_.poll() > 0) {
    }
    std::array<char, 4096> answer{};
    const auto size = ::recv(descriptor, answer.data(), answer.size(), MSG_DONTWAIT);
    return size > 0 ? std::string(answer.data(), static_cast<std::size_t>(size)) : std::string();
  }

  const TemporaryFolder folder_;
  std::string path_;
  boost::asio::io_context loop_{1};
};

TEST_F(ControlSocket, AnswersEachLineWithOne) {
  const auto control = open();
  ASSERT_TRUE(control.ok());
  EXPECT_EQ(exchange("state\nwater 20 L\n"), "<state>\n<water 20 L>\n");
}

TEST_F(ControlSocket, HangsUpOnALineWithoutEnd) {
  const auto control = open();
  EXPECT_EQ(exchange(std::string(5000, 'x')), "");
  EXPECT_EQ(exchange("state\n"), "<state>\n");
}

TEST_F(ControlSocket, IsForItsOwnerOnlyAndGoesAwayAtTheEnd) {
  struct stat there {};
  {
    const auto control = open();
    ASSERT_EQ(::stat(path_.c_str(), &there), 0);
    EXPECT_EQ(there.st_mode & 0777u, 0700u);
  }
  EXPECT_NE(::stat(path_.c_str(), &there), 0);
}

TEST_F(ControlSocket, TakesOverADeadSocketButNeitherALiveOneNorAFile) {
  {
    const auto alive = open();
    EXPECT_FALSE(open().ok());
  }
  const int dead = ::socket(AF_UNIX, SOCK_STREAM, 0);
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  std::strncpy(address.sun_path, path_.c_str(), sizeof address.sun_path - 1);
  ASSERT_EQ(::bind(dead, reinterpret_cast<const sockaddr*>(&address), sizeof address), 0);
  ::close(dead);
  EXPECT_TRUE(open().ok());
  std::ofstream(path_) << "a person's file";
  EXPECT_FALSE(open().ok());
  struct stat there {};
  EXPECT_EQ(::stat(path_.c_str(), &there), 0);
}

}  // namespace
}  // namespace brinegate::sim
