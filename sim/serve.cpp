// SPDX-License-Identifier: Apache-2.0
// The shell around the rig: one thread, one loop; the only place in this folder that reads clocks.
#include "sim/serve.h"

#include <charconv>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <functional>
#include <memory>
#include <utility>
#include <vector>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/control.h"
#include "sim/exit_status.h"
#include "sim/modbus_slave.h"
#include "sim/mqtt_publisher.h"
#include "sim/rig_commands.h"

namespace brinegate::sim {
namespace {

namespace asio = boost::asio;
using boost::system::error_code;

constexpr std::chrono::milliseconds tick_period{50};
constexpr std::chrono::milliseconds publish_every{250};  // often enough for the shortest window
constexpr int not_opened = 2;

MonoTime monotonic_now() {
  return MonoTime(
      std::chrono::duration_cast<Duration>(std::chrono::steady_clock::now().time_since_epoch()));
}

WallTime wall_now() {
  return WallTime(
      std::chrono::duration_cast<Duration>(std::chrono::system_clock::now().time_since_epoch()));
}

Result<asio::ip::tcp::endpoint> parse_loopback(const std::string& text) {
  const auto refused = Error{
      fmt::format("--modbus-tcp \"{}\": write an address of this machine's loopback and a port, "
                  "e.g. 127.0.0.1:1502; a simulated rig is not for the network",
                  text)};
  const auto colon = text.rfind(':');
  if (colon == std::string::npos)
    return refused;
  error_code error;
  const auto address = asio::ip::make_address(text.substr(0, colon), error);
  std::uint16_t port = 0;
  const char* const last = text.data() + text.size();
  const auto [end, bad] = std::from_chars(text.data() + colon + 1, last, port);
  if (error || !address.is_loopback() || bad != std::errc() || end != last)
    return refused;
  return asio::ip::tcp::endpoint(address, port);
}

class Server {
 public:
  explicit Server(const ServeOptions& options)
      : options_(options), rig_(options.rig, monotonic_now()) {}

  Result<Done> open();
  void run() { loop_.run(); }

 private:
  Result<Done> open_modbus();
  void take_signals();
  void every(asio::steady_timer& timer, Duration period, const std::function<void()>& action);
  std::string command(std::string_view line);
  void publish();
  void announce() const;

  ServeOptions options_;
  asio::io_context loop_{1};  // outlives all that runs on it
  Rig rig_;
  asio::signal_set signals_{loop_};
  asio::steady_timer tick_{loop_};
  asio::steady_timer publish_timer_{loop_};
  std::unique_ptr<ModbusSlave> tcp_;
  std::unique_ptr<ModbusSlave> rtu_;
  std::unique_ptr<MqttPublisher> mqtt_;
  std::unique_ptr<Control> socket_;
  std::unique_ptr<Control> stdin_;
};

Result<Done> Server::open() {
  if (auto opened = open_modbus(); !opened.ok())
    return opened;
  const auto commands = [this](std::string_view line) { return command(line); };
  if (options_.control) {
    auto opened = take_commands_from_socket(loop_, *options_.control, commands);
    if (!opened.ok())
      return opened.error();
    socket_ = std::move(opened).value();
  }
  if (options_.mqtt) {
    auto opened = MqttPublisher::open(*options_.mqtt, options_.site);
    if (!opened.ok())
      return opened.error();
    mqtt_ = std::move(opened).value();
    every(publish_timer_, publish_every, [this] { publish(); });
  }
  take_signals();
  every(tick_, tick_period, [this] { rig_.advance(monotonic_now()); });
  announce();
  stdin_ = take_commands_from_stdin(loop_, commands);
  return Done{};
}

Result<Done> Server::open_modbus() {
  const AnswerRequest answer =
      [this](std::uint8_t unit,
             std::span<const std::uint8_t> request) -> std::optional<DelayedAnswer> {
    auto answered = rig_.request(unit, request, monotonic_now());
    if (!answered)
      return std::nullopt;
    return DelayedAnswer{std::move(answered->pdu), answered->delay};
  };
  if (options_.modbus_tcp) {
    const auto endpoint = parse_loopback(*options_.modbus_tcp);
    if (!endpoint.ok())
      return endpoint.error();
    auto opened = serve_modbus_tcp(loop_, *endpoint, answer);
    if (!opened.ok())
      return opened.error();
    tcp_ = std::move(opened).value();
  }
  if (options_.modbus_rtu) {
    auto opened = serve_modbus_rtu(loop_, *options_.modbus_rtu, answer);
    if (!opened.ok())
      return opened.error();
    rtu_ = std::move(opened).value();
  }
  return Done{};
}

void Server::take_signals() {
  std::signal(SIGPIPE, SIG_IGN);  // a reader of our answers that went away
  signals_.add(SIGINT);
  signals_.add(SIGTERM);
  signals_.async_wait([this](error_code error, int) {
    if (!error)
      loop_.stop();
  });
}

void Server::every(asio::steady_timer& timer, Duration period,
                   const std::function<void()>& action) {
  timer.expires_after(period);
  timer.async_wait([this, &timer, period, action](error_code error) {
    if (error)
      return;
    action();
    every(timer, period, action);
  });
}

std::string Server::command(std::string_view line) {
  if (line == "quit") {
    asio::post(loop_, [this] { loop_.stop(); });  // after the answer is on its way
    return R"({"ok":true})";
  }
  rig_.advance(monotonic_now());
  return run_command(rig_, line);
}

void Server::publish() {
  const WallTime now = wall_now();
  if (const auto shown = rig_.probe(Probe::Temperature).shown())
    mqtt_->publish("bath", "temperature_c", *shown, now);
  if (const auto shown = rig_.probe(Probe::CellA).shown())
    mqtt_->publish("cell", "conductivity_ms_cm", *shown, now);
}

// The first line on stdout: what is served where, for scripts that wait for it.
void Server::announce() const {
  nlohmann::ordered_json serving = nlohmann::ordered_json::object();
  if (tcp_)
    serving["modbus_tcp"] = tcp_->address();
  if (rtu_)
    serving["modbus_rtu"] = rtu_->address();
  if (mqtt_)
    serving["mqtt"] = *options_.mqtt;
  if (options_.control)
    serving["control"] = *options_.control;
  fmt::print("{}\n", nlohmann::ordered_json{{"serving", serving}}.dump());
  std::fflush(stdout);
}

}  // namespace

int serve(const ServeOptions& options) {
  Server server(options);
  if (const auto opened = server.open(); !opened.ok()) {
    fmt::print(stderr, "brinegate-sim serve: {}\n", opened.error().message);
    return not_opened;
  }
  server.run();
  return done_status;
}

}  // namespace brinegate::sim
