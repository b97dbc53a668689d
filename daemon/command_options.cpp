// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_options.h"

#include <charconv>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ostream.h>

#include "config/quantity.h"
#include "daemon/command_text.h"
#include "rules/seawater.h"

namespace brinegate::daemon {

void OptionReader::refuse(std::string_view option, std::string_view why) {
  fmt::print(console_.err, "brinegate: --{}: {}\n", option, why);
  all_read_ = false;
}

SaltProduct OptionReader::salt_product() {
  SaltProduct product;
  product.dry_fraction = read(dry_fraction_option.name, config::parse_share, product.dry_fraction);
  return product;
}

Result<double> parse_number(std::string_view text) {
  double number = 0.0;
  const auto [end, failure] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (failure != std::errc() || end != text.data() + text.size() || !std::isfinite(number))
    return Error{fmt::format("'{}' is not a number", text)};
  return number;
}

std::string assumptions_text(SaltProduct salt, PracticalSalinity target, Celsius temperature) {
  return wrapped(
      fmt::format("Assumed: {:g} % of the product's mass is anhydrous sea salt and the rest water, "
                  "moisture and water of hydration, which counts as water; everything at {}, where "
                  "water at the target weighs {:.2f} kg/m3.",
                  100.0 * salt.dry_fraction, config::show(temperature),
                  density(target, temperature).value()),
      0, 0);
}

}  // namespace brinegate::daemon
