// SPDX-License-Identifier: Apache-2.0
#include "sim/control.h"

#include <cstddef>
#include <cstdio>
#include <deque>
#include <iostream>
#include <utility>

#include <boost/asio/buffer.hpp>
#include <boost/asio/local/stream_protocol.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace brinegate::sim {
namespace {

namespace asio = boost::asio;
using asio::local::stream_protocol;
using boost::system::error_code;

constexpr std::size_t longest_line = 1024;
constexpr std::size_t most_clients = 8;

void print_line(std::string_view line) {
  fmt::print("{}\n", line);
  std::fflush(stdout);
}

class Stdin : public Control {
 public:
  Stdin(asio::posix::stream_descriptor input, CommandLine command)
      : input_(std::move(input)), command_(std::move(command)) {
    read();
  }

 private:
  void read() {
    asio::async_read_until(input_, asio::dynamic_buffer(text_, longest_line), '\n',
                           [this](error_code error, std::size_t size) {
                             if (error)
                               return;  // the end, or a line without one: stop listening here
                             const std::string line = text_.substr(0, size - 1);
                             text_.erase(0, size);
                             print_line(command_(line));
                             read();
                           });
  }

  asio::posix::stream_descriptor input_;
  CommandLine command_;
  std::string text_;
};

class Client : public std::enable_shared_from_this<Client> {
 public:
  Client(stream_protocol::socket socket, CommandLine command)
      : socket_(std::move(socket)), command_(std::move(command)) {}

  void read() {
    asio::async_read_until(socket_, asio::dynamic_buffer(text_, longest_line), '\n',
                           [self = shared_from_this()](error_code error, std::size_t size) {
                             if (error)
                               return self->stop();
                             const std::string line = self->text_.substr(0, size - 1);
                             self->text_.erase(0, size);
                             self->answer_ = self->command_(line) + '\n';
                             self->write();
                           });
  }

  void stop() {
    error_code ignored;
    socket_.close(ignored);
  }

 private:
  void write() {
    asio::async_write(socket_, asio::buffer(answer_),
                      [self = shared_from_this()](error_code error, std::size_t) {
                        if (error)
                          return self->stop();
                        self->read();
                      });
  }

  stream_protocol::socket socket_;
  CommandLine command_;
  std::string text_;
  std::string answer_;
};

class SocketControl : public Control {
 public:
  SocketControl(stream_protocol::acceptor acceptor, std::string path, CommandLine command)
      : acceptor_(std::move(acceptor)), path_(std::move(path)), command_(std::move(command)) {
    accept();
  }
  ~SocketControl() override {
    for (const auto& client : clients_) {
      if (const auto alive = client.lock())
        alive->stop();
    }
    ::unlink(path_.c_str());
  }

 private:
  void accept() {
    acceptor_.async_accept([this](error_code error, stream_protocol::socket socket) {
      if (error == asio::error::operation_aborted)
        return;
      std::erase_if(clients_, [](const auto& client) { return client.expired(); });
      if (!error && clients_.size() < most_clients) {
        const auto client = std::make_shared<Client>(std::move(socket), command_);
        clients_.push_back(client);
        client->read();
      }
      accept();
    });
  }

  stream_protocol::acceptor acceptor_;
  std::string path_;
  CommandLine command_;
  std::deque<std::weak_ptr<Client>> clients_;
};

// A socket left by a rig that was killed refuses connections (so does a file, which is not ours).
void remove_dead_socket(asio::io_context& loop, const stream_protocol::endpoint& endpoint) {
  struct stat there {};
  if (::lstat(endpoint.path().c_str(), &there) != 0 || !S_ISSOCK(there.st_mode))
    return;
  stream_protocol::socket probe(loop);
  error_code error;
  probe.connect(endpoint, error);
  if (error == asio::error::connection_refused)
    ::unlink(endpoint.path().c_str());
}

}  // namespace

std::unique_ptr<Control> take_commands_from_stdin(asio::io_context& loop, CommandLine command) {
  asio::posix::stream_descriptor input(loop);
  error_code error;
  const int descriptor = ::dup(STDIN_FILENO);
  if (descriptor >= 0)
    input.assign(descriptor, error);
  if (descriptor >= 0 && !error)
    return std::make_unique<Stdin>(std::move(input), std::move(command));
  // Not pollable: a file, /dev/null, or none. Reading it does not block.
  if (descriptor >= 0)
    ::close(descriptor);
  for (std::string line; std::getline(std::cin, line);)
    print_line(command(line));
  return nullptr;
}

Result<std::unique_ptr<Control>> take_commands_from_socket(asio::io_context& loop,
                                                           const std::string& path,
                                                           CommandLine command) {
  constexpr std::size_t longest_path = 107;  // of a Unix socket's address on Linux
  if (path.size() > longest_path)
    return Error{
        fmt::format("--control \"{}\": longer than the {} characters that a Unix socket's "
                    "path may have",
                    path, longest_path)};
  const stream_protocol::endpoint endpoint(path);
  remove_dead_socket(loop, endpoint);
  stream_protocol::acceptor acceptor(loop);
  error_code error;
  acceptor.open(endpoint.protocol(), error);
  const ::mode_t before = ::umask(0077);
  if (!error)
    acceptor.bind(endpoint, error);
  ::umask(before);
  if (!error)
    acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error)
    return Error{fmt::format("--control \"{}\": {}; choose another path", path, error.message())};
  return std::unique_ptr<Control>(
      std::make_unique<SocketControl>(std::move(acceptor), path, std::move(command)));
}

}  // namespace brinegate::sim
