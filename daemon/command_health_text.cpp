// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_health_text.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/command_text.h"
#include "daemon/json_member.h"

namespace brinegate::daemon {
namespace {

using Json = nlohmann::ordered_json;
using Rows = std::vector<std::vector<std::string>>;

constexpr int half_plot = 12;  // columns on either side of zero

std::string date_of(const Json& object, const char* key, const char* otherwise) {
  const std::string time = text_of(object, key);
  return time.empty() ? otherwise : time.substr(0, 10);
}

std::string with_uncertainty(const Json& object, const char* value, const char* uncertainty,
                             int digits) {
  return fmt::format("{:+.{}f} % ± {:.{}f} %", object.value(value, 0.0), digits,
                     object.value(uncertainty, 0.0), digits);
}

int column_of(double deviation, double scale) {
  const double column = std::round(deviation / scale * half_plot);
  return half_plot + static_cast<int>(std::clamp<double>(column, -half_plot, half_plot));
}

// "|      ---:-*---          |": the deviation and one standard uncertainty to either side.
std::string plotted(double deviation, double uncertainty, double scale) {
  std::string plot(2 * half_plot + 1, ' ');
  for (int i = column_of(deviation - uncertainty, scale);
       i <= column_of(deviation + uncertainty, scale); ++i)
    plot[static_cast<std::size_t>(i)] = '-';
  plot[half_plot] = ':';
  plot[static_cast<std::size_t>(column_of(deviation, scale))] = '*';
  return "|" + plot + "|";
}

std::string points_text(const Json& health) {
  const Json points = health.value("points", Json::array());
  double scale = std::max(0.1, health.value("limit_percent", 0.0));
  for (const Json& point : points)
    scale = std::max(scale, std::abs(point.value("deviation_percent", 0.0)));
  Rows rows{{"date", "against", "deviation",
             fmt::format("{:<{}}0{:>{}}", fmt::format("-{:.1f} %", scale), half_plot + 1,
                         fmt::format("+{:.1f} %", scale), half_plot + 1)}};
  for (const Json& point : points)
    rows.push_back({date_of(point, "at", "?"), text_of(point, "witness"),
                    with_uncertainty(point, "deviation_percent", "uncertainty_percent", 2),
                    plotted(point.value("deviation_percent", 0.0),
                            point.value("uncertainty_percent", 0.0), scale)});
  // The plot is not to be wrapped: its column is padded, and an empty one follows it.
  for (auto& row : rows)
    row.emplace_back();
  return points.empty() ? "  No comparisons yet: each proven batch with its salt noted, or with a "
                          "second\n  cell, and each calibration makes one.\n"
                        : aligned(rows);
}

}  // namespace

std::string probe_health_text(std::string_view probe, const Json& health) {
  std::string text = fmt::format("{}: ", probe);
  text += wrapped(text_of(health, "sentence"), 2, probe.size() + 2);
  text +=
      aligned({{"calibrated", date_of(health, "calibrated", "never here")},
               {"days since, or since it was first read",
                fmt::format("{:.1f}", health.value("days_since_calibration", 0.0))},
               {"expected deviation today",
                with_uncertainty(health, "deviation_percent", "deviation_uncertainty_percent", 2)},
               {"drift for each day", with_uncertainty(health, "drift_percent_per_day",
                                                       "drift_uncertainty_percent_per_day", 4)},
               {"calibrate by", date_of(health, "calibrate_by", "not within two years")}});
  return text + "\n" + points_text(health);
}

std::string calibrations_due_text(const Json& station) {
  std::string text;
  const Json health = station.value("probe_health", Json::object());
  for (const auto& [probe, one] : health.items())
    if (one.value("due", false))
      text += "  " + wrapped(text_of(one, "sentence"), 2, 2);
  return text;
}

}  // namespace brinegate::daemon
