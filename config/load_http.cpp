// SPDX-License-Identifier: Apache-2.0
// Section [http]: where browsers and programs are answered, and what they must bring.
#include <algorithm>
#include <array>
#include <string_view>

#include <arpa/inet.h>
#include <fmt/format.h>

#include "config/address.h"
#include "config/load_sections.h"

namespace brinegate::config {
namespace {

bool is_numeric_address(const std::string& address) {
  std::array<unsigned char, sizeof(in6_addr)> bytes{};
  return inet_pton(AF_INET, address.c_str(), bytes.data()) == 1 ||
         inet_pton(AF_INET6, address.c_str(), bytes.data()) == 1;
}

void read_listen(TableReader& reader, Http& http) {
  std::string text;
  if (!reader.read("listen", text))
    return;
  std::string address;
  std::uint16_t port = http.port;
  const bool is_split = parse_host_and_port(text, address, port);
  if (address == "localhost")
    address = "127.0.0.1";
  if (is_split && is_numeric_address(address)) {
    http.address = address;
    http.port = port;
    return;
  }
  reader.error("listen", fmt::format("'listen': \"{}\" is no address of this computer: write "
                                     "\"127.0.0.1:8480\", \"[::1]:8480\", or \"0.0.0.0:8480\" for "
                                     "every network it is in",
                                     text));
}

bool is_host_name(std::string_view name) {
  constexpr std::string_view letters = "abcdefghijklmnopqrstuvwxyz0123456789-.";
  return !name.empty() && name.size() <= 253 && name.front() != '.' && name.front() != '-' &&
         name.find_first_not_of(letters) == std::string_view::npos;
}

void read_hosts(TableReader& reader, Http& http, Problems& problems) {
  const Array* list = nullptr;
  if (!reader.read_list("hosts", list))
    return;
  for (const Node& node : *list) {
    const auto* name = std::get_if<std::string>(&node.value);
    if (name && is_host_name(*name))
      http.hosts.push_back(*name);
    else
      problems.error(node.at,
                     "'hosts': a name is as browsers show it, in lower case, without \"http://\" "
                     "and without port: write for example hosts = [\"cellar.example\"]");
  }
}

}  // namespace

bool Http::on_loopback() const {
  return address.starts_with("127.") || address == "::1";
}

Http read_http(const Node& node, Context& context) {
  TableReader reader(node, known::http, "http", context.problems);
  Http http;
  read_listen(reader, http);
  read_file_name(reader, "token_file", http.token_file, context);
  read_hosts(reader, http, context.problems);
  if (http.on_loopback()) {
    if (http.token_file.empty())
      reader.hazard("token_file",
                    "http without 'token_file': it can be read on this computer by everybody, and "
                    "nothing can be asked for");
  } else {
    if (!reader.has("token_file"))
      reader.error("listen",
                   "'listen' is an address that others reach, and there is no 'token_file': write "
                   "token_file = \"http.token\" too, or listen on \"127.0.0.1:8480\"");
    reader.hazard("listen",
                  "http is without encryption, and this address is reached by others: who listens "
                  "on the network reads the token along; listen on \"127.0.0.1:8480\" and put a "
                  "reverse proxy with TLS in front");
  }
  report_secret_file("token file", http.token_file, reader.at("token_file"), context.problems);
  return http;
}

}  // namespace brinegate::config
