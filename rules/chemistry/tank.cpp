// SPDX-License-Identifier: Apache-2.0
#include "rules/chemistry/tank.h"

#include <algorithm>
#include <cmath>

#include "rules/chemistry/plan_effect.h"
#include "rules/chemistry/propagation.h"

namespace brinegate {
namespace {

// A change as it counts for one analyte.
struct Refill {
  Duration after{0};        // the refill before, or the begin
  double share = 0.0;       // of the tank's salt that came with it
  CensoredValue new_water;  // at the tank's salinity
};

// What came between two times, as far as it is known.
struct Course {
  std::vector<Refill> refills;
  Duration rest{0};  // after the last of them
};

double share_of_salt(const TankChange& change, const Tank& tank) {
  const double fraction = std::min(1.0, change.volume / tank.volume);
  const double brought = fraction * change.salinity.value();
  return brought > 0.0 ? brought / (brought + (1.0 - fraction) * tank.salinity.value()) : 0.0;
}

// A change at `from` itself is in what was found then.
std::optional<Course> course_between(const Tank& tank, Analyte analyte, WallTime from,
                                     WallTime to) {
  Course course;
  for (const TankChange& change : tank.changes) {
    if (change.at <= from || change.at > to)
      continue;
    const auto content =
        change.composition ? content_at(tank.salinity, *change.composition, analyte) : std::nullopt;
    if (!content)
      return std::nullopt;
    course.refills.push_back({change.at - from, share_of_salt(change, tank), *content});
    from = change.at;
  }
  course.rest = std::max(Duration{0}, to - from);
  return course;
}

double end_of(const Course& course, const CensoredValue& start, const Consumption& consumption,
              const PossibleTruth& truth) {
  const double per_day = per_day_if(consumption, truth);
  double content = content_if(start, &PossibleTruth::start, truth);
  for (const Refill& refill : course.refills) {
    content = left_after(refill.after, content, consumption.kinetics, per_day);
    const double new_water = content_if(refill.new_water, &PossibleTruth::new_water, truth);
    content += refill.share * (new_water - content);
  }
  return left_after(course.rest, content, consumption.kinetics, per_day);
}

// One test, and how it follows from the first content x of its line and the rate k:
// content = left x + brought - k days.
struct TestOnLine {
  double left = 1.0;
  double brought = 0.0;
  double brought_uncertainty = 0.0;
  double days = 0.0;  // in which consumption counts, less what changes have replaced of it
  double content = 0.0;
  double standard_uncertainty = 0.0;

  void go_on(const Course& course) {
    for (const Refill& refill : course.refills) {
      const double kept = 1.0 - refill.share;
      left *= kept;
      days = kept * (days + in_days(refill.after));
      brought = kept * brought + refill.share * refill.new_water.middle();
      brought_uncertainty =
          kept * brought_uncertainty + refill.share * refill.new_water.total_uncertainty();
    }
    days += in_days(course.rest);
  }
  [[nodiscard]] double weight() const {
    return 1.0 / (standard_uncertainty * standard_uncertainty);
  }
};
using TestLine = std::vector<TestOnLine>;

std::optional<CensoredValue> content_in(const WaterTest& test, const Tank& tank, Analyte analyte) {
  const auto found = test.assay.values.find(analyte);
  if (found == test.assay.values.end())
    return std::nullopt;
  return (tank.salinity / test.assay.salinity) * found->second.content;
}

// A content without uncertainty is one that states none.
double uncertainty_of(const CensoredValue& content, Analyte analyte) {
  constexpr double least = 1e-9;
  const double stated = content.total_uncertainty();
  const double usual = analyte_row(analyte).usual_uncertainty * content.middle();
  return std::max(least, stated > 0.0 ? stated : usual);
}

std::vector<TestLine> lines_of(const Tank& tank, Analyte analyte) {
  std::vector<TestLine> lines;
  WallTime before;
  for (const WaterTest& test : tank.tests) {
    const auto content = content_in(test, tank, analyte);
    if (!content)
      continue;
    const auto course = course_between(tank, analyte, before, test.at);
    TestOnLine point;
    if (lines.empty() || !course)
      lines.emplace_back();
    else {
      point = lines.back().back();
      point.go_on(*course);
    }
    point.content = content->middle();
    point.standard_uncertainty = uncertainty_of(*content, analyte);
    lines.back().push_back(point);
    before = test.at;
  }
  return lines;
}

// The sums of weighted least squares over all lines. The first content of each line is eliminated:
// days less their regression on `left` are what the rate is seen by.
class RateFit {
 public:
  explicit RateFit(const std::vector<TestLine>& lines) {
    for (const TestLine& line : lines)
      add(line);
  }

  [[nodiscard]] std::optional<EstimatedConsumption> result() const {
    if (!(information_ > 0.0))
      return std::nullopt;
    const double rate = seen_ / information_;
    const int freedom = tests_ - lines_ - 1;
    const double scatter = squares_ - rate * seen_;
    const double enlarged =
        freedom > 0 ? std::max(1.0, std::sqrt(std::max(0.0, scatter) / freedom)) : 1.0;
    const double by_tests = enlarged / std::sqrt(information_);
    EstimatedConsumption estimate;
    estimate.tests = tests_;
    estimate.consumption.per_day = rate;
    const double uncertainty = std::hypot(by_tests, by_new_water_ / information_);
    estimate.consumption.standard_uncertainty = uncertainty;
    estimate.consumption.correlation = -enlarged * by_last_test_ / information_ / uncertainty;
    return estimate;
  }

 private:
  void add(const TestLine& line) {
    by_last_test_ = 0.0;
    if (line.size() < 2)
      return;
    ++lines_;
    tests_ += static_cast<int>(line.size());
    double left_left = 0.0;
    double left_days = 0.0;
    double left_used = 0.0;
    for (const TestOnLine& test : line) {
      left_left += test.weight() * test.left * test.left;
      left_days += test.weight() * test.left * test.days;
      left_used += test.weight() * test.left * (test.brought - test.content);
    }
    for (const TestOnLine& test : line) {
      const double days = test.days - test.left * left_days / left_left;
      const double used = test.brought - test.content - test.left * left_used / left_left;
      information_ += test.weight() * days * days;
      seen_ += test.weight() * days * used;
      squares_ += test.weight() * used * used;
      by_new_water_ += test.weight() * days * test.brought_uncertainty;
      by_last_test_ = test.weight() * days * test.standard_uncertainty;
    }
  }

  int lines_ = 0;
  int tests_ = 0;
  double information_ = 0.0;
  double seen_ = 0.0;
  double squares_ = 0.0;
  double by_new_water_ = 0.0;
  double by_last_test_ = 0.0;
};

}  // namespace

std::optional<Wanted> wanted_of(const Tank& tank, Analyte analyte) {
  if (const auto set = tank.wanted.find(analyte); set != tank.wanted.end())
    return set->second;
  const AnalyteRow& row = analyte_row(analyte);
  if (!row.wanted)
    return std::nullopt;
  const double factor = tank.salinity / composition_salinity;
  Wanted wanted;
  wanted.range = {factor * row.wanted->low, factor * row.wanted->high};
  wanted.source = row.wanted_source;
  return wanted;
}

std::optional<LatestContent> latest_content(const Tank& tank, Analyte analyte) {
  for (auto test = tank.tests.rbegin(); test != tank.tests.rend(); ++test)
    if (const auto content = content_in(*test, tank, analyte))
      return LatestContent{*content, test->at};
  return std::nullopt;
}

std::optional<EstimatedConsumption> estimated_consumption(const Tank& tank, Analyte analyte) {
  return RateFit(lines_of(tank, analyte)).result();
}

Consumption consumption_of(const Tank& tank, Analyte analyte) {
  if (const auto set = tank.consumption.find(analyte); set != tank.consumption.end())
    return set->second;
  const auto estimate = estimated_consumption(tank, analyte);
  return estimate ? estimate->consumption : Consumption{};
}

std::optional<TankContent> content_now(const Tank& tank, Analyte analyte, WallTime at) {
  const auto latest = latest_content(tank, analyte);
  if (!latest)
    return std::nullopt;
  const auto course = course_between(tank, analyte, latest->at, at);
  if (!course)
    return std::nullopt;
  Consumption consumption = consumption_of(tank, analyte);
  const Propagated now = propagated([&](const PossibleTruth& truth) {
    return end_of(*course, latest->content, consumption, truth);
  });
  // A greater rate has left less: what of its own error is in the content goes against it.
  if (now.value.standard_uncertainty > 0.0)
    consumption.correlation =
        (consumption.correlation * now.by_start - own_part(consumption) * now.by_consumption) /
        now.value.standard_uncertainty;
  return TankContent{now.value, consumption};
}

std::vector<Outcome> outcomes_of_latest_test(const Tank& tank) {
  std::vector<Outcome> outcomes;
  if (tank.tests.empty())
    return outcomes;
  Tank until_then = tank;
  until_then.tests.pop_back();
  const WaterTest& latest = tank.tests.back();
  for (const auto& [analyte, value] : latest.assay.values) {
    const auto foretold = content_now(until_then, analyte, latest.at);
    if (!foretold)
      continue;
    Outcome outcome;
    outcome.analyte = analyte;
    outcome.before = latest_content(until_then, analyte)->content;
    outcome.foretold = foretold->content;
    outcome.measured = *content_in(latest, tank, analyte);
    outcome.score =
        (outcome.measured.middle() - outcome.foretold.middle()) /
        std::hypot(uncertainty_of(outcome.measured, analyte), outcome.foretold.total_uncertainty());
    outcome.consumption_before = consumption_of(until_then, analyte);
    if (const auto estimate = estimated_consumption(tank, analyte))
      outcome.consumption_after = estimate->consumption;
    outcomes.push_back(outcome);
  }
  return outcomes;
}

}  // namespace brinegate
