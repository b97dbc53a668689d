// SPDX-License-Identifier: Apache-2.0
// See metrics.h.
#include "daemon/metrics.h"

#include <array>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/words.h"

namespace brinegate::daemon {
namespace {

// A label's name and value.
using Label = std::pair<std::string_view, std::string>;

class Text {
 public:
  void family(std::string_view name, std::string_view type, std::string_view unit,
              std::string_view help) {
    name_ = "brinegate_" + std::string(name);
    text_ += fmt::format("# TYPE {} {}\n", name_, type);
    if (!unit.empty()) {
      text_ += fmt::format("# UNIT {} {}\n", name_, unit);
    }
    text_ += fmt::format("# HELP {} {}\n", name_, help);
  }

  void sample(std::string_view suffix, const std::vector<Label>& labels, double value) {
    text_ += name_;
    text_ += suffix;
    std::string_view before = "{";
    for (const auto& [name, content] : labels) {
      text_ += fmt::format("{}{}=\"{}\"", before, name, escaped(content));
      before = ",";
    }
    text_ += fmt::format("{} {}\n", labels.empty() ? "" : "}", value);
  }

  // One sample a state; exactly one of them is 1.
  void states(std::vector<Label> labels, std::span<const std::string_view> all,
              std::string_view now) {
    labels.emplace_back(name_, "");
    for (const std::string_view state : all) {
      labels.back().second = state;
      sample("", labels, state == now ? 1.0 : 0.0);
    }
  }

  [[nodiscard]] std::string finished() && { return std::move(text_) + "# EOF\n"; }

 private:
  static std::string escaped(std::string_view text) {
    std::string result;
    for (const char c : text) {
      if (c == '\\' || c == '"') {
        result += '\\';
      }
      result += c == '\n' ? std::string("\\n") : std::string(1, c);
    }
    return result;
  }

  std::string name_;
  std::string text_;
};

template <class Enum, std::size_t count>
std::array<std::string_view, count> words() {
  std::array<std::string_view, count> all;
  for (std::size_t i = 0; i < count; ++i) {
    all.at(i) = config::word(static_cast<Enum>(i));
  }
  return all;
}

std::string name_of(const Json& station) {
  return station.at("station").get<std::string>();
}

void add_gates(const Json& stations, Text& text) {
  constexpr std::size_t phases = static_cast<std::size_t>(BatchPhase::Drawing) + 1;
  text.family("gate", "stateset", "", "Whether the pump may run.");
  for (const Json& station : stations) {
    text.states({{"station", name_of(station)}}, words<GateState, 2>(),
                station.at("gate").get<std::string>());
  }
  text.family("batch_phase", "stateset", "", "How far the batch is.");
  for (const Json& station : stations) {
    text.states({{"station", name_of(station)}}, words<BatchPhase, phases>(),
                station.at("phase").get<std::string>());
  }
}

// One number a station, found by a JSON pointer.
void add_number(const Json& stations, std::string_view name, std::string_view unit,
                std::string_view help, const char* pointer, Text& text) {
  text.family(name, "gauge", unit, help);
  const Json::json_pointer place(pointer);
  for (const Json& station : stations) {
    if (station.contains(place) && station.at(place).is_number()) {
      text.sample("", {{"station", name_of(station)}}, station.at(place).get<double>());
    }
  }
}

void add_water(const Json& stations, Text& text) {
  add_number(stations, "practical_salinity", "", "Practical salinity of the water, PSS-78.",
             "/salinity/practical_salinity", text);
  add_number(stations, "reference_salinity_grams_per_kilogram", "grams_per_kilogram",
             "Reference salinity of the water (ppt).", "/salinity/reference_salinity_g_kg", text);
  add_number(stations, "salinity_uncertainty_grams_per_kilogram", "grams_per_kilogram",
             "Standard uncertainty (k = 1) of the reference salinity.",
             "/salinity/standard_uncertainty_g_kg", text);
  add_number(stations, "water_temperature_celsius", "celsius", "Temperature of the water.",
             "/temperature_c", text);
  add_number(stations, "water_volume_liters", "liters", "Volume in the reservoir.", "/volume_l",
             text);
  add_number(stations, "batch_drawn_liters", "liters", "Drawn of the batch so far.",
             "/batch/drawn_l", text);
  add_number(stations, "batch_age_seconds", "seconds", "Since the batch began.", "/batch/age_s",
             text);
  add_number(stations, "batch_risk_ratio", "ratio",
             "Stated probability that the proven batch is out of tolerance.", "/batch/proof/risk",
             text);
}

void add_checks(const Json& stations, Text& text) {
  text.family("check_met", "gauge", "", "1: the check is met. One that is not asked has none.");
  for (const Json& station : stations) {
    for (const Json& check : station.at("checks")) {
      const auto verdict = check.at("verdict").get<std::string>();
      if (verdict != config::word(Verdict::NotAsked)) {
        text.sample("", {{"station", name_of(station)}, {"check", check.at("id")}},
                    verdict == config::word(Verdict::Met) ? 1.0 : 0.0);
      }
    }
  }
}

void add_probes(const Json& stations, Text& text) {
  text.family("probe_quality", "stateset", "", "How far the probe's reading can be trusted.");
  for (const Json& station : stations) {
    for (const auto& [probe, reading] : station.at("readings").items()) {
      text.states({{"station", name_of(station)}, {"probe", probe}}, words<Quality, 3>(),
                  reading.at("quality").get<std::string>());
    }
  }
  text.family("probe_reading_age_seconds", "gauge", "seconds", "Age of the probe's last reading.");
  for (const Json& station : stations) {
    for (const auto& [probe, reading] : station.at("readings").items()) {
      if (reading.at("age_s").is_number()) {
        text.sample("", {{"station", name_of(station)}, {"probe", probe}},
                    reading.at("age_s").get<double>());
      }
    }
  }
}

void add_alarms(const Json& stations, Text& text) {
  text.family("alarm", "stateset", "", "State of each alarm (ISA-18.2).");
  constexpr std::size_t states = static_cast<std::size_t>(AlarmState::Normal) + 1;
  for (const Json& station : stations) {
    for (const std::string_view alarm : words<AlarmId, alarm_count>()) {
      std::string state(config::word(AlarmState::Normal));
      for (const Json& standing : station.at("alarms")) {
        if (standing.at("id") == alarm) {
          state = standing.at("state").get<std::string>();
        }
      }
      text.states({{"station", name_of(station)}, {"id", std::string(alarm)}},
                  words<AlarmState, states>(), state);
    }
  }
}

void add_shelved(const Json& stations, Text& text) {
  text.family("alarms_shelved", "gauge", "", "Alarms of which nothing is announced for a while.");
  for (const Json& station : stations) {
    text.sample("", {{"station", name_of(station)}},
                static_cast<double>(station.at("shelved").size()));
  }
}

void add_waivers(const Json& stations, Text& text) {
  text.family(
      "check_waived", "gauge", "",
      "1: a person lets this check pass whatever it says. One that is not waived has none.");
  for (const Json& station : stations) {
    for (const Json& check : station.at("checks")) {
      if (check.at("waived").is_object()) {
        text.sample("", {{"station", name_of(station)}, {"check", check.at("id")}}, 1.0);
      }
    }
  }
}

// One number a receiver.
void add_receivers(const std::vector<ReceiverCounts>& receivers, std::string_view suffix,
                   double (*number)(const drivers::DeliveryCounts&), Text& text) {
  for (const ReceiverCounts& each : receivers) {
    text.sample(suffix, {{"receiver", each.name}, {"by", std::string(each.by)}},
                number(each.counts));
  }
}

void add_deliveries(const std::vector<ReceiverCounts>& receivers, Text& text) {
  using Counts = drivers::DeliveryCounts;
  text.family("deliveries", "counter", "", "Messages that a receiver took.");
  add_receivers(
      receivers, "_total", [](const Counts& c) { return static_cast<double>(c.delivered); }, text);
  text.family("delivery_failures", "counter", "", "Attempts that failed.");
  add_receivers(
      receivers, "_total", [](const Counts& c) { return static_cast<double>(c.failed); }, text);
  text.family("deliveries_given_up", "counter", "",
              "Messages that were refused, or too old to be tried again.");
  add_receivers(
      receivers, "_total", [](const Counts& c) { return static_cast<double>(c.given_up); }, text);
  text.family("deliveries_waiting", "gauge", "",
              "1: a message is on its way or waits to be tried again.");
  add_receivers(
      receivers, "", [](const Counts& c) { return c.waiting ? 1.0 : 0.0; }, text);
}

void add_broker(const drivers::MqttStats& broker, Text& text) {
  text.family("broker_connected", "gauge", "", "1: the MQTT broker is connected.");
  text.sample("", {}, broker.connected ? 1.0 : 0.0);
  text.family("broker_connections", "counter", "",
              "Connections to the MQTT broker, the first one counted.");
  text.sample("_total", {}, static_cast<double>(broker.connections));
  text.family("broker_publications_dropped", "counter", "",
              "Publications dropped for want of a connection.");
  text.sample("_total", {}, static_cast<double>(broker.publications_dropped));
}

}  // namespace

std::string metrics_text(const Json& stations, const Surroundings& around,
                         std::optional<WallTime> record_written) {
  Text text;
  text.family("build", "info", "", "The program.");
  text.sample("_info", {{"version", BRINEGATE_VERSION}}, 1.0);
  text.family("record_written_timestamp_seconds", "gauge", "seconds",
              "When the disk last took what was to be written.");
  if (record_written) {
    text.sample("", {}, seconds(record_written->time_since_epoch()));
  }
  add_gates(stations, text);
  add_water(stations, text);
  add_checks(stations, text);
  add_probes(stations, text);
  add_alarms(stations, text);
  add_shelved(stations, text);
  add_waivers(stations, text);
  add_deliveries(around.receivers, text);
  if (around.broker) {
    add_broker(*around.broker, text);
  }
  return std::move(text).finished();
}

}  // namespace brinegate::daemon
