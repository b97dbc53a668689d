// SPDX-License-Identifier: Apache-2.0
// The loop around the engine: gathers what happened, takes a turn, carries out what the engine
// wants. Owns the drivers, the store, the control socket and the clock; decides nothing.
#pragma once

#include <atomic>
#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>

#include "config/model.h"
#include "config/notify.h"
#include "daemon/control_socket.h"
#include "daemon/engine/effects.h"
#include "daemon/engine/engine.h"
#include "daemon/engine/events.h"
#include "daemon/event_queue.h"
#include "daemon/http_service.h"
#include "daemon/log_output.h"
#include "daemon/notifier.h"
#include "daemon/reply_router.h"
#include "daemon/store.h"
#include "daemon/supervision.h"
#include "drivers/driver.h"
#include "drivers/registry.h"
#include "rules/result.h"
#include "rules/time.h"

namespace brinegate::daemon {

enum class RunEnd { Stopped, ToBeReplaced };

class Shell final : private drivers::Sink {
 public:
  // Asked at a hang-up, on the loop: whether there is something to take the shell's place (S10).
  using HangUp = std::function<bool()>;

  // Takes the data folder and listens on the control socket; nothing outside is touched yet.
  static Result<std::unique_ptr<Shell>> create(const config::Site& site,
                                               const config::Notify& notify, LogOutput log,
                                               Supervision supervision, HangUp hang_up);
  ~Shell() override = default;
  Shell(const Shell&) = delete;
  Shell& operator=(const Shell&) = delete;

  // Until SIGINT or SIGTERM, or until a hang-up brings something to take its place. When it
  // returns, every output was driven off as far as could be, and what was to be on disk is there.
  // Signals that come before the next run() wait for it.
  RunEnd run();

 private:
  Shell(LogOutput log, Supervision supervision, HangUp hang_up);
  Result<Done> build(const config::Site& site);
  Result<Done> start_notifier(const config::Notify& notify, const std::string& site);
  Result<Done> serve_http(const config::Site& site);

  // From any thread.
  void deliver(drivers::ProbeKey probe, const Sample& sample) override;
  void report(const drivers::OutputReport& report) override;
  void take_network_request(const drivers::MqttRequest& request);
  void take_broker_change(bool connected);
  void take_birth();
  void take_store_answer(const StoreAnswer& answer);
  void log_broker_change(bool connected);
  void log_store_answer(const StoreAnswer& answer);
  void queue_request(RequestArrived request);
  void wake();

  void take_local_request(std::string line, ControlSocket::Answer answer);
  void turn_after(Duration pause);
  void turn();
  void notice_health(Instant began);
  void log(LogLevel level, const std::string& text, const std::string& detail = {});
  void log_from_another_thread(LogLevel level, std::string text);
  void await_stop();
  void await_hangup();
  void take_hangup();
  void stop(RunEnd why);

  void carry_out(const DriveOutput& effect);
  void carry_out(Append& effect);
  void carry_out(AppendReadings& effect);
  void carry_out(const Publish& effect);
  void carry_out(const Announce& effect);
  void carry_out(const Reply& effect);
  void carry_out(const Log& effect);

  boost::asio::io_context context_{1};
  boost::asio::steady_timer next_turn_{context_};
  boost::asio::steady_timer after_birth_{context_};
  std::atomic<bool> birth_waits_ = false;  // one stands for all that come meanwhile
  boost::asio::signal_set stop_signals_{context_};
  boost::asio::signal_set hangup_signal_{context_};
  LogOutput log_;
  Supervision supervision_;
  HangUp hang_up_;
  EventQueue events_;
  ReplyRouter replies_;
  std::optional<MonoTime> last_turn_;
  Duration last_turn_took_{0};
  std::optional<RunEnd> end_;  // once it ends
  std::optional<MonoTime> broker_lost_;
  std::optional<MonoTime> writes_fail_since_;
  std::size_t failed_writes_ = 0;  // since then

  std::unique_ptr<Store> store_;
  std::unique_ptr<Engine> engine_;
  std::unique_ptr<ControlSocket> control_;
  std::unique_ptr<HttpService> http_;  // none where the configuration has no [http]
  drivers::Drivers drivers_;
  std::unique_ptr<Notifier> notifier_;
};

}  // namespace brinegate::daemon
