// SPDX-License-Identifier: Apache-2.0
// Section [station.NAME.probe.NAME]: what a probe measures and how its samples are tested.
#include <algorithm>
#include <charconv>
#include <string_view>

#include <fmt/format.h>

#include "config/load_sections.h"
#include "config/measured.h"
#include "config/quantity.h"

namespace brinegate::config {
namespace {

// A value or a difference in the unit of what is measured; a gravity is a pure number.
bool read_measured(TableReader& reader, std::string_view key, const Node& node, Measures measures,
                   Result<double> (*parse)(Measures, std::string_view), double& target) {
  if (measures == Measures::SpecificGravity) {
    if (const auto* number = std::get_if<double>(&node.value)) {
      target = *number;
      return true;
    }
    reader.error(key, fmt::format("'{}' of a specific gravity must be a pure number with a decimal "
                                  "point, such as 1.026",
                                  key));
    return false;
  }
  const auto* text = std::get_if<std::string>(&node.value);
  if (!text) {
    reader.wrong_type(key, node, "text with a unit");
    return false;
  }
  const auto parsed = parse(measures, *text);
  if (!parsed) {
    reader.error(key, fmt::format("'{}': {}", key, parsed.error().message));
    return false;
  }
  target = *parsed;
  return true;
}

// As above, of one key; more than zero.
void read_positive(TableReader& reader, std::string_view key, Measures measures,
                   std::optional<double>& target) {
  const Node* node = reader.find(key);
  double value = 0.0;
  if (!node || !read_measured(reader, key, *node, measures, parse_measured_difference, value))
    return;
  if (!(value > 0.0))
    return reader.error(key, fmt::format("'{}' must be more than 0", key));
  target = value;
}

void read_range(TableReader& reader, Measures measures, SampleLimits& limits) {
  const Node* node = reader.find("range");
  if (!node)
    return;
  const auto* list = std::get_if<Array>(&node->value);
  if (!list || list->size() != 2)
    return reader.wrong_type("range", *node, "a list of the lowest and the highest");
  double low = 0.0;
  double high = 0.0;
  if (!read_measured(reader, "range", list->front(), measures, parse_measured, low) ||
      !read_measured(reader, "range", list->back(), measures, parse_measured, high))
    return;
  if (low >= high)
    return reader.error("range", "'range' must rise: write the lower value first");
  limits.gross_low = low;
  limits.gross_high = high;
}

void read_flat_line(TableReader& reader, ProbeSpec& spec) {
  constexpr Range range{"10 s", "24 h"};
  const Node* node = reader.find("flat_line_after");
  const auto* text = node ? std::get_if<std::string>(&node->value) : nullptr;
  if (text && *text == "never") {
    spec.limits.flat_line_after.reset();
    if (is_salinity_cell(spec.measures))
      reader.hazard("flat_line_after",
                    "'flat_line_after' is \"never\": a probe that froze at its last number will be "
                    "believed for as long as it answers");
    return;
  }
  Duration after{};
  if (!reader.read("flat_line_after", parse_duration, range, after))
    return;
  if (after <= spec.stale_after)
    reader.error("flat_line_after",
                 fmt::format("'flat_line_after' is no longer than 'stale_after': write more than "
                             "{}, or \"never\"",
                             show(spec.stale_after)));
  spec.limits.flat_line_after = after;
}

// "0.02 mS/cm", "0.5 %", or both in a list; what is not given of the two is zero. Whether it could
// be read.
bool read_uncertainty(TableReader& reader, std::string_view key, Measures measures,
                      ProbeUncertainty& target) {
  const Node* node = reader.find(key);
  if (!node)
    return false;
  const auto* list = std::get_if<Array>(&node->value);
  ProbeUncertainty uncertainty;
  for (const Node& part : list ? *list : Array{*node}) {
    const auto* text = std::get_if<std::string>(&part.value);
    if (!text || text->find('%') == std::string::npos) {
      if (!read_measured(reader, key, part, measures, parse_measured_difference,
                         uncertainty.absolute))
        return false;
      continue;
    }
    const auto share = parse_share(*text);
    if (!share) {
      reader.error(key, fmt::format("'{}': {}", key, share.error().message));
      return false;
    }
    uncertainty.relative = *share;
  }
  if (uncertainty.absolute < 0.0) {
    reader.error(key, fmt::format("'{}' must not be negative", key));
    return false;
  }
  target = uncertainty;
  return true;
}

void read_uncertainties(TableReader& reader, ProbeSpec& spec) {
  ProbeUncertainty uncertainty;
  if (read_uncertainty(reader, "uncertainty", spec.measures, uncertainty)) {
    if (uncertainty.absolute + uncertainty.relative > 0.0)
      spec.uncertainty = uncertainty;
    else
      reader.error("uncertainty",
                   "'uncertainty' must be more than 0: no instrument is exact; write the "
                   "standard uncertainty (k = 1), about half of a stated ± limit");
  }
  read_uncertainty(reader, "drift_per_day", spec.measures, spec.drift_per_day);
  std::optional<double> resolution;
  read_positive(reader, "resolution", spec.measures, resolution);
  spec.resolution = resolution.value_or(0.0);
}

bool parse_gravity_temperature(std::string_view text, Celsius& target) {
  double value = 0.0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (failure != std::errc() || end != text.data() + text.size() || !(value >= 0.0) ||
      !(value <= 40.0))
    return false;
  target = Celsius(value);
  return true;
}

void read_gravity(TableReader& reader, ProbeSpec& spec) {
  if (spec.measures != Measures::SpecificGravity)
    return reader.refuse("gravity", "only a specific gravity has two temperatures");
  if (!reader.has("gravity"))
    reader.error("",
                 "'gravity' is missing: a specific gravity means nothing without its two "
                 "temperatures; write gravity = \"25/25\", \"20/20\" or \"25/4\"");
  std::string text;
  if (!reader.read("gravity", text))
    return;
  const std::size_t slash = std::min(text.find('/'), text.size());
  const std::string_view both = text;
  if (slash == text.size() ||
      !parse_gravity_temperature(both.substr(0, slash), spec.gravity.sample) ||
      !parse_gravity_temperature(both.substr(slash + 1), spec.gravity.reference))
    reader.error("gravity",
                 fmt::format("'gravity': \"{}\" is not two temperatures in °C: write the "
                             "temperature the instrument corrects to and that of the pure water, "
                             "such as \"25/25\" or \"25/4\"",
                             text));
}

void read_compensation(TableReader& reader, ProbeSpec& spec) {
  if (spec.measures != Measures::CompensatedConductivity) {
    for (const std::string_view key : {"compensated_to", "alpha"})
      reader.refuse(key, "only a compensated-conductivity is compensated");
    return;
  }
  reader.read("compensated_to", parse_temperature, {"10 C", "30 C"}, spec.compensation.reference);
  reader.read("alpha", parse_share, {"1 %", "3 %"}, spec.compensation.alpha_per_celsius);
  if (!reader.has("alpha"))
    reader.hazard("", fmt::format("{} does not say its compensation: 2.0 % per °C is assumed, and "
                                  "0.1 % beside it is tenths of a PSU a few degrees away from its "
                                  "reference; write alpha = \"...\" from the probe's settings",
                                  reader.where()));
}

bool read_row(TableReader& reader, const Node& node, std::pair<double, double>& row) {
  const auto* cells = std::get_if<Array>(&node.value);
  double numbers[2]{};
  bool good = cells && cells->size() == 2;
  for (std::size_t i = 0; good && i < 2; ++i) {
    const Node& cell = (*cells)[i];
    if (const auto* whole = std::get_if<std::int64_t>(&cell.value))
      numbers[i] = static_cast<double>(*whole);
    else if (const auto* number = std::get_if<double>(&cell.value); number && *number < 1e9)
      numbers[i] = *number;
    else
      good = false;
  }
  if (!good)
    reader.wrong_type("table", node, "rows of a height and its litres");
  row = {numbers[0], numbers[1]};
  return good;
}

void read_table(TableReader& reader, ProbeSpec& spec) {
  if (spec.measures != Measures::Level && spec.measures != Measures::TankLevel)
    return reader.refuse("table", "only a level has a strapping table");
  const Array* list = nullptr;
  if (!reader.read_list("table", list))
    return;
  auto& table = spec.conversion.table;
  for (const Node& node : *list) {
    std::pair<double, double> row;
    if (!read_row(reader, node, row))
      return;
    if (!table.empty() && !(row.first > table.back().first && row.second > table.back().second))
      return reader.error(
          "table", fmt::format("'table' must rise in both columns, but [{}, {}] follows "
                               "[{}, {}]: sort the rows and correct the figures",
                               row.first, row.second, table.back().first, table.back().second));
    table.push_back(row);
  }
  if (table.size() < 2)
    reader.error("table",
                 "'table' has one row: a strapping table needs two at least, such as "
                 "[[0, 0], [80, 200]]");
}

void read_deadline(TableReader& reader, const Source& source, ProbeSpec& spec) {
  const Duration every = source.every.value_or(Duration{});
  spec.stale_after = std::max(spec.stale_after, 3 * every);
  if (!source.every && !reader.has("stale_after"))
    reader.hazard("", fmt::format("'stale_after' is not written in {}: a sender that is silent for "
                                  "{} counts as bad; write about three times its interval",
                                  reader.where(), show(spec.stale_after)));
  if (!reader.read("stale_after", parse_duration, {"100 ms", "10 min"}, spec.stale_after))
    return;
  if (spec.stale_after < 2 * every)
    reader.error("stale_after",
                 fmt::format("'stale_after' is shorter than two readings: one late answer would "
                             "make the probe bad; write {} or more, or a shorter 'every'",
                             show(2 * every)));
}

void read_limits(TableReader& reader, ProbeSpec& spec) {
  if (is_contact(spec.measures)) {
    for (const std::string_view key : {"uncertainty", "resolution", "drift_per_day", "range",
                                       "spike", "flat_line_after", "air_below"})
      reader.refuse(key, "a contact is 0 or 1");
    return;
  }
  read_uncertainties(reader, spec);
  read_range(reader, spec.measures, spec.limits);
  read_positive(reader, "spike", spec.measures, spec.limits.spike);
  read_flat_line(reader, spec);
  if (is_salinity_cell(spec.measures))
    read_positive(reader, "air_below", spec.measures, spec.limits.air_below);
  else
    reader.refuse("air_below", "only a cell that tells the salinity can hang in air");
}

void read_temperature_from(TableReader& reader, LoadedProbe& probe) {
  const Measures measures = probe.spec.measures;
  if (measures != Measures::Conductivity && measures != Measures::CompensatedConductivity)
    return reader.refuse("temperature_from", "only a conductivity needs a temperature");
  if (!reader.has("temperature_from"))
    reader.error("", fmt::format("'temperature_from' is missing in {}: a conductivity says nothing "
                                 "of salinity without the water's temperature; name a probe of "
                                 "this station that measures temperature",
                                 reader.where()));
  reader.read("temperature_from", probe.temperature_from);
  probe.temperature_from_at = reader.at("temperature_from");
}

}  // namespace

std::optional<LoadedProbe> read_probe(const std::string& name, const Node& node,
                                      const std::string& station, Litres capacity,
                                      Context& context) {
  TableReader reader(node, known::probe, fmt::format("station.{}.probe.{}", station, name),
                     context.problems);
  std::string word;
  if (!reader.read("measures", word))
    return std::nullopt;
  const auto measures = measures_of(word);
  if (!measures) {
    reader.error("measures", "'measures': " + measures.error().message);
    return std::nullopt;
  }
  LoadedProbe probe;
  probe.at = reader.at();
  ProbeSpec& spec = probe.spec;
  spec.name = name;
  spec.measures = *measures;
  spec.limits = default_sample_limits(*measures, capacity.value());
  spec.uncertainty = default_probe_uncertainty(*measures);
  spec.drift_per_day = default_probe_drift(*measures);
  Source source;
  if (const Node* from = reader.find("source"))
    source =
        read_source(*from, *measures, reader.has("table"), reader.where() + ".source", context);
  probe.source = source.address;
  spec.conversion = source.conversion;
  spec.simulated = source.simulated;
  read_deadline(reader, source, spec);
  read_limits(reader, spec);
  read_temperature_from(reader, probe);
  read_compensation(reader, spec);
  read_gravity(reader, spec);
  read_table(reader, spec);
  return probe;
}

}  // namespace brinegate::config
