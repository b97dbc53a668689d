// SPDX-License-Identifier: Apache-2.0
#include "config/advice_line.h"

#include <fmt/format.h>

namespace brinegate::config {
namespace {

std::string_view reason(LineTrouble trouble) {
  switch (trouble) {
    case LineTrouble::NobodyAnswers:
      return "nobody answers there: look at the host, the port and the cable; some devices take "
             "one connection only, so stop what else talks to it, the daemon too";
    case LineTrouble::NoSuchDevice:
      return "there is no such serial device: look what stands below /dev/serial/by-id";
    case LineTrouble::NoPermission:
      return "this user may not open it: run as a member of the group dialout, or with sudo";
    case LineTrouble::Busy:
      return "another program holds it: two that ask on one line take each other's answers; stop "
             "the daemon first";
    case LineTrouble::NeverSilent:
      return "the line does not fall silent: somebody else talks on it, or its baud rate or parity "
             "is another";
  }
  return "";
}

}  // namespace

std::string sentence(LineTrouble trouble, std::string_view address) {
  return fmt::format("no connection to {}: {}", address, reason(trouble));
}

}  // namespace brinegate::config
