// SPDX-License-Identifier: Apache-2.0
// Texts from outside: trimmed, compared, and repeated in messages.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>

namespace brinegate::config {

bool is_digit(char c);
// Without the blanks at its ends: spaces, tabs, no-break spaces.
std::string_view trimmed(std::string_view text);
// The same but for the case of a to z.
bool same_letters(std::string_view a, std::string_view b);
// Bytes of the character that stands first, by UTF-8 (RFC 3629); 0 where none is well formed.
std::size_t character_size(std::string_view text);
// At most so many characters of it; what is no printable character becomes '?'.
std::string in_short(std::string_view text, std::size_t most);
// As messages repeat what was sent: short, printable, in quotation marks.
std::string quoted(std::string_view text);

}  // namespace brinegate::config
