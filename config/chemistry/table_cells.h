// SPDX-License-Identifier: Apache-2.0
// A pasted table taken apart: its lines into cells, its cells into numbers with their units, ranges
// and words, its header into what its columns hold.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "config/chemistry/content_words.h"

namespace brinegate::config {

constexpr std::size_t longest_row = 1000;  // bytes; a longer line is no row
constexpr std::size_t most_columns = 40;

// What stands between the cells of a text.
enum class Separator { Tab, Pipe, Semicolon, Comma, Gap, Blank };  // Gap: two blanks at least
// By the lines that name an analyte in one of their cells.
Separator separator_of(const std::vector<std::string_view>& lines);
// The cells without their quotation marks; nothing where one is not closed. Not for Blank.
std::optional<std::vector<std::string>> cells_of(std::string_view line, Separator separator);

enum class ItemKind {
  Value,   // "421", "< 2 µg/L", "421 ± 8 mg/L (k=2)", "n.d. (< 2 µg/L)"
  Range,   // "400-450 mg/L": a reference, never a value
  Unit,    // "mg/L"
  Remark,  // in brackets: "(target 420)"
  Word,
};
struct Item {
  ItemKind kind = ItemKind::Word;
  std::string text;  // of a value without its unit where that can be taken off
  std::string unit;  // of a value; empty
};
std::vector<Item> items_of(std::string_view cell);

// The analyte a cell names, with the unit that may stand behind it: "Calcium [mg/L]".
struct CellName {
  NamedAnalyte of;
  std::string unit;
};
std::optional<CellName> name_in(std::string_view cell);
// The analyte that a line of words names first, and what follows its names. `open` says what a name
// leaves open.
struct LeadingName {
  std::optional<NamedAnalyte> of;
  std::optional<std::string> open;
  std::string unit;
  std::string_view rest;
};
LeadingName leading_name(std::string_view line);

enum class Column { Unknown, Name, Value, Unit, Limit, Uncertainty, ExpandedUncertainty, Ignored };
struct HeaderCell {
  Column column = Column::Unknown;
  std::string unit;  // "Value [mg/L]", or "mg/L" alone, which heads values
  std::string text;
};
// Nothing where this is no header: a header has two cells at least that say what they head.
std::optional<std::vector<HeaderCell>> header_in(const std::vector<std::string>& cells);
// The same of words with single blanks between them: the first heads names, and all must be
// understood.
std::optional<std::vector<HeaderCell>> header_in_words(std::string_view line);
// Whether what follows such a word is something else than the value: "target", "Sollwert".
bool announces_reference(std::string_view word);

// Small letters alone of a word or two, for comparing.
std::string plain_letters(std::string_view text);

}  // namespace brinegate::config
