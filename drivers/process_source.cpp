// SPDX-License-Identifier: Apache-2.0
#include "drivers/process_source.h"

#include <algorithm>
#include <array>
#include <cerrno>
#include <utility>
#include <vector>

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/eventfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "drivers/clock.h"
#include "drivers/quiet_thread.h"

namespace brinegate::drivers {

namespace {

class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int value) : value_(value) {}
  ~Descriptor() { reset(); }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  [[nodiscard]] int get() const { return value_; }
  void reset(int value = -1) {
    if (value_ >= 0) {
      ::close(value_);
    }
    value_ = value;
  }

 private:
  int value_ = -1;
};

int milliseconds_of(Duration duration) {
  return static_cast<int>(std::chrono::ceil<std::chrono::milliseconds>(duration).count());
}

bool has_ended(pid_t child) {
  siginfo_t state{};
  return ::waitid(P_PID, static_cast<id_t>(child), &state, WEXITED | WNOHANG | WNOWAIT) != 0 ||
         state.si_pid == child;
}

// The child's surroundings: nothing of ours but its three pipes, default signals, and a process
// group of its own, so that what a shell script started ends with it.
class SpawnPlan {
 public:
  SpawnPlan(int standard_input, int standard_output) {
    posix_spawn_file_actions_init(&files_);
    posix_spawn_file_actions_adddup2(&files_, standard_input, STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&files_, standard_output, STDOUT_FILENO);
    posix_spawn_file_actions_addclosefrom_np(&files_, STDERR_FILENO + 1);
    posix_spawnattr_init(&attributes_);
    sigset_t all;
    sigset_t none;
    sigfillset(&all);
    sigemptyset(&none);
    posix_spawnattr_setsigdefault(&attributes_, &all);
    posix_spawnattr_setsigmask(&attributes_, &none);
    posix_spawnattr_setpgroup(&attributes_, 0);
    posix_spawnattr_setflags(
        &attributes_, POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETPGROUP);
  }
  ~SpawnPlan() {
    posix_spawnattr_destroy(&attributes_);
    posix_spawn_file_actions_destroy(&files_);
  }
  SpawnPlan(const SpawnPlan&) = delete;
  SpawnPlan& operator=(const SpawnPlan&) = delete;

  // The child, or -1.
  [[nodiscard]] pid_t start(const std::vector<std::string>& command) const {
    if (command.empty()) {
      return -1;
    }
    std::vector<std::string> words = command;  // posix_spawnp asks for char*, not const char*
    std::vector<char*> arguments;
    for (std::string& word : words) {
      arguments.push_back(word.data());
    }
    arguments.push_back(nullptr);
    pid_t child = -1;
    const int error =
        ::posix_spawnp(&child, arguments[0], &files_, &attributes_, arguments.data(), ::environ);
    return error == 0 ? child : -1;
  }

 private:
  posix_spawn_file_actions_t files_{};
  posix_spawnattr_t attributes_{};
};

}  // namespace

struct ProcessSource::Child {
  pid_t id = -1;
  Descriptor output;
  Descriptor input;  // held open: it closes when the daemon ends, however it ends
};

ProcessSource::ProcessSource(ProbeKey probe, config::ProcessSource source, bool contact, Sink& sink,
                             ProcessTiming timing)
    : probe_(probe),
      source_(std::move(source)),
      shape_{"/value", "/time", "/simulated", false, contact},
      sink_(sink),
      timing_(timing),
      stop_descriptor_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {}

ProcessSource::~ProcessSource() {
  close();
  if (stop_descriptor_ >= 0) {
    ::close(stop_descriptor_);
  }
}

void ProcessSource::open() {
  thread_ = start_quiet_thread([this] { run(); });
}

void ProcessSource::drive(OutputKey, std::optional<MonoTime>) {}

void ProcessSource::close() {
  const std::uint64_t one = 1;
  if (::write(stop_descriptor_, &one, sizeof one) < 0) {
    // Full: it was written to before and is readable already.
  }
  if (thread_.joinable()) {
    thread_.join();
  }
}

void ProcessSource::run() {
  Backoff restart(timing_.first_restart, timing_.longest_restart);
  do {
    const MonoTime started = monotonic_now();
    {
      Child child;
      if (start(child)) {
        read_lines(child);
      }
      end(child);
    }
    deliver_fault(SampleFault::ProcessEnded);
    if (monotonic_now() - started >= timing_.proven_after) {
      restart.reset();
    }
  } while (!stop_within(restart.next()));
}

bool ProcessSource::start(Child& child) {
  std::array<int, 2> output{};
  std::array<int, 2> input{};
  if (::pipe2(output.data(), O_CLOEXEC) != 0) {
    return false;
  }
  child.output.reset(output[0]);
  const Descriptor write_end(output[1]);
  if (::pipe2(input.data(), O_CLOEXEC) != 0) {
    return false;
  }
  const Descriptor read_end(input[0]);
  child.input.reset(input[1]);
  lines_.restart();
  child.id = SpawnPlan(read_end.get(), write_end.get()).start(source_.command);
  return child.id > 0;
}

// Until the child closes its output or close() is called.
void ProcessSource::read_lines(const Child& child) {
  std::array<char, 4096> buffer{};
  for (;;) {
    std::array<pollfd, 2> waiting{{{child.output.get(), POLLIN, 0}, {stop_descriptor_, POLLIN, 0}}};
    if (::poll(waiting.data(), waiting.size(), -1) < 0 && errno != EINTR) {
      return;
    }
    if (waiting[1].revents != 0) {
      return;
    }
    if (waiting[0].revents == 0) {
      continue;
    }
    const ssize_t got = ::read(child.output.get(), buffer.data(), buffer.size());
    if (got == 0 || (got < 0 && errno != EINTR)) {
      return;
    }
    const auto size = static_cast<std::size_t>(std::max<ssize_t>(got, 0));
    lines_.take({buffer.data(), size}, [this](auto line) { take(line); });
  }
}

void ProcessSource::take(std::optional<std::string_view> line) {
  const auto reading = line ? parse_reading(*line, shape_) : std::nullopt;
  if (!reading) {
    deliver_fault(SampleFault::Unparsable);
    return;
  }
  Sample sample;
  sample.value = reading->value;
  sample.fault = SampleFault::None;
  sample.arrived = monotonic_now();
  sample.source_time = reading->source_time;
  sample.simulated = reading->simulated;
  sink_.deliver(probe_, sample);
}

// Ends the child's whole group and reaps the child, so that no zombie stays.
void ProcessSource::end(Child& child) const {
  if (child.id <= 0) {
    return;
  }
  ::kill(-child.id, SIGTERM);
  const MonoTime give_up = monotonic_now() + timing_.patience;
  constexpr auto look_again = std::chrono::milliseconds(10);
  while (!has_ended(child.id) && monotonic_now() < give_up) {
    std::this_thread::sleep_for(look_again);
  }
  // Before it is reaped, while its number cannot be another's: it, and what it left in its group.
  ::kill(-child.id, SIGKILL);
  ::waitpid(child.id, nullptr, 0);
  child.id = -1;
}

bool ProcessSource::stop_within(Duration duration) const {
  pollfd waiting{stop_descriptor_, POLLIN, 0};
  return ::poll(&waiting, 1, milliseconds_of(duration)) > 0;
}

void ProcessSource::deliver_fault(SampleFault fault) {
  Sample sample;
  sample.fault = fault;
  sample.arrived = monotonic_now();
  sink_.deliver(probe_, sample);
}

}  // namespace brinegate::drivers
