// SPDX-License-Identifier: Apache-2.0
// brinegate-sim: stands in for the water and the devices, in real time (serve), for thousands of
// batches in virtual time (campaign), or for years of faults (faults).
#include <cstdio>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <fmt/format.h>

#include "sim/campaign_command.h"
#include "sim/exit_status.h"
#include "sim/faults/faults_command.h"
#include "sim/serve.h"

namespace {

constexpr int wrong_usage = 2;

constexpr std::string_view usage_text =
    "usage: brinegate-sim serve [OPTION VALUE]...   a rig on Modbus TCP, Modbus RTU and MQTT, "
    "with\n"
    "                                               faults on request (serve --help)\n"
    "       brinegate-sim campaign [OPTION VALUE]... many batches in virtual time, each held\n"
    "                                               against the truth (campaign --help)\n"
    "       brinegate-sim faults [OPTION VALUE]...  stations through years of faults, each held\n"
    "                                               against the truth (faults --help)\n"
    "       brinegate-sim help                      this\n";

bool asks_for_help(std::string_view word) {
  return word == "help" || word == "--help" || word == "-h";
}

template <class Options>
struct Subcommand {
  std::string (*help)();
  brinegate::Result<Options> (*parse)(std::span<const std::string_view> words);
  int (*run)(const Options& options);
};

template <class Options>
int run(const Subcommand<Options>& command, std::span<const std::string_view> words) {
  if (!words.empty() && asks_for_help(words.front())) {
    fmt::print("{}", command.help());
    return brinegate::sim::done_status;
  }
  const auto options = command.parse(words);
  if (!options.ok()) {
    fmt::print(stderr, "brinegate-sim: {}\n", options.error().message);
    return wrong_usage;
  }
  return command.run(*options);
}

}  // namespace

namespace sim = brinegate::sim;

int main(int argc, char** argv) {
  const std::vector<std::string_view> words(argv + 1, argv + argc);
  const auto rest = std::span(words).subspan(words.empty() ? 0 : 1);
  if (!words.empty() && words.front() == "serve")
    return run<sim::ServeOptions>({sim::serve_help, sim::parse_serve_options, sim::serve}, rest);
  if (!words.empty() && words.front() == "campaign")
    return run<sim::CampaignOptions>(
        {sim::campaign_help, sim::parse_campaign_options, sim::campaign}, rest);
  if (!words.empty() && words.front() == "faults")
    return run<sim::FaultsOptions>({sim::faults_help, sim::parse_faults_options, sim::faults},
                                   rest);
  if (!words.empty() && asks_for_help(words.front())) {
    fmt::print("{}", usage_text);
    return brinegate::sim::done_status;
  }
  fmt::print(stderr, "brinegate-sim: {}\n{}",
             words.empty() ? "what shall it do?" : fmt::format("there is no \"{}\"", words.front()),
             usage_text);
  return wrong_usage;
}
