// SPDX-License-Identifier: Apache-2.0
#include "config/plain_text.h"

#include <algorithm>

namespace brinegate::config {

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

std::string_view trimmed(std::string_view text) {
  for (bool again = true; again;) {
    again = false;
    for (const std::string_view blank : {" ", "\t", "\u00a0", "\u202f"}) {
      if (text.starts_with(blank)) {
        text.remove_prefix(blank.size());
        again = true;
      }
      if (text.ends_with(blank)) {
        text.remove_suffix(blank.size());
        again = true;
      }
    }
  }
  return text;
}

bool same_letters(std::string_view a, std::string_view b) {
  const auto lower = [](char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [&](char x, char y) { return lower(x) == lower(y); });
}

std::size_t character_size(std::string_view text) {
  const auto byte = [&](std::size_t i) {
    return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
  };
  const unsigned first = byte(0);
  if (text.empty() || (first >= 0x80 && first < 0xC2) || first > 0xF4)
    return 0;
  const std::size_t size = first < 0x80 ? 1 : first < 0xE0 ? 2 : first < 0xF0 ? 3 : 4;
  for (std::size_t i = 1; i < size; ++i)
    if ((byte(i) & 0xC0U) != 0x80U)
      return 0;
  const bool overlong = (first == 0xE0 && byte(1) < 0xA0) || (first == 0xF0 && byte(1) < 0x90);
  const bool surrogate = first == 0xED && byte(1) >= 0xA0;
  const bool beyond = first == 0xF4 && byte(1) >= 0x90;
  return overlong || surrogate || beyond ? 0 : size;
}

std::string in_short(std::string_view text, std::size_t most) {
  std::string result;
  for (std::size_t count = 0; !text.empty(); ++count) {
    if (count == most)
      return result + "...";
    const std::size_t size = character_size(text);
    const auto first = static_cast<unsigned char>(text.front());
    const bool control = first < ' ' || first == 0x7F ||
                         (first == 0xC2 && size == 2 && static_cast<unsigned char>(text[1]) < 0xA0);
    if (size == 0 || control)
      result += '?';
    else
      result += text.substr(0, size);
    text.remove_prefix(std::max<std::size_t>(size, 1));
  }
  return result;
}

std::string quoted(std::string_view text) {
  constexpr std::size_t longest = 40;
  return '"' + in_short(text, longest) + '"';
}

}  // namespace brinegate::config
