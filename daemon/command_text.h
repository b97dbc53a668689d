// SPDX-License-Identifier: Apache-2.0
// Plain text for a terminal of 80 columns: wrapped sentences and small aligned tables.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace brinegate::daemon {

inline constexpr std::size_t terminal_columns = 80;

// Columns that a UTF-8 text takes: its code points (what is shown here has no wide characters).
std::size_t columns_of(std::string_view text);

// Breaks at spaces so that no line passes the terminal's width; every line but the first begins
// with `indent` spaces, and the first is taken to stand after `first_column` others. Ends in a
// line feed.
std::string wrapped(std::string_view text, std::size_t indent, std::size_t first_column);

// The same for pieces that are not broken themselves.
std::string wrapped(const std::vector<std::string>& pieces, std::size_t indent,
                    std::size_t first_column);

// Left-aligned columns two spaces apart; the last one is wrapped under itself.
std::string aligned(const std::vector<std::vector<std::string>>& rows, std::size_t indent = 2);

}  // namespace brinegate::daemon
