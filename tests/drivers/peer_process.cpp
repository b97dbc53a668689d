// SPDX-License-Identifier: Apache-2.0
#include "tests/drivers/peer_process.h"

#include <array>
#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <thread>
#include <utility>

#include <arpa/inet.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

namespace brinegate::drivers {

PeerProcess::PeerProcess(std::vector<std::string> command) {
  std::array<int, 2> pipe{};
  if (::pipe2(pipe.data(), O_CLOEXEC) != 0) {
    throw std::runtime_error("no pipe");
  }
  output_ = pipe[0];
  // Should the test die, its peers die with it.
  command.insert(command.begin(), {"setpriv", "--pdeathsig", "KILL"});
  std::vector<char*> arguments;
  for (std::string& word : command) {
    arguments.push_back(word.data());
  }
  arguments.push_back(nullptr);
  posix_spawn_file_actions_t files;
  posix_spawn_file_actions_init(&files);
  posix_spawn_file_actions_adddup2(&files, pipe[1], STDOUT_FILENO);
  const int error =
      ::posix_spawnp(&id_, arguments[0], &files, nullptr, arguments.data(), ::environ);
  posix_spawn_file_actions_destroy(&files);
  ::close(pipe[1]);
  if (error != 0) {
    throw std::runtime_error("cannot start setpriv for " + command[3]);
  }
}

PeerProcess::~PeerProcess() {
  kill();
  ::close(output_);
}

std::string PeerProcess::line() {
  std::string text;
  char c = 0;
  for (;;) {
    pollfd waiting{output_, POLLIN, 0};
    if (::poll(&waiting, 1, 10'000) <= 0 || ::read(output_, &c, 1) != 1) {
      return {};
    }
    if (c == '\n') {
      return text;
    }
    text.push_back(c);
  }
}

void PeerProcess::freeze() const {
  ::kill(id_, SIGSTOP);
}

void PeerProcess::thaw() const {
  ::kill(id_, SIGCONT);
}

void PeerProcess::kill() {
  if (id_ > 0) {
    ::kill(id_, SIGKILL);
    (void)wait();
  }
}

int PeerProcess::wait() {
  int status = -1;
  ::waitpid(id_, &status, 0);
  id_ = -1;
  return status;
}

std::uint16_t free_loopback_port() {
  const int probe = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  auto* generic = reinterpret_cast<sockaddr*>(&address);
  if (::bind(probe, generic, size) != 0 || ::getsockname(probe, generic, &size) != 0) {
    throw std::runtime_error("no loopback port");
  }
  ::close(probe);
  return ntohs(address.sin_port);
}

bool wait_until_listening(std::uint16_t port) {
  for (int tries = 0; tries < 200; ++tries) {
    const int probe = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_port = htons(port);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const bool open =
        ::connect(probe, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0;
    ::close(probe);
    if (open) {
      return true;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  }
  return false;
}

}  // namespace brinegate::drivers
