// SPDX-License-Identifier: Apache-2.0
// What the commands about lots and tanks share: the options of a plan of water changes, and how a
// view is printed.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>

#include "daemon/command_line.h"
#include "rules/chemistry/exchange.h"
#include "rules/chemistry/tank.h"

namespace brinegate::daemon {

inline constexpr Option by_option{"by", "NAME", "who enters it; else the user's name"};
inline constexpr Operand lot_operand{
    "LOT", "its name on record, NAME/VERSION of an older one, or a file of its analysis"};
inline constexpr Operand tank_operand{"TANK", "its name on record, or a file of its particulars"};

// --change, --times, --every, --continuous, --salinity and --temperature of the new water.
std::vector<Option> plan_options();
// Nothing where it cannot be read; that was said on the error stream.
std::optional<ChangePlan> read_plan(const Arguments& arguments, const Tank& tank, Console& console);

// By --by, else the user's name; may be empty.
std::string person(const Arguments& arguments);

ExitStatus print_view(const Arguments& arguments, const nlohmann::ordered_json& view,
                      const std::string& text, Console& console);

}  // namespace brinegate::daemon
