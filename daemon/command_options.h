// SPDX-License-Identifier: Apache-2.0
// The options that several commands share, and reading options as quantities: every wrong one is
// reported, not only the first.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/command_line.h"
#include "rules/mass_balance.h"
#include "rules/result.h"
#include "rules/units.h"

namespace brinegate::daemon {

inline constexpr Option json_option{"json", "", "print JSON"};
inline constexpr Option config_option{
    "config", "FILE",
    "the daemon's configuration; else $BRINEGATE_CONFIG, else /etc/brinegate/brinegate.toml"};
inline constexpr Operand station_operand{"STATION", "its name in the configuration"};
inline constexpr Operand probe_operand{"PROBE", "its name in the configuration"};
inline constexpr Option dry_fraction_option{
    "dry-fraction", "0.93",
    "share of the product that is anhydrous sea salt, the rest being water; assumed 0.93"};
inline constexpr Option lot_option{
    "lot", "NAME",
    "instead: what this lot's proven batches have shown, else what is stated with it on record"};
inline constexpr Option temperature_option{"temperature", "24 C", "of the water; assumed 25 C"};

inline constexpr Celsius assumed_water_temperature{25.0};

class OptionReader {
 public:
  OptionReader(const Arguments& arguments, Console& console)
      : arguments_(arguments), console_(console) {}

  // Nothing where the option was not given or cannot be read; the latter is an error to report.
  template <class T>
  std::optional<T> find(std::string_view option, Result<T> (*parse)(std::string_view)) {
    if (!arguments_.has(option))
      return std::nullopt;
    Result<T> parsed = parse(arguments_.option(option));
    if (parsed)
      return parsed.value();
    refuse(option, parsed.error().message);
    return std::nullopt;
  }
  template <class T>
  T read(std::string_view option, Result<T> (*parse)(std::string_view), T otherwise) {
    return find(option, parse).value_or(otherwise);
  }
  // As given, or as learned of the lot that is named, else as assumed.
  SaltProduct salt_product();
  // Reports that an option's value will not do.
  void refuse(std::string_view option, std::string_view why);
  // Whether everything could be read. What could not was reported.
  [[nodiscard]] bool all_read() const { return all_read_; }

 private:
  std::optional<SaltProduct> product_of_lot(const std::string& lot);
  std::optional<double> stated_dry_fraction(const std::string& lot);

  const Arguments& arguments_;
  Console& console_;
  bool all_read_ = true;
};

Result<double> parse_number(std::string_view text);

// The options that every calculation of salt and water has at its end.
std::vector<Option> salt_and_water_options();
// `first` with `more` behind it.
std::vector<Option> joined(std::vector<Option> first, const std::vector<Option>& more);

// What a calculation of salt and water took for granted, for machines and for people.
nlohmann::ordered_json assumptions(SaltProduct salt, Celsius temperature);
std::string assumptions_text(SaltProduct salt, PracticalSalinity target, Celsius temperature);

}  // namespace brinegate::daemon
