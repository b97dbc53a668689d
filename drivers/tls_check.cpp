// SPDX-License-Identifier: Apache-2.0
#include "drivers/tls_check.h"

#include <chrono>
#include <memory>
#include <string>

#include <fcntl.h>
#include <netdb.h>
#include <openssl/ssl.h>
#include <openssl/x509v3.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include "drivers/clock.h"

namespace brinegate::drivers {

using config::BrokerTrouble;

namespace {

struct Peer {
  std::string host;
  std::string port;
};

// Of "mqtts://host:port" or "mqtts://[v6]:port", as the configuration writes them.
Peer peer_of(const std::string& broker) {
  const std::size_t begin = broker.find("//") + 2;
  const std::size_t colon = broker.rfind(':');
  std::string host = broker.substr(begin, colon - begin);
  if (host.front() == '[') {
    host = host.substr(1, host.size() - 2);
  }
  return {host, broker.substr(colon + 1)};
}

// A connected socket, for which each address was waited no longer than `patience`, or -1.
int connected_socket(const Peer& peer, Duration patience) {
  addrinfo hints{};
  hints.ai_socktype = SOCK_STREAM;
  addrinfo* found = nullptr;
  if (::getaddrinfo(peer.host.c_str(), peer.port.c_str(), &hints, &found) != 0) {
    return -1;
  }
  const std::unique_ptr<addrinfo, decltype(&::freeaddrinfo)> addresses(found, &::freeaddrinfo);
  const auto us = std::chrono::duration_cast<std::chrono::microseconds>(patience).count();
  const timeval wait{us / 1'000'000, us % 1'000'000};
  for (const addrinfo* each = found; each != nullptr; each = each->ai_next) {
    const int socket =
        ::socket(each->ai_family, each->ai_socktype | SOCK_CLOEXEC, each->ai_protocol);
    if (socket < 0) {
      continue;
    }
    ::setsockopt(socket, SOL_SOCKET, SO_SNDTIMEO, &wait, sizeof wait);
    if (::connect(socket, each->ai_addr, each->ai_addrlen) == 0) {
      return socket;
    }
    ::close(socket);
  }
  return -1;
}

BrokerTrouble trouble_of(long verification) {
  switch (verification) {
    case X509_V_ERR_CERT_HAS_EXPIRED:
    case X509_V_ERR_CERT_NOT_YET_VALID:
      return BrokerTrouble::CertificateOutdated;
    case X509_V_ERR_HOSTNAME_MISMATCH:
    case X509_V_ERR_IP_ADDRESS_MISMATCH:
      return BrokerTrouble::CertificateOfAnotherHost;
    case X509_V_OK:
      return BrokerTrouble::NoTls;
    default:
      return BrokerTrouble::UnknownAuthority;
  }
}

bool load_authorities(SSL_CTX* context, const std::string& ca_file) {
  return (ca_file.empty() ? SSL_CTX_set_default_verify_paths(context)
                          : SSL_CTX_load_verify_file(context, ca_file.c_str())) == 1;
}

// A name, or an address where it is one.
void ask_for_host(SSL* tls, std::string host) {
  X509_VERIFY_PARAM* parameters = SSL_get0_param(tls);
  if (X509_VERIFY_PARAM_set1_ip_asc(parameters, host.c_str()) != 1) {
    SSL_set1_host(tls, host.c_str());
    SSL_ctrl(tls, SSL_CTRL_SET_TLSEXT_HOSTNAME, TLSEXT_NAMETYPE_host_name, host.data());
  }
}

// By one deadline, however slowly the other side trickles.
bool handshake_succeeds(SSL* tls, int socket, MonoTime deadline) {
  SSL_set_fd(tls, socket);
  ::fcntl(socket, F_SETFL, O_NONBLOCK);
  for (;;) {
    const int result = SSL_connect(tls);
    if (result == 1) {
      return true;
    }
    const int wanted = SSL_get_error(tls, result);
    if (wanted != SSL_ERROR_WANT_READ && wanted != SSL_ERROR_WANT_WRITE) {
      return false;
    }
    const auto left =
        std::chrono::ceil<std::chrono::milliseconds>(deadline - monotonic_now()).count();
    pollfd ready{socket, static_cast<short>(wanted == SSL_ERROR_WANT_READ ? POLLIN : POLLOUT), 0};
    if (left <= 0 || ::poll(&ready, 1, static_cast<int>(left)) <= 0) {
      return false;
    }
  }
}

}  // namespace

BrokerTrouble tls_trouble(const config::Mqtt& mqtt, Duration patience) {
  const std::unique_ptr<SSL_CTX, decltype(&SSL_CTX_free)> context(SSL_CTX_new(TLS_client_method()),
                                                                  &SSL_CTX_free);
  if (!context) {
    return BrokerTrouble::NoTls;
  }
  if (!load_authorities(context.get(), mqtt.ca_file)) {
    return BrokerTrouble::NoAuthorities;
  }
  const Peer peer = peer_of(mqtt.broker);
  const int socket = connected_socket(peer, patience);
  if (socket < 0) {
    return BrokerTrouble::NobodyAnswers;
  }
  const std::unique_ptr<SSL, decltype(&SSL_free)> tls(SSL_new(context.get()), &SSL_free);
  BrokerTrouble trouble = BrokerTrouble::NoTls;
  if (tls) {
    SSL_set_verify(tls.get(), SSL_VERIFY_PEER, nullptr);
    ask_for_host(tls.get(), peer.host);
    if (!handshake_succeeds(tls.get(), socket, monotonic_now() + patience)) {
      trouble = trouble_of(SSL_get_verify_result(tls.get()));
    }
  }
  ::close(socket);
  return trouble;
}

}  // namespace brinegate::drivers
