// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_plan.h"

#include <cmath>
#include <cstdlib>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_options.h"
#include "daemon/engine/library_question.h"

namespace brinegate::daemon {
namespace {

Result<int> parse_times(std::string_view text) {
  const auto number = parse_number(text);
  if (!number || *number < 0.0 || *number > most_changes || *number != std::floor(*number))
    return Error{fmt::format("\"{}\" is not a whole number up to {}", text, most_changes)};
  return static_cast<int>(*number);
}

}  // namespace

std::vector<Option> plan_options() {
  return {{"change", "20 %", "share of the tank's water, or a volume, at each change", true},
          {"times", "4", "so many changes; assumed 1"},
          {"every", "7 d", "time between them; the first comes so long from now; assumed 7 d"},
          {"continuous", "", "drip it in and let it overflow, that much in each interval"},
          {"salinity", "35 ppt", "of the new water; else the tank's"},
          {"temperature", "25 C", "of the new water; else the tank's"}};
}

std::optional<ChangePlan> read_plan(const Arguments& arguments, const Tank& tank,
                                    Console& console) {
  OptionReader reader(arguments, console);
  AskedPlan asked;
  asked.change = reader.read("change", parse_exchange, asked.change);
  asked.times = reader.read("times", parse_times, asked.times);
  asked.every = reader.find("every", config::parse_duration);
  asked.continuous = arguments.has("continuous");
  asked.salinity = reader.find("salinity", config::parse_salinity);
  asked.temperature = reader.find("temperature", config::parse_temperature);
  if (!reader.all_read())
    return std::nullopt;
  const auto plan = plan_of(asked, tank);
  if (plan)
    return plan.value();
  fmt::print(console.err, "brinegate: {}\n", plan.error().message);
  return std::nullopt;
}

std::string person(const Arguments& arguments) {
  if (arguments.has(by_option.name))
    return std::string(arguments.option(by_option.name));
  const char* const user = std::getenv("USER");
  return user != nullptr ? user : "";
}

ExitStatus print_view(const Arguments& arguments, const nlohmann::ordered_json& view,
                      const std::string& text, Console& console) {
  console.out << (arguments.has(json_option.name) ? view.dump(2) + '\n' : text);
  return ExitStatus::Done;
}

}  // namespace brinegate::daemon
