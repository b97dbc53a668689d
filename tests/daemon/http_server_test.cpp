// SPDX-License-Identifier: Apache-2.0
// The HTTP server with real sockets and short patience: who sends or takes too slowly or too much
// is hung up on, and nobody else notices (S13).
#include "daemon/http_server.h"

#include <chrono>
#include <future>
#include <memory>
#include <string>
#include <thread>
#include <utility>

#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/read.hpp>
#include <boost/asio/read_until.hpp>
#include <boost/asio/write.hpp>
#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace brinegate::daemon {
namespace {

using boost::asio::ip::tcp;
using std::chrono::milliseconds;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::StartsWith;

// Whether it comes true within a time that only a broken server needs.
template <class Condition>
bool comes(Condition condition) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(10);
  while (!condition()) {
    if (std::chrono::steady_clock::now() > end) {
      return false;
    }
  }
  return true;
}

// A server on a thread of its own that answers with the target, never to /never, openly to /open.
class Server {
 public:
  explicit Server(HttpLimits limits = {}) {
    auto listening = HttpServer::listen(
        context_, "127.0.0.1", 0,
        [this](const HttpRequest& request, HttpAnswer answer) {
          requested(request, std::move(answer));
        },
        limits);
    EXPECT_TRUE(listening.ok()) << listening.error().message;
    server_ = std::move(listening).value();
    port_ = server_->port();
    thread_ = std::thread([this] { context_.run(); });
  }
  ~Server() {
    boost::asio::post(context_, [this] {
      open_.reset();
      server_.reset();
      context_.stop();
    });
    thread_.join();
  }
  [[nodiscard]] std::uint16_t port() const { return port_; }
  // Whether the open answer took it.
  bool push(const std::string& text) {
    std::promise<bool> taken;
    boost::asio::post(context_, [&] { taken.set_value(open_ && open_->send(text)); });
    return taken.get_future().get();
  }

 private:
  void requested(const HttpRequest& request, HttpAnswer answer) {
    HttpResponse response;
    response.body = request.target;
    if (request.target == "/open") {
      response.opened = [this](std::shared_ptr<HttpStream> stream) { open_ = std::move(stream); };
    }
    if (request.target == "/never") {
      never_ = std::move(answer);
    } else {
      answer(std::move(response));
    }
  }

  boost::asio::io_context context_;
  std::unique_ptr<HttpServer> server_;
  std::uint16_t port_ = 0;
  std::shared_ptr<HttpStream> open_;
  HttpAnswer never_;
  std::thread thread_;
};

class Client {
 public:
  explicit Client(const Server& server) : socket_(context_) {
    socket_.connect({boost::asio::ip::make_address("127.0.0.1"), server.port()});
  }
  void send(const std::string& bytes) { boost::asio::write(socket_, boost::asio::buffer(bytes)); }
  // Up to and with `end`; all there is where it does not come.
  std::string read_to(const std::string& end) {
    boost::system::error_code failure;
    const std::size_t size =
        boost::asio::read_until(socket_, boost::asio::dynamic_buffer(received_), end, failure);
    std::string text = failure ? received_ : received_.substr(0, size);
    received_.erase(0, text.size());
    return text;
  }
  std::string read_to_the_end() { return read_to("\x01 never sent"); }

 private:
  boost::asio::io_context context_;
  tcp::socket socket_;
  std::string received_;
};

std::string get(const std::string& target) {
  return "GET " + target + " HTTP/1.1\r\nHost: localhost\r\n\r\n";
}

TEST(HttpServer, AnswersOneRequestAfterTheOtherOnAConnection) {
  const Server server;
  Client client(server);
  client.send(get("/a") + get("/b"));
  EXPECT_THAT(client.read_to("/a"), HasSubstr("HTTP/1.1 200 OK"));
  EXPECT_THAT(client.read_to("/b"), HasSubstr("HTTP/1.1 200 OK"));
}

TEST(HttpServer, HangsUpOnWhoNeverFinishesARequest) {
  HttpLimits limits;
  limits.request_within = milliseconds(100);
  const Server server(limits);
  Client silent(server);
  Client slow(server);
  slow.send("GET / HTTP/1.1\r\nHost: lo");
  EXPECT_THAT(silent.read_to_the_end(), IsEmpty());
  EXPECT_THAT(slow.read_to_the_end(), IsEmpty());
}

TEST(HttpServer, SaysSoWhenNoAnswerComes) {
  HttpLimits limits;
  limits.answer_within = milliseconds(100);
  const Server server(limits);
  Client client(server);
  client.send(get("/never"));
  EXPECT_THAT(client.read_to_the_end(), StartsWith("HTTP/1.1 504"));
}

TEST(HttpServer, TellsWhoSendsTooMuch) {
  HttpLimits limits;
  limits.header_bytes = 256;
  limits.body_bytes = 16;
  const Server server(limits);
  Client long_head(server);
  long_head.send("GET / HTTP/1.1\r\nX: " + std::string(1000, 'x') + "\r\n\r\n");
  EXPECT_THAT(long_head.read_to_the_end(), StartsWith("HTTP/1.1 431"));
  Client long_body(server);
  long_body.send("POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 17\r\n\r\n");
  EXPECT_THAT(long_body.read_to_the_end(), StartsWith("HTTP/1.1 413"));
  Client no_http(server);
  no_http.send("good morning\r\n\r\n");
  EXPECT_THAT(no_http.read_to_the_end(), StartsWith("HTTP/1.1 400"));
}

TEST(HttpServer, TakesNoMoreConnectionsThanItsLimit) {
  HttpLimits limits;
  limits.connections = 1;
  const Server server(limits);
  Client first(server);
  first.send(get("/a"));
  first.read_to("/a");
  Client second(server);
  EXPECT_THAT(second.read_to_the_end(), IsEmpty());
  first.send(get("/b"));
  EXPECT_THAT(first.read_to("/b"), HasSubstr("200 OK"));
}

TEST(HttpServer, KeepsAnAnswerOpenAndHangsUpOnWhoTakesTooLittle) {
  HttpLimits limits;
  limits.unsent_bytes = 10'000;
  Server server(limits);
  Client client(server);
  client.send(get("/open"));
  EXPECT_THAT(client.read_to("\r\n\r\n/open"), HasSubstr("200 OK"));
  ASSERT_TRUE(comes([&] { return server.push("first\n"); }));
  EXPECT_EQ(client.read_to("\n"), "first\n");
  const std::string kilobyte(1000, 'x');
  int pushed = 0;
  while (pushed < 100'000 && server.push(kilobyte)) {
    ++pushed;
  }
  EXPECT_LT(pushed, 100'000);
  EXPECT_FALSE(server.push("more"));
}

TEST(HttpServer, NoticesThatAReaderOfAnOpenAnswerHasGone) {
  Server server;
  {
    Client client(server);
    client.send(get("/open"));
    client.read_to("\r\n\r\n/open");
    ASSERT_TRUE(comes([&] { return server.push(""); }));
  }
  EXPECT_TRUE(comes([&] { return !server.push(""); }));
}

TEST(HttpServer, SaysWhyItCannotListen) {
  boost::asio::io_context context;
  const auto failed = HttpServer::listen(context, "192.0.2.1", 8480, {});
  ASSERT_FALSE(failed.ok());
  EXPECT_THAT(failed.error().message, HasSubstr("192.0.2.1 port 8480"));
}

}  // namespace
}  // namespace brinegate::daemon
