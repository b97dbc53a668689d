// SPDX-License-Identifier: Apache-2.0
// Lines into cells, and headers.
#include "config/chemistry/table_cells.h"

#include <algorithm>
#include <array>
#include <map>

#include "config/plain_text.h"

namespace brinegate::config {
namespace {

char sign_of(Separator separator) {
  switch (separator) {
    case Separator::Tab:
      return '\t';
    case Separator::Pipe:
      return '|';
    case Separator::Semicolon:
      return ';';
    default:
      return ',';
  }
}

std::vector<std::string> cells_between_gaps(std::string_view line) {
  std::vector<std::string> cells;
  for (std::string_view rest = trimmed(line); !rest.empty();) {
    const std::size_t end = std::min(rest.find("  "), rest.find('\t'));
    cells.emplace_back(rest.substr(0, end));
    rest = end == std::string_view::npos ? std::string_view() : trimmed(rest.substr(end));
  }
  return cells;
}

// A quoted cell from its opening mark on; doubled marks stand for one (RFC 4180).
struct QuotedCell {
  std::string text;
  std::size_t size = 0;  // with its marks; 0: not closed
};
QuotedCell quoted_cell(std::string_view text) {
  QuotedCell cell;
  for (std::size_t i = 1; i < text.size(); ++i) {
    if (text[i] != '"') {
      cell.text += text[i];
    } else if (i + 1 < text.size() && text[i + 1] == '"') {
      cell.text += text[i++];
    } else {
      cell.size = i + 1;
      return cell;
    }
  }
  return cell;
}

constexpr std::array name_words{"element",   "elemente",   "elements",    "analyte",  "analyt",
                                "parameter", "name",       "symbol",      "ion",      "component",
                                "stoff",     "komponente", "bezeichnung", "kenngröße"};
constexpr std::array value_words{
    "value",   "result", "results",  "measured", "measurement",   "concentration",
    "content", "found",  "analysis", "messwert", "ergebnis",      "wert",
    "istwert", "ist",    "gemessen", "gehalt",   "konzentration", "befund"};
constexpr std::array unit_words{"unit", "units", "einheit", "einheiten", "dimension"};
constexpr std::array limit_words{"lod",
                                 "loq",
                                 "mdl",
                                 "nwg",
                                 "bg",
                                 "nachweisgrenze",
                                 "bestimmungsgrenze",
                                 "detection",
                                 "detectionlimit",
                                 "limit"};
constexpr std::array uncertainty_words{"uncertainty", "unsicherheit", "standardunsicherheit"};
constexpr std::array reference_words{"reference",
                                     "ref",
                                     "target",
                                     "setpoint",
                                     "set",
                                     "ideal",
                                     "recommended",
                                     "range",
                                     "normal",
                                     "natural",
                                     "nsw",
                                     "seawater",
                                     "min",
                                     "max",
                                     "minimum",
                                     "maximum",
                                     "from",
                                     "previous",
                                     "last",
                                     "deviation",
                                     "difference",
                                     "status",
                                     "rating",
                                     "comment",
                                     "remark",
                                     "remarks",
                                     "date",
                                     "wanted",
                                     "referenz",
                                     "referenzwert",
                                     "soll",
                                     "sollwert",
                                     "ziel",
                                     "zielwert",
                                     "bereich",
                                     "sollbereich",
                                     "referenzbereich",
                                     "richtwert",
                                     "grenzwert",
                                     "normalwert",
                                     "norm",
                                     "abweichung",
                                     "differenz",
                                     "bewertung",
                                     "bemerkung",
                                     "kommentar",
                                     "vorwert",
                                     "datum",
                                     "empfohlen",
                                     "optimal",
                                     "natürlich",
                                     "meerwasser",
                                     "no",
                                     "nr",
                                     "method",
                                     "methode"};

template <std::size_t n>
bool holds(const std::array<const char*, n>& words, std::string_view word) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

Column column_of_word(std::string_view word) {
  if (holds(reference_words, word))
    return Column::Ignored;
  if (holds(limit_words, word))
    return Column::Limit;
  if (word == "±" || word == "+/-" || word == "messunsicherheit" || word == "k=2")
    return Column::ExpandedUncertainty;
  if (holds(uncertainty_words, word))
    return Column::Uncertainty;
  if (holds(value_words, word))
    return Column::Value;
  if (holds(unit_words, word))
    return Column::Unit;
  return holds(name_words, word) ? Column::Name : Column::Unknown;
}

std::vector<std::string> letters_of_words(std::string_view text) {
  std::vector<std::string> words(1);
  for (const char c : text)
    if (std::string_view(" _-,:()[]/\t").find(c) == std::string_view::npos || text == "+/-")
      words.back() += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    else if (!words.back().empty())
      words.emplace_back();
  if (words.back().empty())
    words.pop_back();
  return words;
}

// The strongest word says it: "reference value" is no value, "detection limit" no range.
Column column_of_words(std::string_view text) {
  constexpr std::array strongest_first{
      Column::Ignored,     Column::Limit, Column::ExpandedUncertainty,
      Column::Uncertainty, Column::Value, Column::Unit,
      Column::Name};
  std::vector<Column> columns;
  for (const std::string& word : letters_of_words(text))
    columns.push_back(column_of_word(word));
  for (const Column column : strongest_first)
    if (std::find(columns.begin(), columns.end(), column) != columns.end())
      return column;
  return Column::Unknown;
}

HeaderCell header_cell(std::string_view text) {
  HeaderCell cell{Column::Unknown, {}, std::string(trimmed(text))};
  std::string_view words = trimmed(text);
  if (is_content_unit(words)) {
    cell.column = Column::Value;
    cell.unit = words;
    return cell;
  }
  for (const std::string_view open : {"[", "(", ",", " in "}) {
    const std::size_t at = words.rfind(open);
    if (at == std::string_view::npos)
      continue;
    std::string_view unit = trimmed(words.substr(at + open.size()));
    if (unit.ends_with(']') || unit.ends_with(')'))
      unit.remove_suffix(1);
    if (!is_content_unit(unit))
      continue;
    cell.unit = unit;
    words = trimmed(words.substr(0, at));
    break;
  }
  cell.column = column_of_words(words);
  return cell;
}

std::size_t analytes_in(const std::vector<std::string>& cells) {
  constexpr std::size_t first_cells = 3;
  std::size_t count = 0;
  for (std::size_t i = 0; i < std::min(first_cells, cells.size()); ++i)
    count += name_in(cells[i]) ? 1U : 0U;
  return count;
}

bool has_column(const std::vector<HeaderCell>& header, Column column) {
  return std::any_of(header.begin(), header.end(),
                     [&](const HeaderCell& cell) { return cell.column == column; });
}

// "Detection limit", "Reference range", "Target value": two words of one column.
bool belong_together(std::string_view one, std::string_view next) {
  const Column first = column_of_words(one);
  const Column second = column_of_words(next);
  return (first == Column::Limit && second == Column::Limit) ||
         (first == Column::Ignored && (second == Column::Ignored || second == Column::Value));
}

std::optional<std::vector<HeaderCell>> words_as_header(std::string_view line, bool in_pairs) {
  std::vector<HeaderCell> header;
  for (std::string_view rest = trimmed(line); !rest.empty();) {
    const std::size_t first = std::min(rest.find(' '), rest.size());
    const std::size_t second = std::min(rest.find(' ', first + 1), rest.size());
    const bool pair = in_pairs && second > first &&
                      belong_together(rest.substr(0, first), rest.substr(first, second - first));
    HeaderCell cell = header_cell(rest.substr(0, pair ? second : first));
    if (cell.column == Column::Unknown || header.size() == most_columns)
      return std::nullopt;
    rest = trimmed(rest.substr(pair ? second : first));
    const bool opens = rest.starts_with('(') || rest.starts_with('[');
    const std::size_t close = opens ? rest.find_first_of(")]") : std::string_view::npos;
    if (close != std::string_view::npos && is_content_unit(rest.substr(1, close - 1))) {
      cell.unit = rest.substr(1, close - 1);
      rest = trimmed(rest.substr(close + 1));
    }
    header.push_back(std::move(cell));
  }
  const bool names_first = header.size() > 1 && header.front().column == Column::Name;
  return names_first ? std::optional(header) : std::nullopt;
}

}  // namespace

std::optional<std::vector<std::string>> cells_of(std::string_view line, Separator separator) {
  if (separator == Separator::Gap)
    return cells_between_gaps(line);
  const char sign = sign_of(separator);
  std::vector<std::string> cells;
  std::string_view rest = line;
  while (true) {
    while (rest.starts_with(' '))
      rest.remove_prefix(1);
    std::string quoted_text;
    const bool is_quoted = rest.starts_with('"') && separator != Separator::Pipe;
    if (is_quoted) {
      const QuotedCell cell = quoted_cell(rest);
      if (cell.size == 0)
        return std::nullopt;
      quoted_text = cell.text;
      rest.remove_prefix(cell.size);
    }
    const std::size_t end = rest.find(sign);
    cells.push_back(quoted_text + std::string(trimmed(rest.substr(0, end))));
    if (end == std::string_view::npos)
      break;
    rest.remove_prefix(end + 1);
  }
  // "| Ca | 421 |"
  if (separator == Separator::Pipe && cells.front().empty() && cells.size() > 1)
    cells.erase(cells.begin());
  if (separator == Separator::Pipe && cells.back().empty() && cells.size() > 1)
    cells.pop_back();
  return cells;
}

Separator separator_of(const std::vector<std::string_view>& lines) {
  constexpr std::size_t enough = 400;  // lines tell it
  Separator best = Separator::Blank;
  std::size_t most = 0;
  for (const Separator separator :
       {Separator::Tab, Separator::Pipe, Separator::Semicolon, Separator::Comma, Separator::Gap}) {
    std::size_t count = 0;
    std::size_t looked_at = 0;
    for (const std::string_view line : lines) {
      if (looked_at == enough)
        break;
      const bool has_it = separator == Separator::Gap
                              ? trimmed(line).find("  ") != std::string_view::npos
                              : line.find(sign_of(separator)) != std::string_view::npos;
      if (!has_it || line.size() > longest_row)
        continue;
      ++looked_at;
      const auto cells = cells_of(line, separator);
      count += cells && cells->size() > 1 && analytes_in(*cells) > 0 ? 1U : 0U;
    }
    if (count > most) {
      best = separator;
      most = count;
    }
  }
  return best;
}

std::optional<std::vector<HeaderCell>> header_in(const std::vector<std::string>& cells) {
  if (cells.size() < 2 || cells.size() > most_columns || analytes_in(cells) > 0)
    return std::nullopt;
  std::vector<HeaderCell> header;
  std::size_t understood = 0;
  for (const std::string& cell : cells) {
    header.push_back(header_cell(cell));
    understood += header.back().column == Column::Unknown ? 0U : 1U;
  }
  const bool tells = has_column(header, Column::Name) || has_column(header, Column::Value);
  return understood >= 2 && tells ? std::optional(header) : std::nullopt;
}

std::optional<std::vector<HeaderCell>> header_in_words(std::string_view line) {
  // "Reference value" is one column, unless no other holds the value.
  const auto pairs = words_as_header(line, true);
  if (pairs && has_column(*pairs, Column::Value))
    return pairs;
  const auto singles = words_as_header(line, false);
  return singles && has_column(*singles, Column::Value) ? singles : pairs;
}

bool announces_reference(std::string_view word) {
  return column_of_words(word) == Column::Ignored;
}

}  // namespace brinegate::config
