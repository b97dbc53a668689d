// SPDX-License-Identifier: Apache-2.0
// The served register image, read by libmodbus as an independent client over a real loopback socket
// and a real pseudo-terminal.
#include "sim/modbus_slave.h"

#include <array>
#include <cerrno>
#include <chrono>
#include <memory>
#include <string>
#include <thread>

#include <boost/asio/ip/address_v4.hpp>
#include <gtest/gtest.h>
#include <modbus.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/rig.h"
#include "sim/rig_commands.h"
#include "tests/temporary_folder.h"

namespace brinegate::sim {
namespace {

using namespace std::chrono_literals;
namespace asio = boost::asio;

MonoTime now() {
  return MonoTime(
      std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now().time_since_epoch()));
}

struct Free {
  void operator()(modbus_t* client) const {
    modbus_close(client);
    modbus_free(client);
  }
};
using Client = std::unique_ptr<modbus_t, Free>;

class ServedRig : public testing::Test {
 protected:
  ServedRig() {
    const AnswerRequest answer =
        [this](std::uint8_t unit,
               std::span<const std::uint8_t> request) -> std::optional<DelayedAnswer> {
      auto answered = rig_.request(unit, request, now());
      if (!answered)
        return std::nullopt;
      return DelayedAnswer{answered->pdu, answered->delay};
    };
    tcp_ = serve_modbus_tcp(loop_, {asio::ip::address_v4::loopback(), 0}, answer).value();
    rtu_ = serve_modbus_rtu(loop_, link(), answer).value();
  }

  ~ServedRig() override {
    loop_.stop();
    if (thread_.joinable())
      thread_.join();
    tcp_.reset();
    rtu_.reset();
  }

  // Commands come before this: afterwards the rig belongs to the loop's thread.
  void start() {
    thread_ = std::thread([this] { loop_.run(); });
  }

  [[nodiscard]] std::string link() const { return folder_.file("rtu"); }

  Client connect(modbus_t* client, int unit, std::uint32_t timeout_us) {
    modbus_set_slave(client, unit);
    modbus_set_response_timeout(client, 0, timeout_us);
    EXPECT_EQ(modbus_connect(client), 0) << modbus_strerror(errno);
    return Client(client);
  }
  Client tcp_client(int unit, std::uint32_t timeout_us = 500000) {
    const std::string address = tcp_->address();
    const int port = std::stoi(address.substr(address.rfind(':') + 1));
    return connect(modbus_new_tcp("127.0.0.1", port), unit, timeout_us);
  }
  Client rtu_client(int unit, std::uint32_t timeout_us = 500000) {
    return connect(modbus_new_rtu(link().c_str(), 19200, 'E', 8, 1), unit, timeout_us);
  }

  const TemporaryFolder folder_;
  Rig rig_{RigSpec{}, now()};
  asio::io_context loop_{1};
  std::unique_ptr<ModbusSlave> tcp_;
  std::unique_ptr<ModbusSlave> rtu_;
  std::thread thread_;
};

void expect_register_map(modbus_t* transmitter) {
  std::array<std::uint16_t, 8> words{};
  ASSERT_EQ(modbus_read_input_registers(transmitter, 0, 8, words.data()), 8)
      << modbus_strerror(errno);
  // The rig begins with purified water at 18 °C: 5 uS/cm, give or take the cell.
  EXPECT_NEAR(modbus_get_float_abcd(&words[0]), 0.005, 0.004);
  EXPECT_NEAR(modbus_get_float_abcd(&words[2]), 18.0, 0.5);
  EXPECT_NEAR(modbus_get_float_abcd(&words[4]), 0.005, 0.004);
  // Compensated to 25 °C at 2 %: divided by 1 - 0.02 * 7.
  EXPECT_NEAR(modbus_get_float_abcd(&words[6]), modbus_get_float_abcd(&words[0]) / 0.86, 0.0001);
  std::uint16_t level = 0;
  ASSERT_EQ(modbus_read_registers(transmitter, 4, 1, &level), 1);
  EXPECT_NEAR(level, 600, 3);  // 150 L at 4 mm a litre
}

void expect_self_lapsing_pump(modbus_t* relay) {
  std::array<std::uint8_t, 4> contacts{};
  ASSERT_EQ(modbus_write_register(relay, 16, 3), 1) << modbus_strerror(errno);
  ASSERT_EQ(modbus_read_input_bits(relay, 0, 4, contacts.data()), 4);
  EXPECT_EQ(contacts, (std::array<std::uint8_t, 4>{1, 1, 0, 0}));
  std::this_thread::sleep_for(350ms);
  ASSERT_EQ(modbus_read_input_bits(relay, 0, 4, contacts.data()), 4);
  EXPECT_EQ(contacts, (std::array<std::uint8_t, 4>{0, 1, 0, 0}));
  std::array<std::uint8_t, 3> coils{};
  ASSERT_EQ(modbus_write_bit(relay, 2, 0), 1);
  ASSERT_EQ(modbus_read_bits(relay, 0, 3, coils.data()), 3);
  EXPECT_EQ(coils, (std::array<std::uint8_t, 3>{0, 1, 0}));
}

TEST_F(ServedRig, IsReadOverTcp) {
  start();
  expect_register_map(tcp_client(1).get());
  expect_self_lapsing_pump(tcp_client(2).get());
}

TEST_F(ServedRig, IsReadOverRtu) {
  start();
  expect_register_map(rtu_client(1).get());
  expect_self_lapsing_pump(rtu_client(2).get());
}

TEST_F(ServedRig, AnswersSeveralClientsAtOnce) {
  start();
  std::vector<Client> clients;
  for (int i = 0; i < 10; ++i)
    clients.push_back(tcp_client(1));
  std::uint16_t level = 0;
  for (const auto& client : clients)
    EXPECT_EQ(modbus_read_registers(client.get(), 4, 1, &level), 1);
}

TEST_F(ServedRig, LeavesForeignUnitsUnanswered) {
  start();
  std::uint16_t word = 0;
  EXPECT_EQ(modbus_read_registers(tcp_client(4, 100000).get(), 4, 1, &word), -1);
  EXPECT_EQ(errno, ETIMEDOUT);
  EXPECT_EQ(modbus_read_registers(rtu_client(4, 100000).get(), 4, 1, &word), -1);
  EXPECT_EQ(errno, ETIMEDOUT);
}

TEST_F(ServedRig, RefusesAddressesOutsideTheMap) {
  start();
  const Client client = tcp_client(1);
  std::uint16_t word = 0;
  EXPECT_EQ(modbus_read_registers(client.get(), 5, 1, &word), -1);
  EXPECT_EQ(errno, EMBXILADD);
}

TEST_F(ServedRig, AnswersLateWithoutHoldingUpTheOtherUnit) {
  run_command(rig_, "fault transmitter late");
  start();
  const Client late = tcp_client(1, 100000);
  std::uint16_t word = 0;
  EXPECT_EQ(modbus_read_registers(late.get(), 4, 1, &word), -1);
  EXPECT_EQ(errno, ETIMEDOUT);
  std::array<std::uint8_t, 3> coils{};
  EXPECT_EQ(modbus_read_bits(tcp_client(2, 100000).get(), 0, 3, coils.data()), 3);
  // The answer does come, and meets whoever listens then.
  std::array<std::uint8_t, MODBUS_TCP_MAX_ADU_LENGTH> frame{};
  modbus_set_response_timeout(late.get(), 3, 0);
  EXPECT_EQ(modbus_receive_confirmation(late.get(), frame.data()), 11);
}

TEST_F(ServedRig, AnswersExceptionsAndSlowly) {
  run_command(rig_, "fault transmitter exception");
  run_command(rig_, "fault relay slow");
  start();
  std::uint16_t word = 0;
  EXPECT_EQ(modbus_read_registers(tcp_client(1).get(), 4, 1, &word), -1);
  EXPECT_EQ(errno, EMBXSFAIL);
  const MonoTime asked = now();
  EXPECT_EQ(modbus_read_registers(tcp_client(2).get(), 16, 1, &word), 1);
  EXPECT_GE(now() - asked, 200ms);
}

TEST_F(ServedRig, IgnoresAGarbledRequestOnTheSerialLine) {
  start();
  const Client client = rtu_client(1, 200000);
  const std::array<std::uint8_t, 8> wrong_checksum{1, 3, 0, 4, 0, 1, 0xAA, 0xBB};
  const int line = modbus_get_socket(client.get());
  ASSERT_EQ(::write(line, wrong_checksum.data(), wrong_checksum.size()), 8);
  std::array<std::uint8_t, MODBUS_RTU_MAX_ADU_LENGTH> frame{};
  EXPECT_EQ(modbus_receive_confirmation(client.get(), frame.data()), -1);
  std::uint16_t level = 0;
  EXPECT_EQ(modbus_read_registers(client.get(), 4, 1, &level), 1) << modbus_strerror(errno);
}

TEST_F(ServedRig, DropsAHalfRequestOnTheSerialLine) {
  start();
  const Client client = rtu_client(1, 200000);
  const std::array<std::uint8_t, 3> half{1, 3, 0};
  ASSERT_EQ(::write(modbus_get_socket(client.get()), half.data(), half.size()), 3);
  std::this_thread::sleep_for(100ms);
  std::uint16_t level = 0;
  EXPECT_EQ(modbus_read_registers(client.get(), 4, 1, &level), 1) << modbus_strerror(errno);
}

TEST_F(ServedRig, HangsUpOnWhatIsNotModbus) {
  start();
  const Client client = tcp_client(1);
  const std::string greeting = "GET / HTTP/1.1\r\n\r\n";
  const int socket = modbus_get_socket(client.get());
  ASSERT_EQ(::write(socket, greeting.data(), greeting.size()),
            static_cast<::ssize_t>(greeting.size()));
  std::array<char, 16> byte{};
  EXPECT_LE(::read(socket, byte.data(), byte.size()), 0);
}

TEST_F(ServedRig, TakesItsLinkAwayAtTheEnd) {
  struct stat there {};
  EXPECT_EQ(::lstat(link().c_str(), &there), 0);
  rtu_.reset();
  EXPECT_NE(::lstat(link().c_str(), &there), 0);
}

TEST_F(ServedRig, ReplacesALinkButNeverAFile) {
  asio::io_context loop;
  const AnswerRequest none = [](auto, auto) { return std::nullopt; };
  EXPECT_FALSE(serve_modbus_rtu(loop, folder_.path().string(), none).ok());
  rtu_ = serve_modbus_rtu(loop_, folder_.file("other"), none).value();
  EXPECT_TRUE(serve_modbus_rtu(loop, folder_.file("other"), none).ok());
}

}  // namespace
}  // namespace brinegate::sim
