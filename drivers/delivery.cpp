// SPDX-License-Identifier: Apache-2.0
// See delivery.h.
#include "drivers/delivery.h"

#include <algorithm>
#include <cstring>
#include <fstream>
#include <memory>
#include <utility>

#define CURL_DISABLE_TYPECHECK  // its casts are not in our style
#include <curl/curl.h>
#include <fmt/format.h>

namespace brinegate::drivers {
namespace {

constexpr long longest_connect_s = 10;
constexpr long longest_attempt_s = 30;
constexpr std::size_t most_of_an_answer = std::size_t{64} * 1024;

void start_library_once() {
  static const CURLcode started = curl_global_init(CURL_GLOBAL_DEFAULT);
  static_cast<void>(started);
}

// What is read of a secret; nothing of it may show in a message.
Result<std::string> first_line(const std::string& file) {
  std::ifstream stream(file);
  std::string line;
  if (!std::getline(stream, line) || line.empty()) {
    return Error{fmt::format("{} holds no secret that can be read", file)};
  }
  if (line.back() == '\r') {
    line.pop_back();
  }
  return line;
}

std::size_t discard(char*, std::size_t size, std::size_t count, void* taken) {
  auto& sum = *static_cast<std::size_t*>(taken);
  sum += size * count;
  return sum > most_of_an_answer ? 0 : size * count;
}

int stop_asked(void* stop, curl_off_t, curl_off_t, curl_off_t, curl_off_t) {
  return static_cast<const std::atomic<bool>*>(stop)->load() ? 1 : 0;
}

struct Upload {
  std::string text;
  std::size_t sent = 0;
};

std::size_t give(char* into, std::size_t size, std::size_t count, void* from) {
  auto& upload = *static_cast<Upload*>(from);
  const std::size_t part = std::min(size * count, upload.text.size() - upload.sent);
  std::memcpy(into, upload.text.data() + upload.sent, part);
  upload.sent += part;
  return part;
}

// One transfer, with what every one of ours has in common.
class Transfer {
 public:
  Transfer(const std::string& url, const std::string& ca_file, const std::atomic<bool>& stop)
      : handle_(curl_easy_init(), curl_easy_cleanup) {
    set(CURLOPT_URL, url.c_str());
    set(CURLOPT_NOSIGNAL, 1L);
    set(CURLOPT_PROTOCOLS_STR, "http,https,smtp,smtps");
    set(CURLOPT_FOLLOWLOCATION, 0L);
    set(CURLOPT_PROXY, "");  // what the environment says is not the configuration
    set(CURLOPT_CONNECTTIMEOUT, longest_connect_s);
    set(CURLOPT_TIMEOUT, longest_attempt_s);
    set(CURLOPT_SSLVERSION, static_cast<long>(CURL_SSLVERSION_TLSv1_2));
    set(CURLOPT_WRITEFUNCTION, discard);
    set(CURLOPT_WRITEDATA, &taken_);
    set(CURLOPT_NOPROGRESS, 0L);
    set(CURLOPT_XFERINFOFUNCTION, stop_asked);
    set(CURLOPT_XFERINFODATA, &stop);
    if (!ca_file.empty()) {
      set(CURLOPT_CAINFO, ca_file.c_str());
      set(CURLOPT_CAPATH, nullptr);
    }
  }

  template <class Value>
  void set(CURLoption option, Value value) {
    curl_easy_setopt(handle_.get(), option, value);
  }
  void add(const std::string& line, CURLoption list) {
    curl_slist*& lines = list == CURLOPT_HTTPHEADER ? headers_ : recipients_;
    lines = curl_slist_append(lines, line.c_str());
    set(list, lines);
  }
  // The last status that the peer answered with, 0 without one.
  CURLcode perform(long& status) {
    const CURLcode code = curl_easy_perform(handle_.get());
    curl_easy_getinfo(handle_.get(), CURLINFO_RESPONSE_CODE, &status);
    return code;
  }

  Transfer(const Transfer&) = delete;
  Transfer& operator=(const Transfer&) = delete;
  ~Transfer() {
    handle_.reset();
    curl_slist_free_all(headers_);
    curl_slist_free_all(recipients_);
  }

 private:
  std::unique_ptr<CURL, void (*)(CURL*)> handle_;
  std::size_t taken_ = 0;
  curl_slist* headers_ = nullptr;
  curl_slist* recipients_ = nullptr;
};

DeliveryOutcome ended_over_http(Transfer& transfer) {
  long status = 0;
  const CURLcode code = transfer.perform(status);
  // An answer that is too long, or breaks off, is an answer.
  const bool answered = status != 0 && (code == CURLE_OK || code == CURLE_WRITE_ERROR);
  if (!answered) {
    return {DeliveryEnd::TryLater, curl_easy_strerror(code)};
  }
  if (status >= 200 && status < 300) {
    return {DeliveryEnd::Delivered, ""};
  }
  const bool asks_for_patience =
      status >= 500 || status == 408 || status == 425 || status == 429;  // RFC 9110, 8470, 6585
  return {asks_for_patience ? DeliveryEnd::TryLater : DeliveryEnd::Refused,
          fmt::format("answered {}", status)};
}

DeliveryOutcome post(const config::NotifyTarget& target, const std::string& key,
                     const Dispatch& dispatch, WallTime now, const std::atomic<bool>& stop) {
  Transfer transfer(std::get<config::Webhook>(target.by).url, target.ca_file, stop);
  const std::string timestamp = fmt::format(
      "{}", std::chrono::duration_cast<std::chrono::seconds>(now.time_since_epoch()).count());
  transfer.set(CURLOPT_POSTFIELDSIZE, static_cast<long>(dispatch.json.size()));
  transfer.set(CURLOPT_POSTFIELDS, dispatch.json.c_str());
  transfer.add("Content-Type: application/json", CURLOPT_HTTPHEADER);
  transfer.add("Expect:", CURLOPT_HTTPHEADER);
  transfer.add("User-Agent: brinegate", CURLOPT_HTTPHEADER);
  transfer.add("webhook-id: " + dispatch.id, CURLOPT_HTTPHEADER);
  transfer.add("webhook-timestamp: " + timestamp, CURLOPT_HTTPHEADER);
  if (!key.empty()) {
    transfer.add(
        "webhook-signature: " + webhook_signature(key, dispatch.id, timestamp, dispatch.json),
        CURLOPT_HTTPHEADER);
  }
  return ended_over_http(transfer);
}

DeliveryOutcome mail_to(const config::NotifyTarget& target, const std::string& password,
                        const Dispatch& dispatch, WallTime now, const std::atomic<bool>& stop) {
  const auto& mail = std::get<config::Mail>(target.by);
  Transfer transfer(mail.server, target.ca_file, stop);
  Upload upload{mail_message(mail, dispatch, now)};
  transfer.set(CURLOPT_USE_SSL,
               static_cast<long>(mail.start_tls ? CURLUSESSL_ALL : CURLUSESSL_NONE));
  transfer.set(CURLOPT_MAIL_FROM, mail.from.c_str());
  for (const std::string& each : mail.to) {
    transfer.add(each, CURLOPT_MAIL_RCPT);
  }
  if (!mail.username.empty()) {
    transfer.set(CURLOPT_USERNAME, mail.username.c_str());
    transfer.set(CURLOPT_PASSWORD, password.c_str());
  }
  transfer.set(CURLOPT_UPLOAD, 1L);
  transfer.set(CURLOPT_READFUNCTION, give);
  transfer.set(CURLOPT_READDATA, &upload);
  long status = 0;
  const CURLcode code = transfer.perform(status);
  if (code == CURLE_OK) {
    return {DeliveryEnd::Delivered, ""};
  }
  const bool for_good = status >= 500 && status < 600;  // RFC 5321, 4.2.1
  return {for_good ? DeliveryEnd::Refused : DeliveryEnd::TryLater,
          status >= 400 ? fmt::format("answered {}", status) : curl_easy_strerror(code)};
}

}  // namespace

Result<Carry> carry_to(const config::NotifyTarget& target) {
  start_library_once();
  const auto* mail = std::get_if<config::Mail>(&target.by);
  const std::string& file =
      mail != nullptr ? mail->password_file : std::get<config::Webhook>(target.by).secret_file;
  std::string secret;
  if (!file.empty()) {
    Result<std::string> line = first_line(file);
    if (line && mail == nullptr) {
      line = webhook_key(line.value());
    }
    if (!line) {
      return Error{fmt::format("notify.{}: {}", target.name, line.error().message)};
    }
    secret = line.value();
  }
  return Carry([target, secret, is_mail = mail != nullptr](const Dispatch& dispatch, WallTime now,
                                                           const std::atomic<bool>& stop) {
    return is_mail ? mail_to(target, secret, dispatch, now, stop)
                   : post(target, secret, dispatch, now, stop);
  });
}

Carry heartbeat_to(const config::Heartbeat& heartbeat) {
  start_library_once();
  return [heartbeat](const Dispatch&, WallTime, const std::atomic<bool>& stop) {
    Transfer transfer(heartbeat.url, heartbeat.ca_file, stop);
    transfer.add("User-Agent: brinegate", CURLOPT_HTTPHEADER);
    return ended_over_http(transfer);
  };
}

}  // namespace brinegate::drivers
