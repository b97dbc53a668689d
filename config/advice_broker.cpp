// SPDX-License-Identifier: Apache-2.0
#include "config/advice_broker.h"

#include <fmt/format.h>

namespace brinegate::config {
namespace {

std::string authorities(const Mqtt& mqtt) {
  return mqtt.ca_file.empty() ? "this computer trusts" : "stands in " + mqtt.ca_file;
}

std::string reason(BrokerTrouble trouble, const Mqtt& mqtt) {
  switch (trouble) {
    case BrokerTrouble::NobodyAnswers:
      return "nobody answers there";
    case BrokerTrouble::AnswersTooLate:
      return "it does not answer in time";
    case BrokerTrouble::SpeaksNoMqtt:
      return "what answers there hangs up: a port with TLS needs mqtts://, one without mqtt://";
    case BrokerTrouble::RefusesUs:
      return "it refuses the user or the password: see 'username' and 'password_file'";
    case BrokerTrouble::NoAuthorities:
      return fmt::format("no certificate can be read from {}: see 'ca_file'", mqtt.ca_file);
    case BrokerTrouble::UnknownAuthority:
      return fmt::format(
          "its certificate is REFUSED, for it was not signed by anybody who {}: write whose "
          "signature counts as 'ca_file', if this is your broker",
          authorities(mqtt));
    case BrokerTrouble::CertificateOutdated:
      return "its certificate is REFUSED, for it has expired or is not valid yet: renew it, or set "
             "the clocks";
    case BrokerTrouble::CertificateOfAnotherHost:
      return "its certificate is REFUSED, for it names another host: write as 'broker' the name "
             "that it bears, if this is your broker";
    case BrokerTrouble::NoTls:
      return "no TLS comes about with what answers there";
  }
  return "";
}

}  // namespace

std::string sentence(BrokerTrouble trouble, const Mqtt& mqtt) {
  return fmt::format("no connection to the broker {}: {}", mqtt.broker, reason(trouble, mqtt));
}

}  // namespace brinegate::config
