// SPDX-License-Identifier: Apache-2.0
// Why a Modbus line cannot be asked, and what a person can do about it.
#pragma once

#include <string>
#include <string_view>

namespace brinegate::config {

enum class LineTrouble {
  NobodyAnswers,  // at the TCP address
  NoSuchDevice,   // or no serial one
  NoPermission,
  Busy,         // another program holds the serial device
  NeverSilent,  // somebody else talks on it
};

// `address`: as it was written.
std::string sentence(LineTrouble trouble, std::string_view address);

}  // namespace brinegate::config
