// SPDX-License-Identifier: Apache-2.0
#include "sim/faults/fault_report.h"

#include <array>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace brinegate::sim {
namespace {

constexpr std::size_t most_stories = 5;  // in the table; the rest are in the JSON

using Line = std::pair<std::string_view, double>;

std::array<Line, 11> sums(const Tally& t) {
  const auto number = [](std::uint64_t count) { return static_cast<double>(count); };
  return {{{"lives", number(t.lives)},
           {"turns of the engine", number(t.turns)},
           {"batches begun", number(t.batches)},
           {"proofs", number(t.proofs)},
           {"changes asked for", number(t.changes_asked)},
           {"changes and runs completed", number(t.changes_completed)},
           {"openings of the gate", number(t.opens)},
           {"seconds of pumping by permit", t.pumped_s},
           {"kills", number(t.kills)},
           {"starts", number(t.restarts)},
           {"appends acknowledged", number(t.appends_acknowledged)}}};
}

// No rule could have prevented these, or not without an honest instrument.
std::array<Line, 5> unavoidable(const Tally& t) {
  const Unavoidable& u = t.unavoidable;
  return {{{"pumping through a welded contact", u.welded_s},
           {"pumping by a second master's hand", u.second_master_s},
           {"siphon flow without the pump", u.siphon_s},
           {"off its profile before any cell could show it", u.before_any_cell_s},
           {"off its profile with no honest cell or thermometer", u.without_honest_cell_s}}};
}

std::string recovery_text(const Tally& t) {
  return fmt::format("{} of {} lives recovered, the slowest within {:.1f} h\n", t.recovered,
                     t.lives, t.slowest_recovery_s / 3600.0);
}

std::string story_of(const Violation& violation) {
  std::string text =
      fmt::format("\nseed {}, after {:.2f} days: {}: {}\n", violation.seed,
                  seconds(violation.at) / 86400.0, word(violation.invariant), violation.what);
  const std::size_t shown = std::min<std::size_t>(violation.story.size(), 12);
  for (std::size_t i = violation.story.size() - shown; i < violation.story.size(); ++i)
    text += "    " + violation.story[i].substr(0, 160) + "\n";
  return text + fmt::format("    brinegate-sim faults --replay {}\n", violation.seed);
}

}  // namespace

std::string fault_table(const FaultSummary& summary) {
  const Tally& t = summary.tally;
  std::string text = fmt::format("{:.1f} station-years under faults, seeds from {}\n\n",
                                 summary.years(), summary.plan.first_seed);
  for (const auto& [what, count] : sums(t))
    text += fmt::format("{:<58}{:>14.0f}\n", what, count);
  text += "\nFaults\n";
  for (std::size_t i = 0; i < fault_kinds; ++i)
    text += fmt::format("  {:<56}{:>14}\n", word(static_cast<FaultKind>(i)), t.faults[i]);
  text += fmt::format("\n{:<60}{:>12}{:>12}\n", "Invariants", "looked at", "violated");
  for (std::size_t i = 0; i < invariants; ++i)
    text += fmt::format("  {:<58}{:>12}{:>12}\n", word(static_cast<Invariant>(i)), t.checked[i],
                        t.violated[i]);
  text += "\nUnavoidable, in seconds\n";
  for (const auto& [what, count] : unavoidable(t))
    text += fmt::format("  {:<56}{:>14.0f}\n", what, count);
  text += "\nReached\n";
  for (std::size_t i = 0; i < marks; ++i)
    text += fmt::format("  {:<56}{:>14}\n", word(static_cast<Mark>(i)),
                        t.reached[i] > 0 ? fmt::format("{}", t.reached[i]) : "NEVER");
  text += "\n" + recovery_text(t);
  for (std::size_t i = 0; i < t.violations.size() && i < most_stories; ++i)
    text += story_of(t.violations[i]);
  return text + fmt::format("\n{:.0f} s of CPU, {:.1f} s a station-year\n", summary.cpu_seconds,
                            summary.cpu_seconds / std::max(1e-9, summary.years()));
}

nlohmann::ordered_json fault_json(const FaultSummary& summary) {
  const Tally& t = summary.tally;
  nlohmann::ordered_json json;
  json["station_years"] = summary.years();
  json["first_seed"] = summary.plan.first_seed;
  for (const auto& [what, count] : sums(t))
    json["sums"][std::string(what)] = count;
  json["recovered"] = t.recovered;
  json["slowest_recovery_h"] = t.slowest_recovery_s / 3600.0;
  for (std::size_t i = 0; i < fault_kinds; ++i)
    json["faults"][std::string(word(static_cast<FaultKind>(i)))] = t.faults[i];
  for (std::size_t i = 0; i < invariants; ++i)
    json["invariants"][std::string(word(static_cast<Invariant>(i)))] = {
        {"looked_at", t.checked[i]}, {"violated", t.violated[i]}};
  for (const auto& [what, count] : unavoidable(t))
    json["unavoidable_s"][std::string(what)] = count;
  for (std::size_t i = 0; i < marks; ++i)
    json["reached"][std::string(word(static_cast<Mark>(i)))] = t.reached[i];
  json["violations"] = nlohmann::ordered_json::array();
  for (const Violation& violation : t.violations)
    json["violations"].push_back({{"invariant", word(violation.invariant)},
                                  {"seed", violation.seed},
                                  {"after_s", seconds(violation.at)},
                                  {"what", violation.what},
                                  {"story", violation.story}});
  json["clean"] = summary.is_clean();
  json["cpu_seconds"] = summary.cpu_seconds;
  return json;
}

}  // namespace brinegate::sim
