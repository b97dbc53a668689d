// SPDX-License-Identifier: Apache-2.0
// See data_lock.h.
#include "daemon/data_lock.h"

#include <array>
#include <cerrno>
#include <cstring>
#include <string>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

namespace brinegate::daemon {
namespace {

// What the holder wrote into the lock file, for the message only: the lock itself is the kernel's.
std::string holder(int descriptor) {
  std::array<char, 16> text{};
  const ssize_t size = pread(descriptor, text.data(), text.size(), 0);
  std::string process(text.data(), size > 0 ? static_cast<std::size_t>(size) : 0);
  const bool a_number =
      !process.empty() && process.find_first_not_of("0123456789") == std::string::npos;
  return a_number ? "process " + process : "another process";
}

}  // namespace

Result<DataLock> DataLock::take(const std::filesystem::path& data) {
  std::error_code failure;
  if (std::filesystem::create_directories(data, failure); failure) {
    return Error{
        fmt::format("cannot create the data folder {}: {}", data.string(), failure.message())};
  }
  using std::filesystem::perms;
  const auto rights = std::filesystem::status(data, failure).permissions();
  if (!failure && (rights & perms::others_write) != perms::none) {
    return Error{fmt::format(
        "everybody may write into the data folder {}, hence change the record: chmod 700 it",
        data.string())};
  }
  const std::filesystem::path file = data / "brinegate.lock";
  // Closed on exec: a child that outlived the daemon would hold the lock on.
  const int descriptor = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (descriptor < 0) {
    return Error{fmt::format("cannot open {}: {}", file.string(), std::strerror(errno))};
  }
  DataLock lock(descriptor);
  if (flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK) {
      return Error{fmt::format("cannot lock {}: {}", file.string(), std::strerror(errno))};
    }
    return Error{fmt::format(
        "the data folder {} is in use by {}: stop that daemon, or give this one another folder",
        data.string(), holder(descriptor))};
  }
  const std::string process = std::to_string(getpid());
  // A full disk must not hinder the start: the number only serves a message.
  if (ftruncate(descriptor, 0) == 0) {
    (void)!pwrite(descriptor, process.data(), process.size(), 0);
  }
  return lock;
}

DataLock::DataLock(DataLock&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)) {}

DataLock::~DataLock() {
  if (descriptor_ >= 0) {
    ::close(descriptor_);
  }
}

}  // namespace brinegate::daemon
