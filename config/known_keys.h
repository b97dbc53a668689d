// SPDX-License-Identifier: Apache-2.0
// Every key a configuration may hold, with an example of its value. The one list: the loader, its
// messages, the tests of README.md and of schema.json all go by it.
#pragma once

#include <array>
#include <span>
#include <string_view>

namespace brinegate::config {

enum class Need { Required, Optional };

struct Key {
  std::string_view name;
  Need need = Need::Required;
  std::string_view example;  // as TOML, or as the section's language
};

struct Section {
  std::string_view name;  // as in schema.json and README.md
  std::span<const Key> keys;
  bool json = false;  // else TOML
};

namespace known {

inline constexpr std::array site_keys{
    Key{"site", Need::Required, R"("cellar")"},
    Key{"data", Need::Required, R"("/var/lib/brinegate")"},
    Key{"mqtt", Need::Optional, "[mqtt]"},
    Key{"http", Need::Optional, "[http]"},
    Key{"history", Need::Optional, "[history]"},
    Key{"notify", Need::Optional, "[notify.phone]"},
    Key{"heartbeat", Need::Optional, "[heartbeat]"},
    Key{"link", Need::Optional, "[link.rack]"},
    Key{"profile", Need::Required, "[profile.reef]"},
    Key{"station", Need::Required, "[station.mixer]"},
};
inline constexpr std::array mqtt_keys{
    Key{"broker", Need::Required, R"("mqtts://hub.example:8883")"},
    Key{"username", Need::Optional, R"("brinegate")"},
    Key{"password_file", Need::Optional, R"("mqtt.password")"},
    Key{"ca_file", Need::Optional, R"("broker-ca.pem")"},
    Key{"discovery", Need::Optional, "true"},
    Key{"discovery_prefix", Need::Optional, R"("homeassistant")"},
    Key{"birth_topic", Need::Optional, R"("homeassistant/status")"},
    Key{"birth_payload", Need::Optional, R"("online")"},
};
inline constexpr std::array http_keys{
    Key{"listen", Need::Optional, R"("127.0.0.1:8480")"},
    Key{"token_file", Need::Optional, R"("http.token")"},
    Key{"hosts", Need::Optional, R"(["cellar.example"])"},
};
inline constexpr std::array history_keys{
    Key{"readings", Need::Optional, R"("60 d")"},
    Key{"minutes", Need::Optional, R"("730 d")"},
};
inline constexpr std::array notify_webhook_keys{
    Key{"webhook", Need::Required, R"("https://hooks.example/cellar")"},
    Key{"secret_file", Need::Optional, R"("phone.secret")"},
    Key{"ca_file", Need::Optional, R"("hooks-ca.pem")"},
    Key{"repeat_every", Need::Optional, R"("30 min")"},
};
inline constexpr std::array notify_mail_keys{
    Key{"smtp", Need::Required, R"("smtps://mail.example:465")"},
    Key{"from", Need::Required, R"("brinegate@cellar.example")"},
    Key{"to", Need::Required, R"(["keeper@cellar.example"])"},
    Key{"username", Need::Optional, R"("brinegate")"},
    Key{"password_file", Need::Optional, R"("mail.password")"},
    Key{"ca_file", Need::Optional, R"("mail-ca.pem")"},
    Key{"repeat_every", Need::Optional, R"("6 h")"},
};
inline constexpr std::array heartbeat_keys{
    Key{"url", Need::Required, R"("https://watch.example/cellar")"},
    Key{"ca_file", Need::Optional, R"("watch-ca.pem")"},
    Key{"every", Need::Optional, R"("2 min")"},
};
inline constexpr std::array link_keys{
    Key{"address", Need::Required, R"("modbus-tcp://192.0.2.10:502")"},
    Key{"timeout", Need::Optional, R"("300 ms")"},
    Key{"simulated", Need::Optional, "true"},
};
inline constexpr std::array profile_keys{
    Key{"salinity", Need::Required, R"("35 ppt")"},
    Key{"tolerance", Need::Required, R"("1 ppt")"},
    Key{"temperature", Need::Required, R"(["24 C", "26 C"])"},
    Key{"circulate", Need::Optional, R"("30 min")"},
    Key{"keep", Need::Optional, R"("14 d")"},
    Key{"standing", Need::Optional, R"("6 h")"},
    Key{"risk", Need::Optional, R"("1 %")"},
    Key{"still_to_dissolve", Need::Optional, R"("0.1 PSU")"},
    Key{"slowest_part", Need::Optional, R"("160 min")"},
    Key{"dose", Need::Optional, R"("optional")"},
    Key{"lot_required", Need::Optional, "true"},
    Key{"limits", Need::Optional, "[profile.reef.limits]"},
    Key{"waivable", Need::Optional, R"(["temperature"])"},
    Key{"hand_tests", Need::Optional, "[profile.reef.hand_tests]"},
};
inline constexpr std::array limit_keys{
    Key{"from", Need::Optional, R"("400 mg/L")"},
    Key{"to", Need::Optional, R"("450 mg/L")"},
};
inline constexpr std::array station_keys{
    Key{"profile", Need::Required, R"("reef")"},
    Key{"capacity", Need::Required, R"("200 L")"},
    Key{"low_level", Need::Optional, R"("10 L")"},
    Key{"tank", Need::Optional, R"("reef")"},
    Key{"probe", Need::Required, "[station.mixer.probe.cell_a]"},
    Key{"pump", Need::Optional, "[station.mixer.pump]"},
    Key{"hold_off", Need::Optional, "[station.mixer.hold_off]"},
    Key{"drain", Need::Optional, "[station.mixer.drain]"},
};
inline constexpr std::array probe_keys{
    Key{"measures", Need::Required, R"("conductivity")"},
    Key{"source", Need::Required, R"({ topic = "cellar/bath", in = "C" })"},
    Key{"temperature_from", Need::Optional, R"("bath")"},
    Key{"stale_after", Need::Optional, R"("5 s")"},
    Key{"uncertainty", Need::Optional, R"("0.5 %")"},
    Key{"resolution", Need::Optional, R"("0.01 mS/cm")"},
    Key{"drift_per_day", Need::Optional, R"("0.01 %")"},
    Key{"range", Need::Optional, R"(["0 mS/cm", "70 mS/cm"])"},
    Key{"spike", Need::Optional, R"("2 mS/cm")"},
    Key{"flat_line_after", Need::Optional, R"("10 min")"},
    Key{"air_below", Need::Optional, R"("1 mS/cm")"},
    Key{"compensated_to", Need::Optional, R"("25 C")"},
    Key{"alpha", Need::Optional, R"("2.0 %")"},
    Key{"gravity", Need::Optional, R"("25/25")"},
    Key{"table", Need::Optional, "[[0, 0], [10, 22.4], [80, 200]]"},
};
inline constexpr std::array modbus_source_keys{
    Key{"link", Need::Required, R"("rack")"},  Key{"unit", Need::Required, "1"},
    Key{"input", Need::Optional, "0"},         Key{"holding", Need::Optional, "4"},
    Key{"coil", Need::Optional, "0"},          Key{"discrete", Need::Optional, "0"},
    Key{"as", Need::Optional, R"("float32")"}, Key{"order", Need::Optional, R"("ABCD")"},
    Key{"in", Need::Optional, R"("mS/cm")"},   Key{"scale", Need::Optional, "0.1"},
    Key{"offset", Need::Optional, "-4"},       Key{"closed_means", Need::Optional, R"("wet")"},
    Key{"every", Need::Optional, R"("1 s")"},
};
inline constexpr std::array mqtt_source_keys{
    Key{"topic", Need::Required, R"("cellar/bath")"},
    Key{"pointer", Need::Optional, R"("/temperature_c")"},
    Key{"time", Need::Optional, R"("/time")"},
    Key{"simulated", Need::Optional, R"("/simulated")"},
    Key{"in", Need::Optional, R"("C")"},
    Key{"scale", Need::Optional, "0.1"},
    Key{"offset", Need::Optional, "-4"},
    Key{"closed_means", Need::Optional, R"("wet")"},
};
inline constexpr std::array process_source_keys{
    Key{"command", Need::Required, R"(["/usr/local/bin/read-cell", "--json"])"},
    Key{"in", Need::Optional, R"("mS/cm")"},
    Key{"scale", Need::Optional, "0.1"},
    Key{"offset", Need::Optional, "-4"},
    Key{"closed_means", Need::Optional, R"("wet")"},
};
inline constexpr std::array pump_keys{
    Key{"output", Need::Required, R"({ link = "rack", unit = 2, coil = 0 })"},
    Key{"second_cutoff", Need::Optional, R"({ link = "rack", unit = 2, coil = 1 })"},
    Key{"readback", Need::Optional, R"({ link = "rack", unit = 2, discrete = 0 })"},
    Key{"permit", Need::Optional, R"("per change")"},
    Key{"lease", Need::Optional, R"("5 s")"},
    Key{"dwell", Need::Optional, R"("10 s")"},
    Key{"max_volume", Need::Required, R"("60 L")"},
    Key{"max_run", Need::Required, R"("15 min")"},
    Key{"no_flow_after", Need::Optional, R"("60 s")"},
    Key{"readback_within", Need::Optional, R"("5 s")"},
    Key{"unasked_loss", Need::Optional, R"("4 L")"},
    Key{"change_button", Need::Optional, R"("20 L")"},
};
inline constexpr std::array hold_off_keys{
    Key{"output", Need::Required, R"({ link = "rack", unit = 4, coil = 0 })"},
    Key{"lease", Need::Optional, R"("60 s")"},
    Key{"confirm_within", Need::Optional, R"("30 s")"},
    Key{"rest", Need::Optional, R"("1 min")"},
};
inline constexpr std::array drain_keys{
    Key{"output", Need::Required, R"({ link = "rack", unit = 2, coil = 3 })"},
    Key{"readback", Need::Optional, R"({ link = "rack", unit = 2, discrete = 5 })"},
    Key{"max_run", Need::Required, R"("15 min")"},
    Key{"portion", Need::Optional, R"("20 L")"},
    Key{"tolerance", Need::Optional, R"("4 L")"},
    Key{"no_flow_after", Need::Optional, R"("60 s")"},
    Key{"readback_within", Need::Optional, R"("5 s")"},
};
inline constexpr std::array modbus_output_keys{
    Key{"link", Need::Required, R"("rack")"},
    Key{"unit", Need::Required, "2"},
    Key{"coil", Need::Required, "0"},
    Key{"timed", Need::Optional, R"({ holding = 16, step = "100 ms" })"},
    Key{"simulated", Need::Optional, "true"},
};
inline constexpr std::array timed_keys{
    Key{"holding", Need::Required, "16"},
    Key{"step", Need::Required, R"("100 ms")"},
};
inline constexpr std::array mqtt_output_keys{
    Key{"topic", Need::Required, R"("cellar/pump/set")"},
    Key{"on", Need::Required, R"("on {seconds}")"},
    Key{"off", Need::Required, R"("off")"},
    Key{"simulated", Need::Optional, "true"},
};

inline constexpr Section site{"site", site_keys};
inline constexpr Section mqtt{"mqtt", mqtt_keys};
inline constexpr Section http{"http", http_keys};
inline constexpr Section history{"history", history_keys};
inline constexpr Section notify_webhook{"notify_webhook", notify_webhook_keys};
inline constexpr Section notify_mail{"notify_mail", notify_mail_keys};
inline constexpr Section heartbeat{"heartbeat", heartbeat_keys};
inline constexpr Section link{"link", link_keys};
inline constexpr Section profile{"profile", profile_keys};
inline constexpr Section limit{"limit", limit_keys};
inline constexpr Section station{"station", station_keys};
inline constexpr Section probe{"probe", probe_keys};
inline constexpr Section modbus_source{"modbus_source", modbus_source_keys};
inline constexpr Section mqtt_source{"mqtt_source", mqtt_source_keys};
inline constexpr Section process_source{"process_source", process_source_keys};
inline constexpr Section pump{"pump", pump_keys};
inline constexpr Section hold_off{"hold_off", hold_off_keys};
inline constexpr Section drain{"drain", drain_keys};
inline constexpr Section modbus_output{"modbus_output", modbus_output_keys};
inline constexpr Section mqtt_output{"mqtt_output", mqtt_output_keys};
inline constexpr Section timed{"timed", timed_keys};

inline constexpr std::array sections{
    site,           mqtt,    http,     history, notify_webhook, notify_mail,   heartbeat,
    link,           profile, limit,    station, probe,          modbus_source, mqtt_source,
    process_source, pump,    hold_off, drain,   modbus_output,  mqtt_output,   timed};

}  // namespace known
}  // namespace brinegate::config
