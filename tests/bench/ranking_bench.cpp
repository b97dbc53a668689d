// SPDX-License-Identifier: Apache-2.0
// What ranking lots for one tank costs: time, its growth with the number of lots, and memory.
// Prints a line for people and JSON for programs.
#include <algorithm>
#include <chrono>
#include <cstddef>
#include <ctime>
#include <fstream>
#include <limits>
#include <random>
#include <span>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "rules/chemistry/ranking.h"

namespace brinegate {
namespace {

using namespace std::chrono_literals;

constexpr std::size_t analytes_of_a_lot = 40;
constexpr std::size_t few_lots = 10'000;
constexpr std::size_t many_lots = 2 * few_lots;
constexpr int runs = 15;
constexpr WallTime begin{std::chrono::hours(24 * 365 * 56)};

double usual(const AnalyteRow& row) {
  return row.natural.value_or(0.01);
}

// As read from a file, every value with the text it was written as.
Assay analysed(std::mt19937_64& random) {
  std::uniform_real_distribution<double> factor(0.8, 1.3);
  Assay assay;
  assay.salinity = PracticalSalinity(35.0);
  assay.method = "ICP-OES";
  for (const AnalyteRow& row : std::span(analytes()).first(analytes_of_a_lot)) {
    const double content = factor(random) * usual(row);
    AssayValue& value = assay.values[row.analyte];
    value.content =
        row.group == AnalyteGroup::Contaminant ? below(content) : measured(content, 0.03 * content);
    value.written = fmt::format("{:.6g} mg/kg", content);
  }
  return assay;
}

std::vector<Lot> lots(std::size_t count) {
  std::mt19937_64 random(20261125);
  std::vector<Lot> result(count);
  for (std::size_t i = 0; i < count; ++i) {
    result[i].name = fmt::format("H-{}", 2000 + i);
    result[i].salt = "Harbour blend";
    result[i].assay = analysed(random);
  }
  return result;
}

// Everything is wanted, and no contaminant may ever be above its range.
Tank tank() {
  std::mt19937_64 random(7);
  Tank cellar;
  cellar.volume = Litres(800.0);
  for (const AnalyteRow& row : analytes())
    cellar.wanted[row.analyte] = {{0.95 * usual(row), 1.1 * usual(row)},
                                  1.0,
                                  row.group == AnalyteGroup::Contaminant,
                                  "set by the keeper"};
  for (int week = 0; week < 20; ++week)
    cellar.tests.push_back({begin + week * 7 * 24h, analysed(random), "cellar"});
  return cellar;
}

ChangePlan plan() {
  ChangePlan weekly;
  weekly.fraction = 0.15;
  weekly.changes = 12;
  return weekly;
}

// Of processor time, which on a machine that has nothing else to do is the time it takes.
double milliseconds_to_rank(std::span<const Lot> some) {
  const Tank cellar = tank();
  double fastest = std::numeric_limits<double>::infinity();
  for (int run = 0; run < runs; ++run) {
    const std::clock_t from = std::clock();
    const Ranking ranking = rank_lots(cellar, some, plan(), cellar.tests.back().at);
    const std::clock_t spent = std::clock() - from;
    if (ranking.lots.size() == some.size() && ranking.decided_by.size() == analytes_of_a_lot)
      fastest = std::min(fastest, 1000.0 * static_cast<double>(spent) / CLOCKS_PER_SEC);
  }
  return fastest;
}

// Highest resident memory of this process so far.
double peak_megabytes() {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);)
    if (line.rfind("VmHWM:", 0) == 0)
      return std::stod(line.substr(6)) / 1024.0;
  return 0.0;
}

}  // namespace
}  // namespace brinegate

int main() {
  using namespace brinegate;
  auto some = lots(few_lots);
  const double memory_of_lots = peak_megabytes();
  const double few_ms = milliseconds_to_rank(some);
  const double memory = peak_megabytes();
  some = lots(many_lots);
  const double many_ms = milliseconds_to_rank(some);
  const double growth = many_ms / few_ms;
  fmt::print(
      "{} lots of {} analytes: {:.1f} ms, peak {:.1f} MB of which the lots {:.1f}; "
      "twice as many: {:.2f} times as long\n",
      few_lots, analytes_of_a_lot, few_ms, memory, memory_of_lots, growth);
  fmt::print(
      "{{\"ranking_ms\": {:.3f}, \"peak_mb\": {:.2f}, \"lots_mb\": {:.2f}, "
      "\"growth_of_twice\": {:.3f}}}\n",
      few_ms, memory, memory_of_lots, growth);
}
