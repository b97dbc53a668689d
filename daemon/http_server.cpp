// SPDX-License-Identifier: Apache-2.0
// See http_server.h. The one file that includes Beast, which takes long to compile.
#include "daemon/http_server.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <deque>
#include <optional>
#include <set>
#include <utility>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>
#include <fcntl.h>
#include <fmt/format.h>

namespace brinegate::daemon {
namespace {

namespace http = boost::beast::http;
using boost::asio::ip::tcp;
using boost::system::error_code;

constexpr std::chrono::milliseconds pause_after_failed_accept{100};
constexpr unsigned http_1_1 = 11;

HttpRequest plain(const http::request<http::string_body>& message) {
  HttpRequest request;
  request.method = message.method_string();
  request.target = message.target();
  for (const auto& field : message) {
    std::string name = field.name_string();
    std::transform(name.begin(), name.end(), name.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    std::string& value = request.headers[name];
    value += (value.empty() ? "" : ", ") + std::string(field.value());
  }
  request.body = message.body();
  return request;
}

// What to say of a request that cannot be read; none where there is nobody to say it to.
std::optional<HttpResponse> complaint_about(const error_code& failure, const HttpLimits& limits) {
  if (failure == http::error::header_limit) {
    return problem_response(
        431, fmt::format("the request's head has more than {} bytes", limits.header_bytes));
  }
  if (failure == http::error::body_limit) {
    return problem_response(
        413, fmt::format("the request's body has more than {} bytes", limits.body_bytes));
  }
  const bool is_malformed =
      failure.category() == http::make_error_code(http::error::bad_method).category() &&
      failure != http::error::end_of_stream && failure != http::error::partial_message;
  if (is_malformed) {
    return problem_response(400, "this is not HTTP/1.1: " + failure.message());
  }
  return std::nullopt;
}

// One client: read a request, wait for its answer, write it, and again; or keep the answer open.
class Connection : public std::enable_shared_from_this<Connection> {
 public:
  using Closed = std::function<void(const std::shared_ptr<Connection>&)>;

  Connection(tcp::socket socket, HttpServer::Requested requested, Closed closed,
             const HttpLimits& limits)
      : stream_(std::move(socket)),
        patience_(stream_.get_executor()),
        requested_(std::move(requested)),
        closed_(std::move(closed)),
        limits_(limits) {}

  void read_request() {
    parser_.emplace();
    parser_->header_limit(limits_.header_bytes);
    parser_->body_limit(limits_.body_bytes);
    stream_.expires_after(limits_.request_within);  // for the whole of it, however it trickles
    http::async_read(stream_, buffer_, *parser_,
                     [self = shared_from_this()](const error_code& failure, std::size_t) {
                       self->request_read(failure);
                     });
  }

  void close() {
    if (std::exchange(is_closed_, true)) {
      return;
    }
    error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_both, ignored);
    stream_.close();
    patience_.cancel();
    closed_(shared_from_this());
  }

  // Of an answer that stays open.
  bool send(const std::string& text) {
    if (is_closed_) {
      return false;
    }
    if (unsent_bytes_ + text.size() > limits_.unsent_bytes) {
      close();
      return false;
    }
    unsent_.push_back(text);
    unsent_bytes_ += text.size();
    if (unsent_.size() == 1) {
      send_first();
    }
    return true;
  }

 private:
  class Open;

  void request_read(const error_code& failure) {
    if (is_closed_) {
      return;
    }
    if (failure) {
      auto complaint = complaint_about(failure, limits_);
      return complaint ? write(std::move(*complaint), /*keep_alive=*/false) : close();
    }
    const bool keep_alive = parser_->get().keep_alive();
    is_head_ = parser_->get().method() == http::verb::head;
    const std::uint64_t question = ++question_;
    wait_for_answer(question);
    requested_(plain(parser_->get()),
               [weak = weak_from_this(), question, keep_alive](HttpResponse response) {
                 const auto self = weak.lock();
                 if (self) {
                   self->answered(question, std::move(response), keep_alive);
                 }
               });
  }

  void wait_for_answer(std::uint64_t question) {
    patience_.expires_after(limits_.answer_within);
    patience_.async_wait([weak = weak_from_this(), question](const error_code& cancelled) {
      const auto self = weak.lock();
      if (!cancelled && self) {
        self->answered(question, problem_response(504, "the daemon did not answer in time"),
                       /*keep_alive=*/false);
      }
    });
  }

  void answered(std::uint64_t question, HttpResponse response, bool keep_alive) {
    if (is_closed_ || question != question_) {
      return;
    }
    ++question_;  // one answer a question
    patience_.cancel();
    write(std::move(response), keep_alive);
  }

  void write(HttpResponse response, bool keep_alive) {
    const bool stays_open = response.opened && !is_head_;
    keep_alive = keep_alive && !response.opened;
    head_ = {};
    head_.version(http_1_1);
    head_.result(response.status);
    head_.set(http::field::content_type, response.type);
    for (const auto& [name, value] : security_headers()) {
      head_.set(name, value);
    }
    for (const auto& [name, value] : response.headers) {
      head_.set(name, value);
    }
    if (!response.opened) {
      head_.content_length(response.body.size());
    }
    head_.keep_alive(keep_alive);
    body_ = is_head_ ? "" : std::move(response.body);
    opened_ = stays_open ? std::move(response.opened) : nullptr;
    serializer_.emplace(head_);
    stream_.expires_after(limits_.taken_within);
    http::async_write_header(
        stream_, *serializer_,
        [self = shared_from_this(), keep_alive](const error_code& failure, std::size_t) {
          if (failure || self->is_closed_) {
            self->close();
          } else {
            self->write_body(keep_alive);
          }
        });
  }

  void write_body(bool keep_alive) {
    boost::asio::async_write(
        stream_, boost::asio::buffer(body_),
        [self = shared_from_this(), keep_alive](const error_code& failure, std::size_t) {
          if (failure || self->is_closed_) {
            self->close();
          } else if (self->opened_) {
            self->stay_open();
          } else if (keep_alive) {
            self->read_request();
          } else {
            self->linger();
          }
        });
  }

  // Who still sends would lose the answer if the connection were reset at once.
  void linger() {
    error_code ignored;
    stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
    stream_.expires_after(std::chrono::seconds(1));
    discard();
  }

  void discard() {
    stream_.async_read_some(boost::asio::buffer(discarded_),
                            [self = shared_from_this()](const error_code& failure, std::size_t) {
                              if (failure || self->is_closed_) {
                                self->close();
                              } else {
                                self->discard();
                              }
                            });
  }

  void stay_open();

  void send_first() {
    stream_.expires_after(limits_.taken_within);
    boost::asio::async_write(stream_, boost::asio::buffer(unsent_.front()),
                             [self = shared_from_this()](const error_code& failure, std::size_t) {
                               self->first_sent(failure);
                             });
  }

  void first_sent(const error_code& failure) {
    if (failure || is_closed_) {
      return close();
    }
    unsent_bytes_ -= unsent_.front().size();
    unsent_.pop_front();
    if (!unsent_.empty()) {
      send_first();
    }
  }

  boost::beast::tcp_stream stream_;
  boost::asio::steady_timer patience_;
  HttpServer::Requested requested_;
  Closed closed_;
  HttpLimits limits_;
  bool is_closed_ = false;

  boost::beast::flat_buffer buffer_;
  std::optional<http::request_parser<http::string_body>> parser_;
  bool is_head_ = false;
  std::uint64_t question_ = 0;

  http::response<http::empty_body> head_;
  std::optional<http::response_serializer<http::empty_body>> serializer_;
  std::string body_;
  std::function<void(std::shared_ptr<HttpStream>)> opened_;
  std::deque<std::string> unsent_;
  std::size_t unsent_bytes_ = 0;
  std::array<char, 1024> discarded_{};
};

class Connection::Open final : public HttpStream {
 public:
  explicit Open(std::weak_ptr<Connection> connection) : connection_(std::move(connection)) {}
  ~Open() override {
    if (const auto connection = connection_.lock()) {
      connection->close();
    }
  }
  Open(const Open&) = delete;
  Open& operator=(const Open&) = delete;

  bool send(const std::string& text) override {
    const auto connection = connection_.lock();
    return connection && connection->send(text);
  }

 private:
  std::weak_ptr<Connection> connection_;
};

// Reads on only to notice when the other side goes.
void Connection::stay_open() {
  stream_.expires_never();
  discard();
  const auto opened = std::exchange(opened_, nullptr);
  opened(std::make_shared<Open>(weak_from_this()));
}

}  // namespace

class HttpServer::Listener : public std::enable_shared_from_this<Listener> {
 public:
  Listener(boost::asio::io_context& context, Requested requested, HttpLimits limits)
      : acceptor_(context), retry_(context), requested_(std::move(requested)), limits_(limits) {}

  Result<Done> open(const std::string& address, std::uint16_t port) {
    error_code failure;
    const auto numeric = boost::asio::ip::make_address(address, failure);
    const tcp::endpoint endpoint(numeric, port);
    if (!failure) {
      acceptor_.open(endpoint.protocol(), failure);
    }
    if (!failure) {
      // Child processes have no use for our sockets.
      fcntl(acceptor_.native_handle(), F_SETFD, FD_CLOEXEC);
      acceptor_.set_option(tcp::acceptor::reuse_address(true), failure);
    }
    if (!failure) {
      acceptor_.bind(endpoint, failure);
    }
    if (!failure) {
      acceptor_.listen(boost::asio::socket_base::max_listen_connections, failure);
    }
    if (failure) {
      return Error{fmt::format("cannot listen for HTTP on {} port {}: {}", address, port,
                               failure.message())};
    }
    return Done{};
  }

  void accept() {
    acceptor_.async_accept(
        [self = shared_from_this()](const error_code& failure, tcp::socket socket) {
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
  }

  [[nodiscard]] std::uint16_t port() const { return acceptor_.local_endpoint().port(); }

 private:
  void accepted(const error_code& failure, tcp::socket socket) {
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
    fcntl(socket.native_handle(), F_SETFD, FD_CLOEXEC);
    if (connections_.size() < limits_.connections) {
      welcome(std::move(socket));
    }
    accept();
  }

  void welcome(tcp::socket socket) {
    error_code ignored;
    socket.set_option(tcp::no_delay(true), ignored);
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

  tcp::acceptor acceptor_;
  boost::asio::steady_timer retry_;
  Requested requested_;
  HttpLimits limits_;
  std::set<std::shared_ptr<Connection>> connections_;
};

Result<std::unique_ptr<HttpServer>> HttpServer::listen(boost::asio::io_context& context,
                                                       const std::string& address,
                                                       std::uint16_t port, Requested requested,
                                                       HttpLimits limits) {
  auto listener = std::make_shared<Listener>(context, std::move(requested), limits);
  if (const Result<Done> opened = listener->open(address, port); !opened.ok()) {
    return opened.error();
  }
  listener->accept();
  return std::unique_ptr<HttpServer>(new HttpServer(std::move(listener)));
}

HttpServer::HttpServer(std::shared_ptr<Listener> listener) : listener_(std::move(listener)) {}

HttpServer::~HttpServer() {
  listener_->close();
}

std::uint16_t HttpServer::port() const {
  return listener_->port();
}

}  // namespace brinegate::daemon
