// SPDX-License-Identifier: Apache-2.0
// See shell.h.
#include "daemon/shell.h"

#include <algorithm>
#include <chrono>
#include <csignal>
#include <random>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include <boost/asio/post.hpp>
#include <fmt/format.h>
#include <signal.h>

#include "config/quantity.h"
#include "daemon/control_client.h"
#include "drivers/clock.h"

namespace brinegate::daemon {
namespace {

using std::chrono::milliseconds;

constexpr Duration longest_pause = milliseconds(100);  // between two turns; the engine bears 200
// Gathers what comes at nearly the same time. A turn that took long, with a thousand stations, is
// followed by a pause several times as long, so that turns never fill the time.
constexpr Duration shortest_pause = std::chrono::microseconds(100);
constexpr int pause_for_a_turn = 4;
constexpr Duration worth_a_warning = milliseconds(300);
constexpr Duration healthy_turn = std::chrono::seconds(1);
// ms, from home automation's start until all is said to it again (common practice, no source).
constexpr int shortest_after_birth = 200;
constexpr int longest_after_birth = 5000;

constexpr const char* too_many_requests =
    R"({"ok": false, "message": "too many requests wait: ask again in a while"})";
constexpr const char* request_beyond_limits =
    R"({"ok": false, "message": "the request is larger than 16 kB or nested too deep"})";

// Between two shells nobody listens, and what comes must neither end the process nor be lost.
void hold_signals(bool held) {
  sigset_t ours;
  sigemptyset(&ours);
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    sigaddset(&ours, signal);
  }
  pthread_sigmask(held ? SIG_BLOCK : SIG_UNBLOCK, &ours, nullptr);
}

}  // namespace

Result<std::unique_ptr<Shell>> Shell::create(const config::Site& site, const config::Notify& notify,
                                             LogOutput log, Supervision supervision,
                                             HangUp hang_up) {
  std::unique_ptr<Shell> shell(
      new Shell(std::move(log), std::move(supervision), std::move(hang_up)));
  if (const Result<Done> built = shell->build(site); !built.ok()) {
    return built.error();
  }
  if (const Result<Done> started = shell->start_notifier(notify, site.name); !started.ok()) {
    return started.error();
  }
  return shell;
}

Shell::Shell(LogOutput log, Supervision supervision, HangUp hang_up)
    : log_(std::move(log)),
      supervision_(std::move(supervision)),
      hang_up_(std::move(hang_up)),
      events_([this] { wake(); }) {}

Result<Done> Shell::build(const config::Site& site) {
  const std::filesystem::path data = site.data;
  Result<std::unique_ptr<Store>> store =
      Store::open(data, [this](const StoreAnswer& answer) { take_store_answer(answer); },
                  {.history = site.history});
  if (!store.ok()) {
    return store.error();
  }
  store_ = std::move(store).value();

  Result<std::unique_ptr<Engine>> engine =
      Engine::create(site, store_->restored(), {drivers::monotonic_now(), drivers::wall_now()});
  if (!engine.ok()) {
    return engine.error();
  }
  engine_ = std::move(engine).value();

  Result<std::unique_ptr<ControlSocket>> control = ControlSocket::listen(
      context_, control_socket_file(data), [this](std::string line, ControlSocket::Answer answer) {
        take_local_request(std::move(line), std::move(answer));
      });
  if (!control.ok()) {
    return control.error();
  }
  control_ = std::move(control).value();

  drivers_ = drivers::build_drivers(
      site, *this,
      {.on_request = [this](const drivers::MqttRequest& request) { take_network_request(request); },
       .on_connection = [this](bool connected) { take_broker_change(connected); },
       .on_trouble =
           [this, mqtt = site.mqtt](config::BrokerTrouble trouble) {
             log_from_another_thread(LogLevel::Warning, config::sentence(trouble, *mqtt));
           },
       .on_birth = [this] { take_birth(); }});
  return site.http ? serve_http(site) : Done{};
}

Result<Done> Shell::serve_http(const config::Site& site) {
  Result<std::unique_ptr<HttpService>> http = HttpService::start(
      context_, site,
      [this](Origin origin, std::string payload, ReplyRouter::Answer answer) {
        const ReplyAddress from = replies_.expect(std::move(answer));
        queue_request({from, origin, "", std::move(payload), /*retained=*/false});
      },
      [this] {
        return Surroundings{notifier_->counts(),
                            drivers_.mqtt ? std::optional(drivers_.mqtt->stats()) : std::nullopt};
      });
  if (!http.ok()) {
    return http.error();
  }
  http_ = std::move(http).value();
  return Done{};
}

Result<Done> Shell::start_notifier(const config::Notify& notify, const std::string& site) {
  Result<std::unique_ptr<Notifier>> started =
      Notifier::start(notify, site, [this](LogLevel level, std::string text) {
        log_from_another_thread(level, std::move(text));
      });
  if (!started.ok()) {
    return started.error();
  }
  notifier_ = std::move(started).value();
  return Done{};
}

RunEnd Shell::run() {
  await_stop();
  hangup_signal_.add(SIGHUP);
  await_hangup();
  hold_signals(false);
  drivers_.open();
  turn();
  supervision_.ready();
  context_.run();
  return *end_;
}

void Shell::deliver(drivers::ProbeKey probe, const Sample& sample) {
  events_.put(SampleArrived{probe, sample});
}

void Shell::report(const drivers::OutputReport& report) {
  events_.put(OutputReported{report});
}

void Shell::take_network_request(const drivers::MqttRequest& request) {
  drivers::MqttRequest asker = request;
  asker.payload.clear();
  const ReplyAddress from = replies_.expect([this, asker](const std::string& payload) {
    drivers::MqttSession& session = *drivers_.mqtt;
    session.publish(session.base_topic() + asker.station + "/reply", payload, /*retained=*/false);
    session.respond(asker, payload);
  });
  if (request.beyond_limits) {
    replies_.answer(from, request_beyond_limits);
    return;
  }
  queue_request({from, Origin::Network, request.station, request.payload, request.retained});
}

void Shell::take_local_request(std::string line, ControlSocket::Answer answer) {
  const ReplyAddress from = replies_.expect(std::move(answer));
  queue_request({from, Origin::Local, "", std::move(line), /*retained=*/false});
}

void Shell::queue_request(RequestArrived request) {
  const ReplyAddress from = request.from;
  if (!events_.put(std::move(request))) {
    replies_.answer(from, too_many_requests);
  }
}

void Shell::take_broker_change(bool connected) {
  boost::asio::post(context_, [this, connected] { log_broker_change(connected); });
  events_.put(BrokerChanged{connected});
}

// What comes back is told as loudly as what went.
void Shell::log_broker_change(bool connected) {
  const MonoTime now = drivers::monotonic_now();
  if (!connected) {
    broker_lost_ = now;
    log(LogLevel::Warning, "broker: connection lost");
    return;
  }
  const auto lost = std::exchange(broker_lost_, std::nullopt);
  log(LogLevel::Warning, "broker: connected",
      lost ? " again after " + config::show(now - *lost) : "");
}

// Everybody on the broker hears of it at once; who answers at once floods whoever just started.
void Shell::take_birth() {
  if (birth_waits_.exchange(true)) {
    return;
  }
  boost::asio::post(context_, [this] {
    std::random_device chance;
    after_birth_.expires_after(milliseconds(
        std::uniform_int_distribution<int>(shortest_after_birth, longest_after_birth)(chance)));
    after_birth_.async_wait([this](const boost::system::error_code& cancelled) {
      birth_waits_ = false;
      if (!cancelled) {
        events_.put(HomeAutomationStarted{});
      }
    });
  });
}

void Shell::take_store_answer(const StoreAnswer& answer) {
  const Instant at{drivers::monotonic_now(), drivers::wall_now()};
  boost::asio::post(context_, [this, answer, at] {
    log_store_answer(answer);
    if (!answer.ok) {
      notifier_->record_refused();
      return;
    }
    notifier_->record_written(at.mono);
    if (http_) {
      http_->api().record_written(at.wall);
    }
  });
  events_.put(AppendFinished{answer.ticket, answer.ok});
}

void Shell::log_store_answer(const StoreAnswer& answer) {
  const MonoTime now = drivers::monotonic_now();
  if (!answer.ok) {
    writes_fail_since_ = writes_fail_since_.value_or(now);
    ++failed_writes_;
    log(LogLevel::Error, "not written: " + answer.error);
  } else if (writes_fail_since_) {
    log(LogLevel::Error, "the disk takes what is written again",
        fmt::format(" after {}, {} times refused", config::show(now - *writes_fail_since_),
                    failed_writes_));
    writes_fail_since_.reset();
    failed_writes_ = 0;
  }
}

void Shell::wake() {
  boost::asio::post(context_, [this] {
    const Duration pause =
        std::clamp(pause_for_a_turn * last_turn_took_, shortest_pause, longest_pause);
    const Duration since_last = last_turn_ ? drivers::monotonic_now() - *last_turn_ : pause;
    turn_after(std::max(pause - since_last, Duration::zero()));
  });
}

// The latest call counts. A turn more than was asked for does no harm.
void Shell::turn_after(Duration pause) {
  next_turn_.expires_after(pause);
  next_turn_.async_wait([this](const boost::system::error_code& cancelled) {
    if (!cancelled) {
      turn();
    }
  });
}

void Shell::turn() {
  const EventQueue::Taken taken = events_.take();
  const Instant now{drivers::monotonic_now(), drivers::wall_now()};
  for (Effect& effect : engine_->turn(taken.events, now)) {
    std::visit([this](auto& what) { carry_out(what); }, effect);
  }
  if (taken.dropped > 0) {
    log(LogLevel::Warning,
        "samples or requests came faster than they could be taken; some were "
        "dropped");
  }
  notifier_->turn(now);
  log_.tell_repeats(now.mono);
  notice_health(now);
  turn_after(longest_pause);
}

void Shell::notice_health(Instant began) {
  const Duration took = drivers::monotonic_now() - began.mono;
  const Duration stood_still = last_turn_ ? began.mono - *last_turn_ : Duration::zero();
  last_turn_ = began.mono;
  last_turn_took_ = took;
  if (took > worth_a_warning) {
    log(LogLevel::Warning, "a turn took long", fmt::format(": {:.1f} s", seconds(took)));
  } else if (stood_still > longest_pause + worth_a_warning) {
    log(LogLevel::Warning, "turns stood still", fmt::format(" for {:.1f} s", seconds(stood_still)));
  }
  if (took < healthy_turn) {
    supervision_.alive(began.mono);
  }
}

void Shell::log(LogLevel level, const std::string& text, const std::string& detail) {
  log_.write(level, text, drivers::monotonic_now(), detail);
}

void Shell::log_from_another_thread(LogLevel level, std::string text) {
  boost::asio::post(context_, [this, level, text = std::move(text)] { log(level, text); });
}

void Shell::await_stop() {
  stop_signals_.add(SIGINT);
  stop_signals_.add(SIGTERM);
  stop_signals_.async_wait([this](const boost::system::error_code& cancelled, int) {
    if (!cancelled) {
      stop(RunEnd::Stopped);
    }
  });
}

void Shell::await_hangup() {
  hangup_signal_.async_wait([this](const boost::system::error_code& cancelled, int) {
    if (!cancelled) {
      take_hangup();
    }
  });
}

void Shell::take_hangup() {
  hold_signals(true);
  supervision_.reloading();
  if (hang_up_()) {
    stop(RunEnd::ToBeReplaced);
    return;
  }
  supervision_.ready();
  hold_signals(false);
  await_hangup();
}

void Shell::stop(RunEnd why) {
  const bool stopping = end_.has_value();
  end_ = why;
  if (stopping) {
    return;
  }
  if (why == RunEnd::Stopped) {
    log(LogLevel::Info, "stopping: every output is driven off");
    supervision_.stopping();
  }
  stop_signals_.clear();  // who asks a second time does not want to wait: leases end by themselves
  hangup_signal_.clear();
  control_.reset();
  if (http_) {
    http_->close();
  }
  events_.put(StopAsked{});
  turn();
  drivers_.close();
  turn();  // takes in what became of the outputs
  store_->close();
  // Behind what the store still had to say.
  boost::asio::post(context_, [this] { context_.stop(); });
}

void Shell::carry_out(const DriveOutput& effect) {
  drivers_.drive(effect.output, effect.on_until);
}

void Shell::carry_out(Append& effect) {
  store_->append(std::move(effect));
}

void Shell::carry_out(AppendReadings& effect) {
  store_->append_readings(std::move(effect));
}

void Shell::carry_out(const Publish& effect) {
  constexpr std::string_view state = "/state";
  const bool is_state = effect.topic.ends_with(state);
  if (is_state) {
    notifier_->take_state(effect.payload);
  }
  if (http_ && is_state) {
    http_->api().station_changed(effect.topic.substr(0, effect.topic.size() - state.size()),
                                 effect.payload);
  }
  if (drivers_.mqtt) {
    // What is lost without a connection is published again by the engine when there is one.
    drivers_.mqtt->publish(drivers_.mqtt->base_topic() + effect.topic, effect.payload,
                           effect.retained);
  }
}

void Shell::carry_out(const Announce& effect) {
  if (drivers_.mqtt) {
    drivers_.mqtt->publish(effect.topic, effect.payload, /*retained=*/true);
  }
}

void Shell::carry_out(const Reply& effect) {
  replies_.answer(effect.to, effect.payload);
}

void Shell::carry_out(const Log& effect) {
  log(effect.level, effect.text, effect.detail);
}

}  // namespace brinegate::daemon
