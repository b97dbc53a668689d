// SPDX-License-Identifier: Apache-2.0
// What brinegate-sim ends with; the manual page lists them.
#pragma once

namespace brinegate::sim {

inline constexpr int done_status = 0;
inline constexpr int found_wrong = 1;  // a campaign found what must not be
inline constexpr int not_written = 2;

}  // namespace brinegate::sim
