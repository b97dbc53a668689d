// SPDX-License-Identifier: Apache-2.0
// What is said of waivers (S8): who let what pass, why and for how long yet.
#pragma once

#include <string>

#include "rules/waiver.h"

namespace brinegate::config {

// "uniform, as-dosed, ...": what a profile can allow to be waived.
std::string all_waivable();
// "Waived by Ada for another 1 h: the heater is on its way."
std::string sentence(const Waiver& waiver, MonoTime now);
// ", with temperature waived"; empty where nothing was.
std::string waived_text(const Proof& proof);

}  // namespace brinegate::config
