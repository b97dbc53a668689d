// SPDX-License-Identifier: Apache-2.0
// What must be said wherever this program is set up or shown: written once, here.
#pragma once

#include <array>
#include <string_view>

namespace brinegate::config {

inline constexpr std::array<std::string_view, 4> cautions{
    "This is not a certified safety device.",
    "Mains and water do not mix: use residual-current protection and drip loops, follow the local "
    "electrical code, and leave fixed wiring to a licensed electrician.",
    "Keep an independent float switch or hard-wired cut-off for everything that must never "
    "overflow.",
    "Never rely on software alone, neither for animals nor against flooding.",
};

}  // namespace brinegate::config
