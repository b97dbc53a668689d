// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_text.h"

#include <algorithm>

namespace brinegate::daemon {

std::size_t columns_of(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) {
    return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U;
  }));
}

std::string wrapped(const std::vector<std::string>& pieces, std::size_t indent,
                    std::size_t first_column) {
  std::string lines;
  std::size_t column = first_column;
  bool line_begins = true;
  for (const std::string& piece : pieces) {
    const std::size_t width = columns_of(piece);
    if (!line_begins && column + 1 + width > terminal_columns) {
      lines += '\n';
      lines.append(indent, ' ');
      column = indent;
      line_begins = true;
    }
    if (!line_begins) {
      lines += ' ';
      ++column;
    }
    lines += piece;
    column += width;
    line_begins = false;
  }
  return lines + '\n';
}

std::string wrapped(std::string_view text, std::size_t indent, std::size_t first_column) {
  std::vector<std::string> words;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find(' '), text.size());
    if (end > 0)
      words.emplace_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return wrapped(words, indent, first_column);
}

std::string aligned(const std::vector<std::vector<std::string>>& rows, std::size_t indent) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()), 0);
    for (std::size_t i = 0; i < row.size(); ++i)
      widths[i] = std::max(widths[i], columns_of(row[i]));
  }
  std::string text;
  for (const auto& row : rows) {
    text.append(indent, ' ');
    std::size_t column = indent;
    for (std::size_t i = 0; i + 1 < row.size(); ++i) {
      text += row[i];
      text.append(widths[i] - columns_of(row[i]) + 2, ' ');
      column += widths[i] + 2;
    }
    text += row.empty() ? "\n" : wrapped(row.back(), column, column);
  }
  return text;
}

}  // namespace brinegate::daemon
