// SPDX-License-Identifier: Apache-2.0
#include "rules/probe_health.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>

#include "rules/seawater.h"
#include "rules/statistics.h"

namespace brinegate {
namespace {

constexpr double standard_uncertainty_of_standards = 0.002;  // common practice, no source
constexpr std::size_t points_kept = 64;
constexpr int days_looked_ahead = 730;

double days(Duration d) {
  return seconds(d) / 86400.0;
}

// Offset and drift of the cell, and what the dose and the other cell are off by, each in units of
// what was known of it before.
constexpr std::size_t unknowns = 4;
using Row = std::array<double, unknowns>;
using Matrix = std::array<Row, unknowns>;

struct Line {
  Row mean{};
  Matrix covariance{};

  [[nodiscard]] double at(const Row& row) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < unknowns; ++i)
      sum += row[i] * mean[i];
    return sum;
  }
  [[nodiscard]] double variance(const Row& row) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < unknowns; ++i)
      for (std::size_t j = 0; j < unknowns; ++j)
        sum += row[i] * covariance[i][j] * row[j];
    return sum;
  }
};

// Inverse of a symmetric matrix that is at least the identity, so that no pivot is small.
Matrix inverse(Matrix m) {
  Matrix result{};
  for (std::size_t i = 0; i < unknowns; ++i)
    result[i][i] = 1.0;
  for (std::size_t i = 0; i < unknowns; ++i) {
    const double pivot = m[i][i];
    for (std::size_t k = 0; k < unknowns; ++k) {
      m[i][k] /= pivot;
      result[i][k] /= pivot;
    }
    for (std::size_t j = 0; j < unknowns; ++j) {
      const double factor = j == i ? 0.0 : m[j][i];
      for (std::size_t k = 0; k < unknowns; ++k) {
        m[j][k] -= factor * m[i][k];
        result[j][k] -= factor * result[i][k];
      }
    }
  }
  return result;
}

Row row_at(double day, const HealthQuestion& question) {
  return {question.calibration_uncertainty, question.stated_drift * day, 0.0, 0.0};
}

Line fitted(std::span<const HealthPoint> points, const HealthQuestion& question) {
  Matrix information{};
  Row sums{};
  for (std::size_t i = 0; i < unknowns; ++i)
    information[i][i] = 1.0;
  for (const HealthPoint& point : points) {
    Row row = row_at(days(point.at - question.calibrated), question);
    row[2] = point.witness == HealthWitness::Dose ? point.common_uncertainty : 0.0;
    row[3] = point.witness == HealthWitness::OtherCell ? point.common_uncertainty : 0.0;
    const double u = std::max(point.standard_uncertainty, 1e-6);
    for (std::size_t i = 0; i < unknowns; ++i) {
      sums[i] += row[i] * point.deviation / (u * u);
      for (std::size_t j = 0; j < unknowns; ++j)
        information[i][j] += row[i] * row[j] / (u * u);
    }
  }
  Line line;
  line.covariance = inverse(information);
  for (std::size_t i = 0; i < unknowns; ++i)
    for (std::size_t j = 0; j < unknowns; ++j)
      line.mean[i] += line.covariance[i][j] * sums[j];
  return line;
}

// PSU. How the ratio of two conductivities becomes that of two salinities hardly depends on the
// temperature.
double salinity_of(double shown, const ProbeSpec& probe) {
  constexpr Celsius somewhere{25.0};
  switch (probe.measures) {
    case Measures::Conductivity:
    case Measures::CompensatedConductivity:
      return practical_salinity(MilliSiemensPerCm(std::max(0.0, shown)), somewhere).value();
    case Measures::SpecificGravity:
      return salinity_of_gravity(shown, probe.gravity).value();
    default:
      return shown;
  }
}

bool is_due(const Line& line, double day, const HealthQuestion& question) {
  const Row row = row_at(day, question);
  const double fresh = question.calibration_uncertainty * question.calibration_uncertainty;
  const double grown = std::sqrt(std::max(0.0, line.variance(row) - fresh));
  return std::abs(line.at(row)) + 2.0 * grown >= question.limit;
}

}  // namespace

ProbeHealth probe_health(std::span<const HealthPoint> points, const HealthQuestion& question) {
  std::vector<HealthPoint> since;
  std::copy_if(points.begin(), points.end(), std::back_inserter(since),
               [&](const HealthPoint& point) { return point.at > question.calibrated; });
  const Line line = fitted(since, question);
  ProbeHealth health;
  health.points = since.size();
  health.since_calibration = std::max(Duration::zero(), question.today - question.calibrated);
  const double today = days(health.since_calibration);
  const Row now = row_at(today, question);
  health.deviation = line.at(now);
  health.deviation_uncertainty = std::sqrt(line.variance(now));
  const Row slope{0.0, question.stated_drift, 0.0, 0.0};
  health.drift_per_day = line.at(slope);
  health.drift_uncertainty = std::sqrt(line.variance(slope));
  health.drifts = std::abs(health.drift_per_day) > two_sided_95_percent * health.drift_uncertainty;
  health.limit = question.limit;
  for (int ahead = 0; ahead <= days_looked_ahead && !health.calibrate_in; ++ahead)
    if (is_due(line, today + ahead, question))
      health.calibrate_in = std::chrono::hours(24 * ahead);
  return health;
}

double calibration_limit(const Profile& profile) {
  return 0.5 * profile.tolerance / profile.target;
}

std::optional<HealthPoint> point_in_standard(const ProbeSpec& probe, const Calibration& before,
                                             const Calibration& after) {
  if (!is_salinity_cell(probe.measures))
    return std::nullopt;
  const double standard = salinity_of(after.standard, probe);
  if (!(standard > 0.0))
    return std::nullopt;
  const double shown = salinity_of(calibrated(before, after.shown), probe);
  return HealthPoint{after.at,
                     HealthWitness::Standard,
                     "",
                     shown / standard - 1.0,
                     standard_uncertainty_of_standards,
                     0.0};
}

void add_point(std::vector<HealthPoint>& points, HealthPoint point) {
  if (!point.batch.empty())
    std::erase_if(points, [&](const HealthPoint& old) {
      return old.batch == point.batch && old.witness == point.witness;
    });
  points.push_back(std::move(point));
  if (points.size() > points_kept)
    points.erase(points.begin());
}

}  // namespace brinegate
