// SPDX-License-Identifier: Apache-2.0
// Why there is no connection to the broker, and what a person can do about it.
#pragma once

#include <string>

#include "config/model.h"

namespace brinegate::config {

enum class BrokerTrouble {
  NobodyAnswers,
  AnswersTooLate,
  SpeaksNoMqtt,         // something is there that hangs up or speaks another protocol
  RefusesUs,            // user, password or access list
  NoAuthorities,        // ca_file is not there or holds no certificate
  UnknownAuthority,     // of the broker's certificate
  CertificateOutdated,  // or not valid yet
  CertificateOfAnotherHost,
  NoTls,  // for another reason
};

// Never holds a secret: neither the user's name nor anything of the password.
std::string sentence(BrokerTrouble trouble, const Mqtt& mqtt);

}  // namespace brinegate::config
