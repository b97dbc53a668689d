// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_ask.h"

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <random>
#include <utility>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/load.h"
#include "daemon/command_options.h"
#include "daemon/command_text.h"
#include "daemon/control_client.h"
#include "daemon/engine/request.h"

namespace brinegate::daemon {
namespace {

constexpr auto answer_within = std::chrono::seconds(10);

// What the answer says in words: its message, and every reason as a line.
void tell(const nlohmann::json& answer, std::ostream& stream) {
  const std::string message = answer.value("message", "");
  if (!message.empty())
    stream << wrapped(message, 0, 0);
  for (const auto& reason : answer.value("reasons", nlohmann::json::array())) {
    if (reason.is_string())
      stream << "- " << wrapped(reason.get<std::string>(), 2, 2);
  }
}

}  // namespace

std::filesystem::path configuration_path(const Arguments& arguments) {
  if (arguments.has(config_option.name))
    return arguments.option(config_option.name);
  const char* set = std::getenv("BRINEGATE_CONFIG");
  return set != nullptr && *set != '\0' ? set : "/etc/brinegate/brinegate.toml";
}

std::optional<config::Site> find_site(const Arguments& arguments, Console& console) {
  const std::filesystem::path path = configuration_path(arguments);
  config::Loaded loaded = config::load_file(path);
  if (loaded.site)
    return std::move(loaded.site);
  for (const config::Problem& problem : loaded.errors)
    fmt::print(console.err, "{}\n", config::render(problem));
  fmt::print(console.err,
             "brinegate: the daemon is found by its configuration, and {} cannot be used: name "
             "another with --config FILE or BRINEGATE_CONFIG\n",
             path.string());
  return std::nullopt;
}

std::optional<std::filesystem::path> find_data_folder(const Arguments& arguments,
                                                      Console& console) {
  const auto site = find_site(arguments, console);
  return site ? std::optional<std::filesystem::path>(site->data) : std::nullopt;
}

std::string new_request_id() {
  std::random_device random;
  return fmt::format("cli-{:08x}{:08x}{:08x}{:08x}", random(), random(), random(), random());
}

Answer ask(const Arguments& arguments, const nlohmann::json& request, Console& console) {
  const std::string line = request.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  if (const auto parsed = parse_request(line, largest_local_request); !parsed) {
    fmt::print(console.err, "brinegate: {}\n", parsed.error().message);
    return {ExitStatus::Usage, {}};
  }
  const auto data = find_data_folder(arguments, console);
  if (!data)
    return {ExitStatus::Usage, {}};
  const auto answer = ask_daemon(control_socket_file(*data), line, answer_within);
  if (!answer) {
    fmt::print(console.err, "brinegate: {}\n", answer.error().message);
    return {ExitStatus::Unreachable, {}};
  }
  return told(*answer, console);
}

Answer told(const std::string& body, Console& console) {
  const auto parsed = nlohmann::json::parse(body, nullptr, false);
  if (!parsed.is_object()) {
    console.err << "brinegate: could not understand the daemon's answer\n";
    return {ExitStatus::Unreachable, {}};
  }
  if (parsed.value("ok", false))
    return {ExitStatus::Done, body};
  tell(parsed, console.err);
  return {ExitStatus::Refused, body};
}

ExitStatus ask_and_tell(const Arguments& arguments, nlohmann::json request, Console& console) {
  request["id"] = new_request_id();
  return tell_answer(arguments, ask(arguments, request, console), console);
}

ExitStatus tell_answer(const Arguments& arguments, const Answer& answer, Console& console) {
  if (answer.body.empty())
    return answer.status;
  const auto parsed = nlohmann::ordered_json::parse(answer.body);
  if (arguments.has(json_option.name))
    console.out << parsed.dump(2) << '\n';
  else if (answer.status == ExitStatus::Done)
    tell(parsed, console.out);
  return answer.status;
}

void put_options(const Arguments& arguments, std::initializer_list<std::string_view> names,
                 nlohmann::json& request) {
  for (const std::string_view name : names) {
    if (!arguments.has(name))
      continue;
    std::string key(name);
    std::replace(key.begin(), key.end(), '-', '_');
    request[key] = arguments.option(name);
  }
}

}  // namespace brinegate::daemon
