// SPDX-License-Identifier: Apache-2.0
// See control_socket.h.
#include "daemon/control_socket.h"

#include <cstdint>
#include <set>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <fcntl.h>
#include <fmt/format.h>
#include <nlohmann/json.hpp>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

using boost::asio::local::stream_protocol;
using boost::system::error_code;

constexpr std::chrono::milliseconds pause_after_failed_accept{100};

std::string refusal(const std::string& message) {
  return nlohmann::json{{"ok", false}, {"message", message}}.dump();
}

// Child processes have no use for our sockets.
void close_on_exec(int descriptor) {
  fcntl(descriptor, F_SETFD, FD_CLOEXEC);
}

// One asker: read a line, wait for its answer, write it, and again.
class Connection : public std::enable_shared_from_this<Connection> {
 public:
  using Closed = std::function<void(const std::shared_ptr<Connection>&)>;

  Connection(stream_protocol::socket socket, ControlSocket::Requested requested, Closed closed,
             const ControlLimits& limits)
      : socket_(std::move(socket)),
        idle_(socket_.get_executor()),
        requested_(std::move(requested)),
        closed_(std::move(closed)),
        limits_(limits) {}

  void read_request() {
    restart_idle_timer();
    boost::asio::async_read_until(
        socket_, boost::asio::dynamic_buffer(received_, limits_.line_bytes + 1), '\n',
        [self = shared_from_this()](const error_code& failure, std::size_t size) {
          self->request_read(failure, size);
        });
  }

  void close() {
    if (!socket_.is_open()) {
      return;
    }
    error_code ignored;
    socket_.close(ignored);
    idle_.cancel();
    closed_(shared_from_this());
  }

 private:
  void request_read(const error_code& failure, std::size_t size) {
    if (!socket_.is_open()) {
      return;
    }
    if (failure == boost::asio::error::not_found) {
      write(refusal(fmt::format("the request is longer than {} bytes: send one JSON object on one "
                                "line",
                                limits_.line_bytes)),
            /*then_close=*/true);
    } else if (failure == boost::asio::error::eof && !received_.empty()) {
      write(refusal("the request has no end: end the line that holds it with a newline"),
            /*then_close=*/true);
    } else if (failure) {
      close();
    } else {
      std::string line = received_.substr(0, size - 1);
      received_.erase(0, size);
      restart_idle_timer();
      ask(std::move(line));
    }
  }

  void ask(std::string line) {
    const std::uint64_t question = ++question_;
    requested_(std::move(line), [weak = weak_from_this(), question](std::string payload) {
      const auto self = weak.lock();
      if (self && self->socket_.is_open() && self->question_ == question) {
        ++self->question_;  // one answer a question
        self->write(std::move(payload), /*then_close=*/false);
      }
    });
  }

  void write(std::string payload, bool then_close) {
    sending_ = std::move(payload) + '\n';
    restart_idle_timer();
    boost::asio::async_write(
        socket_, boost::asio::buffer(sending_),
        [self = shared_from_this(), then_close](const error_code& failure, std::size_t) {
          if (failure || then_close) {
            self->close();
          } else if (self->socket_.is_open()) {
            self->read_request();
          }
        });
  }

  void restart_idle_timer() {
    idle_.expires_after(limits_.idle);
    idle_.async_wait([weak = weak_from_this()](const error_code& failure) {
      const auto self = weak.lock();
      // A wait that ended just before it was renewed arrives here without a failure.
      const bool over =
          !failure && self && self->idle_.expiry() <= boost::asio::steady_timer::clock_type::now();
      if (over) {
        self->close();
      }
    });
  }

  stream_protocol::socket socket_;
  boost::asio::steady_timer idle_;
  ControlSocket::Requested requested_;
  Closed closed_;
  ControlLimits limits_;
  std::string received_;
  std::string sending_;
  std::uint64_t question_ = 0;
};

}  // namespace

class ControlSocket::Server : public std::enable_shared_from_this<Server> {
 public:
  Server(boost::asio::io_context& context, std::filesystem::path file, Requested requested,
         ControlLimits limits)
      : acceptor_(context),
        retry_(context),
        file_(std::move(file)),
        requested_(std::move(requested)),
        limits_(limits) {}

  Result<Done> open() {
    if (file_.string().size() >= sizeof(sockaddr_un::sun_path)) {
      return Error{
          fmt::format("the path of the control socket {} is longer than {} bytes: use a "
                      "data folder with a shorter path",
                      file_.string(), sizeof(sockaddr_un::sun_path) - 1)};
    }
    ::unlink(file_.c_str());
    error_code failure;
    acceptor_.open(stream_protocol(), failure);
    if (!failure) {
      close_on_exec(acceptor_.native_handle());
      // Before the bind, so that there is no moment at which others could open it.
      fchmod(acceptor_.native_handle(), 0600);
      acceptor_.bind(stream_protocol::endpoint(file_.string()), failure);
    }
    if (!failure) {
      acceptor_.listen(boost::asio::socket_base::max_listen_connections, failure);
    }
    if (failure) {
      return Error{fmt::format("cannot listen on the control socket {}: {}", file_.string(),
                               failure.message())};
    }
    return Done{};
  }

  void accept() {
    acceptor_.async_accept(
        [self = shared_from_this()](const error_code& failure, stream_protocol::socket socket) {
          self->accepted(failure, std::move(socket));
        });
  }

  void close() {
    error_code ignored;
    acceptor_.close(ignored);
    retry_.cancel();
    for (const auto& connection : std::exchange(connections_, {})) {
      connection->close();
    }
    ::unlink(file_.c_str());
  }

 private:
  void accepted(const error_code& failure, stream_protocol::socket socket) {
    if (!acceptor_.is_open()) {
      return;
    }
    if (failure) {
      // Out of descriptors, say: later rather than in a circle.
      retry_.expires_after(pause_after_failed_accept);
      retry_.async_wait([self = shared_from_this()](const error_code& cancelled) {
        if (!cancelled && self->acceptor_.is_open()) {
          self->accept();
        }
      });
      return;
    }
    close_on_exec(socket.native_handle());
    if (connections_.size() >= limits_.connections) {
      turn_away(std::move(socket));
    } else {
      welcome(std::move(socket));
    }
    accept();
  }

  // Fits into the empty buffer of a new socket, so it is sent at once or not at all.
  static void turn_away(stream_protocol::socket socket) {
    const std::string line = refusal("too many connections to the control socket") + "\n";
    error_code ignored;
    socket.non_blocking(true, ignored);
    socket.write_some(boost::asio::buffer(line), ignored);
  }

  void welcome(stream_protocol::socket socket) {
    auto closed = [weak = weak_from_this()](const std::shared_ptr<Connection>& connection) {
      if (const auto self = weak.lock()) {
        self->connections_.erase(connection);
      }
    };
    auto connection =
        std::make_shared<Connection>(std::move(socket), requested_, std::move(closed), limits_);
    connections_.insert(connection);
    connection->read_request();
  }

  stream_protocol::acceptor acceptor_;
  boost::asio::steady_timer retry_;
  std::filesystem::path file_;
  Requested requested_;
  ControlLimits limits_;
  std::set<std::shared_ptr<Connection>> connections_;
};

Result<std::unique_ptr<ControlSocket>> ControlSocket::listen(boost::asio::io_context& context,
                                                             const std::filesystem::path& file,
                                                             Requested requested,
                                                             ControlLimits limits) {
  auto server = std::make_shared<Server>(context, file, std::move(requested), limits);
  if (const Result<Done> opened = server->open(); !opened.ok()) {
    return opened.error();
  }
  server->accept();
  return std::unique_ptr<ControlSocket>(new ControlSocket(std::move(server)));
}

ControlSocket::ControlSocket(std::shared_ptr<Server> server) : server_(std::move(server)) {}

ControlSocket::~ControlSocket() {
  server_->close();
}

}  // namespace brinegate::daemon
