// SPDX-License-Identifier: Apache-2.0
#include "daemon/setup_answers.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>

#include "config/measured.h"
#include "config/plain_text.h"
#include "daemon/found_numbers.h"

namespace brinegate::daemon {
namespace {

// A number as TOML has it; whatever is none becomes a text, which the loader then names.
template <class Number>
std::string toml_number(std::string_view text) {
  Number number{};
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
  const bool is_number = failure == std::errc() && end == text.data() + text.size();
  return is_number && std::isfinite(static_cast<double>(number)) ? fmt::format("{}", number)
                                                                 : toml_text(text);
}

void put(std::string& toml, std::string_view key, std::string_view text) {
  if (!text.empty())
    toml += fmt::format("{} = {}\n", key, toml_text(text));
}

// "0 0, 80 200" as [[0, 0], [80, 200]].
std::string rows_of(std::string_view text) {
  std::string rows;
  while (!text.empty()) {
    const std::size_t comma = std::min(text.find(','), text.size());
    const std::string_view row = config::trimmed(text.substr(0, comma));
    const std::size_t blank = std::min(row.find(' '), row.size());
    rows += fmt::format("{}[{}, {}]", rows.empty() ? "" : ", ",
                        toml_number<double>(row.substr(0, blank)),
                        toml_number<double>(config::trimmed(row.substr(blank))));
    text.remove_prefix(std::min(comma + 1, text.size()));
  }
  return "[" + rows + "]";
}

std::string sections_around(const SetupAnswers& answers) {
  std::string toml;
  if (answers.broker) {
    toml += "\n[mqtt]\n";
    put(toml, "broker", answers.broker->address);
    put(toml, "username", answers.broker->username);
    put(toml, "password_file", answers.broker->password_file);
    put(toml, "ca_file", answers.broker->ca_file);
  }
  if (!answers.http.empty()) {
    toml += "\n[http]                        # the dashboard\n";
    put(toml, "listen", answers.http);
  }
  if (answers.line) {
    toml += fmt::format("\n[link.{}]\n", setup_line_name);
    put(toml, "address", answers.line->address);
    toml += "timeout = \"300 ms\"            # of one answer\n";
    if (answers.line->simulated)
      toml += "simulated = true              # it never moves a real pump\n";
  }
  toml += "\n[profile.reef]                # what a batch must be before it may be used\n";
  put(toml, "salinity", answers.salinity);
  put(toml, "tolerance", answers.tolerance);
  toml += fmt::format("temperature = [{}, {}]\n", toml_text(answers.coldest),
                      toml_text(answers.warmest));
  return toml;
}

std::string probe_section(const SetupProbe& probe, const std::string& station) {
  std::string toml = fmt::format("\n[{}.probe.{}]\n", station, toml_text(probe.name));
  put(toml, "measures", config::word_for(probe.measures));
  toml += fmt::format("source = {}\n", probe.source);
  if (probe.measures == Measures::Conductivity ||
      probe.measures == Measures::CompensatedConductivity)
    put(toml, "temperature_from", setup_thermometer);
  put(toml, "alpha", probe.alpha);
  put(toml, "stale_after", probe.stale_after);
  if (!probe.table.empty())
    toml += fmt::format("table = {}\n", rows_of(probe.table));
  return toml;
}

std::string pump_section(const SetupPump& pump, const std::string& station) {
  std::string toml = fmt::format("\n[{}.pump]\n", station);
  const std::string unit = fmt::format("link = \"{}\", unit = {}", setup_line_name,
                                       toml_number<std::int64_t>(pump.unit));
  if (pump.on_broker) {
    toml += fmt::format("output = {{ topic = {}, on = {}, off = {} }}\n", toml_text(pump.topic),
                        toml_text(pump.on), toml_text(pump.off));
  } else {
    const std::string timed =
        pump.timed.empty()
            ? ""
            : fmt::format(", timed = {{ holding = {}, step = {} }}",
                          toml_number<std::int64_t>(pump.timed), toml_text(pump.step));
    toml += fmt::format("output = {{ {}, coil = {}{} }}\n", unit,
                        toml_number<std::int64_t>(pump.coil), timed);
    if (!pump.readback.empty())
      toml += fmt::format("readback = {{ {}, discrete = {} }}\n", unit,
                          toml_number<std::int64_t>(pump.readback));
  }
  put(toml, "max_volume", pump.max_volume);
  put(toml, "max_run", pump.max_run);
  return toml;
}

}  // namespace

std::string toml_of(const SetupAnswers& answers) {
  std::string toml =
      "# Written by `brinegate setup`. After an edit: brinegate config check FILE\n\n";
  toml += fmt::format("site = {}\ndata = {}\n", toml_text(answers.site), toml_text(answers.data));
  toml += sections_around(answers);
  const std::string station = fmt::format("station.{}", toml_text(answers.station));
  toml += fmt::format("\n[{}]\nprofile = \"reef\"\ncapacity = {}\n", station,
                      toml_text(answers.capacity));
  for (const SetupProbe& probe : answers.probes)
    toml += probe_section(probe, station);
  return answers.pump ? toml + pump_section(*answers.pump, station) : toml;
}

config::Loaded loaded_from(SetupAnswers answers, const std::string& file) {
  if (std::none_of(answers.probes.begin(), answers.probes.end(),
                   [](const SetupProbe& probe) { return is_salinity_cell(probe.measures); }))
    answers.probes.push_back(
        {"stand-in", Measures::Salinity, R"({ command = ["true"], in = "PSU" })", {}, {}, {}});
  return config::load_text(toml_of(answers), file);
}

std::string objection_to(const SetupAnswers& answers, const std::string& file) {
  const config::Loaded loaded = loaded_from(answers, file);
  return loaded.errors.empty() ? "" : loaded.errors.front().message;
}

}  // namespace brinegate::daemon
