// SPDX-License-Identifier: Apache-2.0
// brinegate-sim: stands in for the water and the devices, in real time (serve).
#include <cstdio>
#include <span>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "sim/serve.h"

namespace {

constexpr int done_status = 0;
constexpr int wrong_usage = 2;

constexpr std::string_view usage_text =
    "usage: brinegate-sim serve [OPTION VALUE]...   a rig on Modbus TCP, Modbus RTU and MQTT, "
    "with\n"
    "                                               faults on request (serve --help)\n"
    "       brinegate-sim help                      this\n";

bool asks_for_help(std::string_view word) {
  return word == "help" || word == "--help" || word == "-h";
}

int run_serve(std::span<const std::string_view> words) {
  if (!words.empty() && asks_for_help(words.front())) {
    fmt::print("{}", brinegate::sim::serve_help());
    return done_status;
  }
  const auto options = brinegate::sim::parse_serve_options(words);
  if (!options.ok()) {
    fmt::print(stderr, "brinegate-sim: {}\n", options.error().message);
    return wrong_usage;
  }
  return brinegate::sim::serve(*options);
}

}  // namespace

int main(int argc, char** argv) {
  const std::vector<std::string_view> words(argv + 1, argv + argc);
  if (!words.empty() && words.front() == "serve")
    return run_serve(std::span(words).subspan(1));
  if (!words.empty() && asks_for_help(words.front())) {
    fmt::print("{}", usage_text);
    return done_status;
  }
  fmt::print(stderr, "brinegate-sim: {}\n{}",
             words.empty() ? "what shall it do?" : fmt::format("there is no \"{}\"", words.front()),
             usage_text);
  return wrong_usage;
}
