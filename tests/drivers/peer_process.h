// SPDX-License-Identifier: Apache-2.0
// Another program as a peer in a test: started, frozen, killed, and gone with the test.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include <sys/types.h>

namespace brinegate::drivers {

class PeerProcess {
 public:
  explicit PeerProcess(std::vector<std::string> command);
  ~PeerProcess();
  PeerProcess(const PeerProcess&) = delete;
  PeerProcess& operator=(const PeerProcess&) = delete;

  // The next line that it prints; empty when it ended or stayed silent for ten seconds.
  std::string line();
  void freeze() const;
  void thaw() const;
  // Ends it at once, as a power cut would.
  void kill();
  [[nodiscard]] int wait();

 private:
  pid_t id_ = -1;
  int output_ = -1;
};

// A port that was free a moment ago, chosen by the kernel, for servers that cannot ask for one.
std::uint16_t free_loopback_port();
bool wait_until_listening(std::uint16_t port);

}  // namespace brinegate::drivers
