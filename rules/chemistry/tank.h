// SPDX-License-Identifier: Apache-2.0
// A keeper's tank: what is wanted of its water, what its tests said, what was changed, and what it
// uses up by itself.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "rules/chemistry/assay.h"
#include "rules/chemistry/exchange.h"
#include "rules/chemistry/lot.h"
#include "rules/time.h"

namespace brinegate {

struct WaterTest {
  WallTime at;
  Assay assay;
  std::string by;

  bool operator==(const WaterTest&) const = default;
};

// A change that was made.
struct TankChange {
  WallTime at;  // its end
  Litres volume;
  PracticalSalinity salinity;  // of the new water
  std::optional<Composition> composition;
  std::string batch;  // its id, or the lot's name where a person noted it; may be empty

  bool operator==(const TankChange&) const = default;
};

struct Wanted {
  ContentRange range;        // at the tank's salinity
  double weight = 1.0;       // in the ranking of lots; 0: of no matter
  bool never_above = false;  // a lot that brings the tank above `range.high` is vetoed
  std::string source;        // "set by the keeper", or the catalogue's

  bool operator==(const Wanted&) const = default;
};

struct Tank {
  std::string name;
  Litres volume;                       // of water, above 0
  PracticalSalinity salinity{34.836};  // kept at; 35 g/kg
  Celsius temperature{25.0};
  std::map<Analyte, Wanted> wanted;  // set by the keeper; the rest as usual, see wanted_of
  std::map<Analyte, Consumption> consumption;  // set by the keeper, in place of an estimate
  // Greatest step that one change may make (common practice, no source).
  PracticalSalinity salinity_step{0.5};
  Celsius temperature_step{1.0};
  std::vector<WaterTest> tests;     // oldest first
  std::vector<TankChange> changes;  // oldest first

  bool operator==(const Tank&) const = default;
};

// As set by the keeper, else as usual (brought to the tank's salinity); nothing where neither says.
std::optional<Wanted> wanted_of(const Tank& tank, Analyte analyte);

// All contents of a tank are those at the salinity it is kept at, whatever the salinity was when a
// test was drawn: evaporation and its replacement move all contents with the salinity and back
// again, and say nothing of what the water is made of. So a past change counts by the share of the
// tank's salt that came with it.

// The latest test that names the analyte, and when.
struct LatestContent {
  CensoredValue content;
  WallTime at;
};
std::optional<LatestContent> latest_content(const Tank& tank, Analyte analyte);

// What the tank uses a day at a constant rate, by its tests and the changes between them: weighted
// least squares over all tests for the first content and the rate, as a line through points (JCGM
// 100, H.3), with the changes at their time. Where a change has a composition that does not name
// the analyte, the line begins anew behind it. Uncertainty: that of the tests (the interval of a
// censored one as rectangular), enlarged where they scatter more than that (Birge 1932,
// Phys. Rev. 40:207), and that of the new waters, as if these all erred alike. Nothing without two
// tests that changes of known composition join. `tests` counts those used.
struct EstimatedConsumption {
  Consumption consumption;  // correlation: with the latest test that names the analyte
  int tests = 0;
};
std::optional<EstimatedConsumption> estimated_consumption(const Tank& tank, Analyte analyte);
// As set by the keeper, else as estimated, else none.
Consumption consumption_of(const Tank& tank, Analyte analyte);

// The tank at `at`, from its latest test on: changes since, consumption since. With it the
// consumption from then on: what errs in both at once is in its correlation, so the two belong
// together into what exchange.h foretells. Nothing without a test, or where a change since does not
// name the analyte.
struct TankContent {
  CensoredValue content;
  Consumption consumption;
};
std::optional<TankContent> content_now(const Tank& tank, Analyte analyte, WallTime at);

// The latest test against what the one before, the changes between and the consumption known until
// then foretold. `score` is measured less foretold over the standard uncertainty of that; beyond ±2
// they disagree.
struct Outcome {
  Analyte analyte = Analyte::Alkalinity;
  CensoredValue before;  // by the test before
  CensoredValue foretold;
  CensoredValue measured;
  double score = 0.0;
  Consumption consumption_before;
  std::optional<Consumption> consumption_after;  // as estimated with the latest test
};
// In the catalogue's order; only what could be foretold.
std::vector<Outcome> outcomes_of_latest_test(const Tank& tank);

}  // namespace brinegate
