// SPDX-License-Identifier: Apache-2.0
// A forked child that talks back through a pipe, for tests in which a process is killed or limited.
#pragma once

#include <csignal>
#include <cstdint>
#include <functional>
#include <optional>

#include <sys/wait.h>
#include <unistd.h>

namespace brinegate::daemon {

class ChildProcess {
 public:
  // The child runs `work` with the writing end of the pipe and ends with what it returns.
  explicit ChildProcess(const std::function<int(int)>& work) {
    int ends[2] = {-1, -1};
    if (pipe(ends) != 0) {
      return;
    }
    process_ = fork();
    if (process_ == 0) {
      ::close(ends[0]);
      _exit(work(ends[1]));
    }
    ::close(ends[1]);
    from_child_ = ends[0];
  }
  ~ChildProcess() {
    if (process_ > 0) {
      kill_and_wait();
    }
    ::close(from_child_);
  }
  ChildProcess(const ChildProcess&) = delete;
  ChildProcess& operator=(const ChildProcess&) = delete;

  // Waits for one number; none when the child has ended.
  std::optional<std::uint64_t> read_number() {
    std::uint64_t number = 0;
    const ssize_t size = ::read(from_child_, &number, sizeof number);
    return size == sizeof number ? std::optional(number) : std::nullopt;
  }

  void kill_and_wait() {
    kill(process_, SIGKILL);
    wait_for_end();
  }

  // The exit status; -1 when a signal ended it.
  int wait_for_end() {
    int status = 0;
    waitpid(process_, &status, 0);
    process_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }

 private:
  pid_t process_ = -1;
  int from_child_ = -1;
};

// For the child: a number is smaller than a pipe's atomic size, so threads may write them at will.
inline void write_number(int pipe_end, std::uint64_t number) {
  (void)!::write(pipe_end, &number, sizeof number);
}

}  // namespace brinegate::daemon
