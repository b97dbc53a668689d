// SPDX-License-Identifier: Apache-2.0
// One daemon a data folder: the lock goes with the process, however it ends.
#pragma once

#include <filesystem>

#include "rules/result.h"

namespace brinegate::daemon {

class DataLock {
 public:
  // Creates the folder if need be. Error where another process holds the lock.
  static Result<DataLock> take(const std::filesystem::path& data);
  DataLock(DataLock&& other) noexcept;
  DataLock& operator=(DataLock&&) = delete;
  ~DataLock();

 private:
  explicit DataLock(int descriptor) : descriptor_(descriptor) {}

  int descriptor_;
};

}  // namespace brinegate::daemon
