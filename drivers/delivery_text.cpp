// SPDX-License-Identifier: Apache-2.0
// What is sent, in bytes: signatures and mail.
#include <array>
#include <ctime>

#include <fmt/format.h>
#include <openssl/evp.h>
#include <openssl/hmac.h>

#include "drivers/delivery.h"

namespace brinegate::drivers {
namespace {

constexpr std::size_t shortest_key = 16;  // bytes
constexpr std::size_t line_of_mail = 57;  // bytes; 76 characters of Base64 (RFC 2045)

std::string base64(std::string_view bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int length = EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                                     reinterpret_cast<const unsigned char*>(bytes.data()),
                                     static_cast<int>(bytes.size()));
  text.resize(static_cast<std::size_t>(length));
  return text;
}

// Empty where it is none.
std::string from_base64(std::string_view text) {
  if (text.size() % 4 != 0) {
    return "";
  }
  std::string bytes(3 * text.size() / 4 + 1, '\0');
  const int length = EVP_DecodeBlock(reinterpret_cast<unsigned char*>(bytes.data()),
                                     reinterpret_cast<const unsigned char*>(text.data()),
                                     static_cast<int>(text.size()));
  const std::size_t padding = text.size() - text.substr(0, text.find('=')).size();
  if (length < 0 || padding > 2) {
    return "";
  }
  bytes.resize(static_cast<std::size_t>(length) - padding);
  return bytes;
}

// RFC 5322, in English whatever the locale.
std::string mail_date(WallTime at) {
  constexpr std::array days{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
  constexpr std::array months{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                              "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const auto since_1970 =
      std::chrono::duration_cast<std::chrono::seconds>(at.time_since_epoch()).count();
  const auto seconds = static_cast<std::time_t>(since_1970);
  std::tm utc{};
  gmtime_r(&seconds, &utc);
  return fmt::format("{}, {} {} {} {:02}:{:02}:{:02} +0000",
                     days.at(static_cast<std::size_t>(utc.tm_wday)), utc.tm_mday,
                     months.at(static_cast<std::size_t>(utc.tm_mon)), 1900 + utc.tm_year,
                     utc.tm_hour, utc.tm_min, utc.tm_sec);
}

}  // namespace

std::string webhook_signature(const std::string& key, const std::string& id,
                              const std::string& timestamp, const std::string& body) {
  const std::string said = id + "." + timestamp + "." + body;
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  HMAC(EVP_sha256(), key.data(), static_cast<int>(key.size()),
       reinterpret_cast<const unsigned char*>(said.data()), said.size(), digest.data(), &length);
  return "v1," + base64({reinterpret_cast<const char*>(digest.data()), length});
}

Result<std::string> webhook_key(const std::string& line) {
  constexpr std::string_view encoded = "whsec_";
  const std::string key =
      line.starts_with(encoded) ? from_base64(std::string_view(line).substr(encoded.size())) : line;
  if (key.size() < shortest_key) {
    return Error{fmt::format("the secret is no key of {} bytes or more", shortest_key)};
  }
  return key;
}

std::string mail_message(const config::Mail& mail, const Dispatch& dispatch, WallTime now) {
  std::string to;
  for (const std::string& each : mail.to) {
    to += (to.empty() ? "" : ",\r\n ") + each;
  }
  std::string message = fmt::format(
      "Date: {}\r\nFrom: {}\r\nTo: {}\r\nSubject: {}\r\nMessage-ID: <{}@{}>\r\n"
      "Auto-Submitted: auto-generated\r\nMIME-Version: 1.0\r\n"
      "Content-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: base64\r\n\r\n",
      mail_date(now), mail.from, to, dispatch.subject, dispatch.id,
      mail.from.substr(mail.from.find('@') + 1));
  for (std::size_t at = 0; at < dispatch.text.size(); at += line_of_mail) {
    message += base64(std::string_view(dispatch.text).substr(at, line_of_mail)) + "\r\n";
  }
  return message;
}

}  // namespace brinegate::drivers
