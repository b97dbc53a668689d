// SPDX-License-Identifier: Apache-2.0
// "Did you mean ...?": the known word nearest to a mistyped one.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace brinegate::config {

// Insertions, deletions, replacements and swaps of neighbours that turn one word into the other
// (optimal string alignment).
std::size_t edit_distance(std::string_view a, std::string_view b);

// The nearest, if it is near enough to be a slip of the keyboard: a third of its letters at most.
std::optional<std::string> nearest(std::string_view word, const std::vector<std::string>& known);

// "did you mean 'tolerance'?", or else "known are a, b, c", or else "there is none".
std::string suggestion(std::string_view word, const std::vector<std::string>& known);

}  // namespace brinegate::config
