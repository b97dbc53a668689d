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

// An empty folder that is removed at the end.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  [[nodiscard]] std::string file(const std::string& name) const { return path_ + "/" + name; }
  // A broker started by root drops its rights to a user of its own.
  void open_for_other_users() const;

 private:
  std::string path_;
};

}  // namespace brinegate::drivers
