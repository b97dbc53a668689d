// SPDX-License-Identifier: Apache-2.0
// Sections [notify.NAME] and [heartbeat]: who is told of alarms elsewhere. An address may hold a
// secret of its own, so none is repeated in a message.
#include <algorithm>
#include <string_view>

#include <arpa/inet.h>
#include <fmt/format.h>

#include "config/address.h"
#include "config/load_sections.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

constexpr std::size_t longest_address = 2000;
constexpr std::size_t most_recipients = 20;

bool is_visible(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c > ' ' && c < '\x7f'; });
}

// A name such as "127.0.0.1.example" is somebody else's.
bool is_loopback(const std::string& host) {
  in_addr address{};
  return host == "localhost" || host == "::1" ||
         (host.starts_with("127.") && inet_pton(AF_INET, host.c_str(), &address) == 1);
}

// What stands behind `scheme` up to the path, where it is a host and maybe a port.
bool split_address(std::string_view url, std::string_view scheme, std::string& host,
                   std::uint16_t& port) {
  if (!url.starts_with(scheme) || url.size() > longest_address || !is_visible(url))
    return false;
  const std::string_view rest = url.substr(scheme.size());
  return parse_host_and_port(rest.substr(0, rest.find_first_of("/?#")), host, port);
}

void read_url(TableReader& reader, std::string_view key, std::string& url) {
  std::string text;
  if (!reader.read(key, text))
    return;
  std::string host;
  std::uint16_t port = 0;
  const bool is_near = split_address(text, "http://", host, port) && is_loopback(host);
  if (is_near || split_address(text, "https://", host, port))
    url = text;
  else
    reader.error(key, fmt::format("'{}' is no address to send to: write \"https://HOST/PATH\", "
                                  "without a name or password in it; \"http://\" only to this "
                                  "computer itself",
                                  key));
}

void read_secret(TableReader& reader, std::string_view key, std::string_view what,
                 std::string& file, Context& context) {
  read_file_name(reader, key, file, context);
  report_secret_file(what, file, reader.at(key), context.problems);
}

Webhook read_webhook(TableReader& reader, Context& context) {
  Webhook webhook;
  read_url(reader, "webhook", webhook.url);
  read_secret(reader, "secret_file", "secret file", webhook.secret_file, context);
  if (!reader.has("secret_file"))
    reader.hazard("webhook",
                  "'webhook' without 'secret_file': who receives it cannot tell our messages from "
                  "anybody else's");
  return webhook;
}

bool is_mail_address(std::string_view text) {
  const std::size_t at = text.find('@');
  return at != std::string_view::npos && at > 0 && at + 1 < text.size() && text.size() <= 254 &&
         text.find('@', at + 1) == std::string_view::npos && is_visible(text) &&
         text.find_first_of("<>,;:\"\\()") == std::string_view::npos;
}

void read_server(TableReader& reader, Mail& mail) {
  std::string text;
  if (!reader.read("smtp", text))
    return;
  std::string host;
  std::uint16_t port = 465;
  const auto is = [&](std::string_view scheme) {
    return split_address(text, scheme, host, port) && text.find('/', scheme.size()) == text.npos;
  };
  const bool is_secure = is("smtps://");
  if (!is_secure)
    port = 587;
  if (is_secure || is("smtp://")) {
    mail.start_tls = !is_secure && !is_loopback(host);
    mail.server = fmt::format("{}://{}:{}", is_secure ? "smtps" : "smtp",
                              host.find(':') == host.npos ? host : "[" + host + "]", port);
    return;
  }
  reader.error("smtp",
               "'smtp' is no mail server: write \"smtps://HOST:465\", or \"smtp://HOST:587\", "
               "which must then offer STARTTLS unless it is this computer");
}

void read_recipients(TableReader& reader, Mail& mail, Problems& problems) {
  const Array* list = nullptr;
  if (!reader.read_list("to", list))
    return;
  for (const Node& node : *list) {
    const auto* address = std::get_if<std::string>(&node.value);
    if (address && is_mail_address(*address))
      mail.to.push_back(*address);
    else
      problems.error(node.at, "'to': a mail address is as in to = [\"keeper@cellar.example\"]");
  }
  if (list->empty() || list->size() > most_recipients)
    reader.error("to", fmt::format("'to' must name 1 to {} addresses", most_recipients));
}

Mail read_mail(TableReader& reader, Context& context) {
  Mail mail;
  read_server(reader, mail);
  if (reader.read("from", mail.from) && !is_mail_address(mail.from))
    reader.error("from", "'from' is no mail address: write from = \"brinegate@cellar.example\"");
  read_recipients(reader, mail, context.problems);
  reader.read("username", mail.username);
  read_secret(reader, "password_file", "password file", mail.password_file, context);
  if (reader.has("password_file") != reader.has("username"))
    reader.error(reader.has("username") ? "username" : "password_file",
                 "'username' and 'password_file' go together: write both or neither");
  return mail;
}

}  // namespace

NotifyTarget read_notify(const std::string& name, const Node& node, Context& context) {
  static constexpr Kind kinds[]{{"webhook", "a webhook", known::notify_webhook},
                                {"smtp", "mail", known::notify_mail}};
  NotifyTarget target;
  target.name = name;
  const std::string where = "notify." + name;
  const Kind* const kind = kind_of_table(node, kinds, where, context.problems);
  if (!kind)
    return target;
  TableReader reader(node, kind->section, where, context.problems);
  if (kind->key == "webhook")
    target.by = read_webhook(reader, context);
  else
    target.by = read_mail(reader, context);
  read_file_name(reader, "ca_file", target.ca_file, context);
  reader.read("repeat_every", parse_duration, {"1 min", "7 d"}, target.repeat_every);
  return target;
}

Heartbeat read_heartbeat(const Node& node, Context& context) {
  TableReader reader(node, known::heartbeat, "heartbeat", context.problems);
  Heartbeat heartbeat;
  read_url(reader, "url", heartbeat.url);
  read_file_name(reader, "ca_file", heartbeat.ca_file, context);
  reader.read("every", parse_duration, {"10 s", "1 d"}, heartbeat.every);
  return heartbeat;
}

}  // namespace brinegate::config
