// SPDX-License-Identifier: Apache-2.0
#include "sim/campaign_options.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <initializer_list>
#include <utility>

#include <fmt/format.h>

#include "sim/options.h"

namespace brinegate::sim {
namespace {

template <class T>
using Named = std::pair<std::string_view, T>;

constexpr std::array<Named<BatchKind>, 6> kinds{{
    {"any", BatchKind::Anything},
    {"good", BatchKind::Good},
    {"weak", BatchKind::UnderSalted},
    {"strong", BatchKind::OverSalted},
    {"one-lying-cell", BatchKind::OneLyingCell},
    {"only-cell-lying", BatchKind::OnlyCellLying},
}};
constexpr std::array<Named<ErrorLaw>, 3> error_laws{{
    {"within", ErrorLaw::Within},
    {"rectangular", ErrorLaw::Rectangular},
    {"normal", ErrorLaw::Normal},
}};

template <class T, std::size_t N>
Result<T> find_named(const std::array<Named<T>, N>& table, std::string_view name) {
  const auto* const found = std::ranges::find(table, name, &Named<T>::first);
  if (found != table.end())
    return found->second;
  std::string known;
  for (const auto& [word, value] : table)
    known += fmt::format("{}{}", known.empty() ? "" : ", ", word);
  return Error{fmt::format("\"{}\" is none of: {}", name, known)};
}

template <class T, std::size_t N>
std::string_view name_of(const std::array<Named<T>, N>& table, T value) {
  const auto* const found = std::ranges::find(table, value, &Named<T>::second);
  assert(found != table.end());
  return found->first;
}

constexpr std::uint64_t last_seed = ~std::uint64_t{0};
constexpr std::uint64_t most_batches = 10'000'000;
constexpr unsigned most_threads = 1024;

using Value = std::string_view;

constexpr std::array<Option<CampaignOptions>, 8> campaign_option_table{{
    {"--seed", "S", "of the first batch; the next has S + 1 (1)",
     [](CampaignOptions& o, Value v) {
       return take(o.plan.first_seed, parse_number<std::uint64_t>(v, 0, last_seed));
     }},
    {"--batches", "N", "so many (1000)",
     [](CampaignOptions& o, Value v) {
       return take(o.plan.batches, parse_number<std::uint64_t>(v, 1, most_batches));
     }},
    {"--kind", "KIND", "any, good, weak, strong, one-lying-cell or only-cell-lying (any)",
     [](CampaignOptions& o, Value v) { return take(o.plan.kind, find_named(kinds, v)); }},
    {"--errors", "LAW", "of the instruments: within, rectangular or normal (within)",
     [](CampaignOptions& o, Value v) { return take(o.plan.errors, find_named(error_laws, v)); }},
    {"--threads", "N", "so many at a time; the findings are the same (2)",
     [](CampaignOptions& o, Value v) {
       return take(o.plan.threads, parse_number<unsigned>(v, 1, most_threads));
     }},
    {"--json", "FILE", "write what was found for programs",
     [](CampaignOptions& o, Value v) { return take(o.json, parse_name(v)); }},
    {"--html", "FILE", "... and as figures",
     [](CampaignOptions& o, Value v) { return take(o.html, parse_name(v)); }},
    {"--replay", "SEED", "run this one batch again, tell it and draw it (--html)",
     [](CampaignOptions& o, Value v) {
       return take(o.replay, parse_number<std::uint64_t>(v, 0, last_seed));
     }},
}};

// Options that say nothing about one batch.
constexpr std::array<std::string_view, 4> of_many{"--seed", "--batches", "--threads", "--json"};

}  // namespace

Result<CampaignOptions> parse_campaign_options(std::span<const std::string_view> words) {
  CampaignOptions options;
  const auto taken = take_options("campaign", campaign_option_table, words, options);
  if (!taken.ok())
    return taken.error();
  if (options.replay)
    for (std::size_t i = 0; i < words.size(); i += 2)
      if (std::ranges::find(of_many, words[i]) != of_many.end())
        return Error{fmt::format("--replay runs one batch: leave {} away", words[i])};
  if (options.plan.batches - 1 > last_seed - options.plan.first_seed)
    return Error{"--seed: there are not so many seeds after it as --batches"};
  return options;
}

std::string campaign_help() {
  return "usage: brinegate-sim campaign [OPTION VALUE]...\n"
         "       brinegate-sim campaign --replay SEED [--kind KIND] [--errors LAW] [--html "
         "FILE]\n" +
         options_help(campaign_option_table) + R"(
Errors: within one standard uncertainty; rectangular and normal have it as their own.

Batches in virtual time, each judged by the daemon's own rules and held against the truth of the
water. Exit status: 0 nothing wrong, 1 the pump was permitted while the water was off its target or
a batch was never proven that should have been (--replay tells the same of one), 2 not run.
)";
}

std::string_view word(BatchKind kind) {
  return name_of(kinds, kind);
}

std::string_view word(ErrorLaw errors) {
  return name_of(error_laws, errors);
}

std::string replay_command(std::uint64_t seed, const CampaignPlan& plan) {
  const CampaignPlan usual;
  std::string command = fmt::format("brinegate-sim campaign --replay {}", seed);
  if (plan.kind != usual.kind)
    command += fmt::format(" --kind {}", word(plan.kind));
  if (plan.errors != usual.errors)
    command += fmt::format(" --errors {}", word(plan.errors));
  return command;
}

}  // namespace brinegate::sim
