// SPDX-License-Identifier: Apache-2.0
// Modbus TCP: MBAP header (transaction, protocol 0, length, unit) and a PDU, one or more a segment.
#include <array>
#include <chrono>
#include <cstddef>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/read.hpp>
#include <fmt/format.h>

#include "sim/answer_outbox.h"
#include "sim/modbus_slave.h"

namespace brinegate::sim {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

constexpr std::size_t header_size = 7;
constexpr std::size_t largest_pdu = 253;
constexpr std::size_t most_masters = 16;
constexpr std::size_t most_answers_of_one = 64;  // further requests stay unanswered

class Session : public std::enable_shared_from_this<Session> {
 public:
  Session(tcp::socket socket, AnswerRequest answer)
      : socket_(std::move(socket)), answer_(std::move(answer)) {}

  void start() {
    error_code ignored;
    socket_.set_option(tcp::no_delay(true), ignored);
    read_header();
  }

  void stop() {
    error_code ignored;
    socket_.close(ignored);
  }

 private:
  void read_header() {
    asio::async_read(socket_, asio::buffer(header_),
                     [self = shared_from_this()](error_code error, std::size_t) {
                       if (error)
                         return self->stop();
                       self->read_pdu();
                     });
  }

  void read_pdu() {
    const std::size_t protocol = header_[2] * 256u + header_[3];
    const std::size_t length = header_[4] * 256u + header_[5];  // unit and PDU
    if (protocol != 0 || length < 2 || length > largest_pdu + 1)
      return stop();  // not Modbus: there is no telling where the next request would start
    request_.resize(length - 1);
    asio::async_read(socket_, asio::buffer(request_),
                     [self = shared_from_this()](error_code error, std::size_t) {
                       if (error)
                         return self->stop();
                       self->handle_request();
                       self->read_header();
                     });
  }

  void handle_request() {
    auto answered = answer_(header_[6], request_);
    if (!answered || outbox_.is_full())
      return;
    const std::size_t length = answered->pdu.size() + 1;
    Pdu frame{header_[0],
              header_[1],
              0,
              0,
              static_cast<std::uint8_t>(length >> 8),
              static_cast<std::uint8_t>(length & 0xFF),
              header_[6]};
    frame.insert(frame.end(), answered->pdu.begin(), answered->pdu.end());
    outbox_.send(shared_from_this(), std::move(frame), answered->delay);
  }

  tcp::socket socket_;
  AnswerRequest answer_;
  std::array<std::uint8_t, header_size> header_{};
  Pdu request_;
  AnswerOutbox<tcp::socket> outbox_{socket_, most_answers_of_one};
};

class TcpSlave : public ModbusSlave {
 public:
  TcpSlave(tcp::acceptor acceptor, AnswerRequest answer)
      : acceptor_(std::move(acceptor)), answer_(std::move(answer)) {
    accept();
  }

  TcpSlave(const TcpSlave&) = delete;
  TcpSlave& operator=(const TcpSlave&) = delete;
  ~TcpSlave() override {
    for (const auto& session : sessions_) {
      if (const auto alive = session.lock())
        alive->stop();
    }
  }

  [[nodiscard]] std::string address() const override {
    const auto local = acceptor_.local_endpoint();
    return fmt::format("{}:{}", local.address().to_string(), local.port());
  }

 private:
  void accept() {
    acceptor_.async_accept([this](error_code error, tcp::socket socket) {
      if (error == asio::error::operation_aborted)
        return;
      std::erase_if(sessions_, [](const auto& session) { return session.expired(); });
      if (!error && sessions_.size() < most_masters) {
        const auto session = std::make_shared<Session>(std::move(socket), answer_);
        sessions_.push_back(session);
        session->start();
      }
      accept();
    });
  }

  tcp::acceptor acceptor_;
  AnswerRequest answer_;
  std::deque<std::weak_ptr<Session>> sessions_;
};

}  // namespace

Result<std::unique_ptr<ModbusSlave>> serve_modbus_tcp(asio::io_context& loop,
                                                      const tcp::endpoint& listen,
                                                      AnswerRequest answer) {
  tcp::acceptor acceptor(loop);
  error_code error;
  const auto tried = [&](auto step) {
    if (!error)
      step();
  };
  tried([&] { acceptor.open(listen.protocol(), error); });
  tried([&] { acceptor.set_option(tcp::acceptor::reuse_address(true), error); });
  tried([&] { acceptor.bind(listen, error); });
  tried([&] { acceptor.listen(asio::socket_base::max_listen_connections, error); });
  if (error)
    return Error{fmt::format("Modbus TCP cannot listen on {}:{}: {}; choose another port",
                             listen.address().to_string(), listen.port(), error.message())};
  return std::unique_ptr<ModbusSlave>(
      std::make_unique<TcpSlave>(std::move(acceptor), std::move(answer)));
}

}  // namespace brinegate::sim
