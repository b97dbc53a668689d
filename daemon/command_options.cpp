// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_options.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ostream.h>
#include <nlohmann/json.hpp>

#include "config/quantity.h"
#include "daemon/command_ask.h"
#include "daemon/command_text.h"
#include "daemon/engine/state_json.h"
#include "daemon/library_access.h"
#include "daemon/store_tables.h"
#include "rules/lot_yield.h"
#include "rules/seawater.h"

namespace brinegate::daemon {

void OptionReader::refuse(std::string_view option, std::string_view why) {
  fmt::print(console_.err, "brinegate: --{}: {}\n", option, why);
  all_read_ = false;
}

SaltProduct OptionReader::salt_product() {
  SaltProduct product;
  product.dry_fraction = read(dry_fraction_option.name, config::parse_share, product.dry_fraction);
  if (!arguments_.has(lot_option.name))
    return product;
  if (arguments_.has(dry_fraction_option.name))
    refuse(lot_option.name, "and --dry-fraction both say what the salt yields: give one of them");
  return product_of_lot(std::string(arguments_.option(lot_option.name))).value_or(product);
}

std::optional<SaltProduct> OptionReader::product_of_lot(const std::string& lot) {
  const auto data = find_data_folder(arguments_, console_);
  if (!data) {
    all_read_ = false;
    return std::nullopt;
  }
  const auto lots = query_states(*data, "lot-yield", "");
  if (!lots) {
    refuse(lot_option.name, lots.error().message);
    return std::nullopt;
  }
  for (const StoredState& state : *lots) {
    if (state.key != lot)
      continue;
    const auto yield = lot_yield_from(state.body);
    if (yield)
      return product_of(*yield);
    refuse(lot_option.name, yield.error().message);
    return std::nullopt;
  }
  const std::optional<double> stated = stated_dry_fraction(lot);
  fmt::print(console_.err, "brinegate: nothing was learned of lot {} yet{}\n", lot,
             stated ? ": the dry fraction stated with it counts" : "");
  SaltProduct product;
  product.dry_fraction = stated.value_or(product.dry_fraction);
  return product;
}

std::optional<double> OptionReader::stated_dry_fraction(const std::string& lot) {
  LibraryAccess access(arguments_, console_);
  const Library* const library = access.on_record();
  all_read_ &= library != nullptr;
  const Lot* const stated = library == nullptr ? nullptr : library->lot(lot);
  return stated == nullptr ? std::nullopt : stated->dry_fraction;
}

Result<double> parse_number(std::string_view text) {
  double number = 0.0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (failure != std::errc() || end != text.data() + text.size() || !std::isfinite(number))
    return Error{fmt::format("'{}' is not a number", text)};
  return number;
}

nlohmann::ordered_json assumptions(SaltProduct salt, Celsius temperature) {
  return {{"dry_fraction", salt.dry_fraction},
          {"dry_fraction_uncertainty", salt.dry_fraction_uncertainty},
          {"dry_fraction_learned", salt.learned},
          {"temperature_c", temperature.value()}};
}

std::vector<Option> salt_and_water_options() {
  return {temperature_option, dry_fraction_option, lot_option, config_option, json_option};
}

std::vector<Option> joined(std::vector<Option> first, const std::vector<Option>& more) {
  first.insert(first.end(), more.begin(), more.end());
  return first;
}

std::string assumptions_text(SaltProduct salt, PracticalSalinity target, Celsius temperature) {
  return wrapped(
      fmt::format("Assumed: {:.4g} % of the product's mass is anhydrous sea salt{} and the rest "
                  "water, moisture and water of hydration, which counts as water; everything at "
                  "{}, where water at the target weighs {:.2f} kg/m3.",
                  100.0 * salt.dry_fraction,
                  salt.learned ? ", as learned from proven batches," : "",
                  config::show(temperature), density(target, temperature).value()),
      0, 0);
}

}  // namespace brinegate::daemon
