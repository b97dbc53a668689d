// SPDX-License-Identifier: Apache-2.0
// CSV and pasted tables, line by line: particulars, headers, rows that name an analyte, and the
// rest, which is listed.
#include <algorithm>
#include <array>

#include <fmt/format.h>

#include "config/chemistry/analysis.h"
#include "config/chemistry/table_cells.h"
#include "config/plain_text.h"

namespace brinegate::config {
namespace {

struct ParticularName {
  std::string_view letters;
  Particular particular;
};
// As plain_letters gives them.
constexpr std::array particular_names{
    ParticularName{"lot", Particular::Lot},
    ParticularName{"lotnumber", Particular::Lot},
    ParticularName{"lotno", Particular::Lot},
    ParticularName{"charge", Particular::Lot},
    ParticularName{"chargennummer", Particular::Lot},
    ParticularName{"chargennr", Particular::Lot},
    ParticularName{"salt", Particular::Salt},
    ParticularName{"saltmix", Particular::Salt},
    ParticularName{"product", Particular::Salt},
    ParticularName{"salz", Particular::Salt},
    ParticularName{"meersalz", Particular::Salt},
    ParticularName{"produkt", Particular::Salt},
    ParticularName{"expires", Particular::Expires},
    ParticularName{"expiry", Particular::Expires},
    ParticularName{"expirydate", Particular::Expires},
    ParticularName{"bestbefore", Particular::Expires},
    ParticularName{"useby", Particular::Expires},
    ParticularName{"haltbarbis", Particular::Expires},
    ParticularName{"mindestenshaltbarbis", Particular::Expires},
    ParticularName{"mhd", Particular::Expires},
    ParticularName{"dryfraction", Particular::DryFraction},
    ParticularName{"trockenanteil", Particular::DryFraction},
    ParticularName{"tested", Particular::Tested},
    ParticularName{"sampled", Particular::Tested},
    ParticularName{"getestet", Particular::Tested},
    ParticularName{"probenahme", Particular::Tested},
    ParticularName{"salinity", Particular::Salinity},
    ParticularName{"samplesalinity", Particular::Salinity},
    ParticularName{"salinität", Particular::Salinity},
    ParticularName{"salinitaet", Particular::Salinity},
    ParticularName{"salzgehalt", Particular::Salinity},
    ParticularName{"temperature", Particular::Temperature},
    ParticularName{"temperatur", Particular::Temperature},
    ParticularName{"method", Particular::Method},
    ParticularName{"methode", Particular::Method},
    ParticularName{"verfahren", Particular::Method},
    ParticularName{"ppm", Particular::Ppm},
};

std::optional<Particular> particular_named(std::string_view name) {
  constexpr std::size_t longest = 40;
  if (name.size() > longest)
    return std::nullopt;
  std::string letters = plain_letters(trimmed(name));
  if (letters.starts_with('#'))
    letters.erase(0, 1);
  const auto* const found =
      std::find_if(particular_names.begin(), particular_names.end(),
                   [&](const ParticularName& known) { return known.letters == letters; });
  return found == particular_names.end() ? std::nullopt : std::optional(found->particular);
}

// The one number of a row that can be its value, or why there is none.
Result<Item> value_among(const std::vector<Item>& items, bool words_may_precede) {
  std::optional<Item> value;
  bool reference_follows = false;
  bool word_before = false;
  for (std::size_t i = 0; i < items.size(); ++i) {
    const Item& item = items[i];
    if (item.kind == ItemKind::Word) {
      reference_follows = announces_reference(item.text);
      word_before = word_before || !value;
      continue;
    }
    if (item.kind == ItemKind::Value && !reference_follows) {
      if (value)
        return Error{
            fmt::format("{} and {} can both be its value: keep one of them, or say by a "
                        "header which column is the value",
                        quoted(value->text), quoted(item.text))};
      if (word_before && !words_may_precede)
        return Error{
            fmt::format("words stand between its name and {}: write name, value and unit, "
                        "or delete the line",
                        quoted(item.text))};
      value = item;
    } else if (item.kind == ItemKind::Unit && value && value->unit.empty()) {
      value->unit = item.text;
    }
    reference_follows = false;
  }
  if (!value)
    return Error{
        "no value stands there that can be read: write for example \"421 mg/L\", or "
        "delete the line"};
  if (value->unit.empty())
    for (const Item& item : items)
      if (item.kind == ItemKind::Unit)
        value->unit = item.text;
  return *value;
}

// "421", "421 ± 8", "n.d. < 2 µg/L": with what says the unit where the item did not.
void put_value(const Item& item, AnalysisRow& row) {
  row.values = {item.text};
  if (row.unit.empty())
    row.unit = item.unit;
  else if (!item.unit.empty())
    row.values.front() += " " + item.unit;
}

class TableText {
 public:
  TableText(std::string_view text, Problems& problems) : problems_(problems) {
    for (std::string_view rest = text; !rest.empty();) {
      const std::size_t end = rest.find('\n');
      lines_.push_back(rest.substr(0, end));
      rest = end == std::string_view::npos ? std::string_view() : rest.substr(end + 1);
    }
  }

  AnalysisText read() {
    constexpr std::ptrdiff_t most_lines = 5000;
    if (std::count_if(lines_.begin(), lines_.end(),
                      [](std::string_view line) { return !trimmed(line).empty(); }) > most_lines) {
      problems_.error({},
                      fmt::format("it has more than {} lines: no analysis is so long", most_lines));
      return {};
    }
    separator_ = separator_of(lines_);
    for (std::size_t i = 0; i < lines_.size(); ++i) {
      line_ = static_cast<int>(i) + 1;
      read_line(lines_[i]);
    }
    return std::move(text_);
  }

 private:
  using Cells = std::vector<std::string>;

  [[nodiscard]] Position at() const { return {line_, 1}; }
  void error(std::string message) { problems_.error(at(), std::move(message)); }
  void unread(std::string_view text, std::string why) {
    constexpr std::size_t longest = 120;
    text_.unread.push_back({line_, in_short(text, longest), std::move(why)});
  }

  void read_line(std::string_view whole) {
    const std::string_view line = trimmed(whole);
    if (line.find_first_not_of(" \t|-=+:_*#;,\"") == std::string_view::npos)
      return;  // blank, or a rule between rows
    if (line.size() > longest_row) {
      error(
          fmt::format("this line is longer than {} bytes: give each analyte a line of its own, or "
                      "delete it",
                      longest_row));
      return;
    }
    if (read_key_and_value(line))
      return;
    std::optional<Cells> cells;
    if (separator_ != Separator::Blank) {
      cells = cells_of(whole, separator_);
      if (!cells) {
        error("a quotation mark is not closed: close it, or delete the line");
        return;
      }
    }
    if (cells && cells->size() > 1 && read_cells(*cells))
      return;
    read_words(line);
  }

  // "Salinity: 35 ppt", "Lot = H-2291"
  bool read_key_and_value(std::string_view line) {
    const std::size_t sign = line.find_first_of(":=");
    if (sign == std::string_view::npos)
      return false;
    std::string_view key = line.substr(0, sign);
    while (key.starts_with('"') || key.starts_with('|'))
      key = trimmed(key.substr(1));
    // "Salinity (ppt): 35"
    const std::size_t bracket = key.find_first_of("([");
    std::string unit;
    if (bracket != std::string_view::npos && (key.ends_with(')') || key.ends_with(']'))) {
      unit = " " + std::string(key.substr(bracket + 1, key.size() - bracket - 2));
      key = trimmed(key.substr(0, bracket));
    }
    const auto particular = particular_named(key);
    if (!particular)
      return false;
    std::string_view value = trimmed(line.substr(sign + 1));
    while (!value.empty() &&
           std::string_view(";,|\t\"").find(value.back()) != std::string_view::npos)
      value = trimmed(value.substr(0, value.size() - 1));
    put_particular(*particular, std::string(value) + unit);
    return true;
  }

  void put_particular(Particular particular, const std::string& value) {
    const auto [first, is_new] = text_.particulars.insert({particular, {value, at()}});
    if (!is_new && first->second.text != value)
      error(fmt::format("{} stands here and {} in line {}: keep one of them",
                        quoted(std::string_view(value)),
                        quoted(std::string_view(first->second.text)), first->second.at.line));
  }

  bool read_cells(const Cells& cells) {
    if (auto header = header_in(cells)) {
      take_header(std::move(*header));
      return true;
    }
    if (const auto particular = particular_named(cells.front())) {
      read_particular_cells(*particular, cells);
      return true;
    }
    return read_row_of_cells(cells);
  }

  void read_particular_cells(Particular particular, const Cells& cells) {
    const bool measured =
        particular == Particular::Salinity || particular == Particular::Temperature;
    AnalysisRow row;
    std::optional<Error> problem;
    if (!measured)
      row.values = {cells[1]};
    else if (header_.empty())
      problem = read_without_header(cells, 1, separator_ == Separator::Gap, row);
    else
      problem = read_under_header(cells, row);
    if (problem)
      error(fmt::format("{}: {}", in_short(cells.front(), 40), problem->message));
    else
      put_particular(particular, row.values.front() + (row.unit.empty() ? "" : " " + row.unit));
  }

  // The unit in the header is that of contents.
  std::optional<Error> read_under_header(const Cells& cells, AnalysisRow& row) const {
    if (auto wrong = wrong_count(cells.size(), separator_ == Separator::Gap))
      return wrong;
    row.values = {""};
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (header_[i].column == Column::Value)
        row.values.front() = cells[i];
      else if (header_[i].column == Column::Unit)
        row.unit = cells[i];
    return std::nullopt;
  }

  void take_header(std::vector<HeaderCell> header) {
    std::size_t values = 0;
    for (const HeaderCell& cell : header) {
      values += cell.column == Column::Value ? 1 : 0;
      if ((cell.column == Column::Unknown || cell.column == Column::Ignored) && !cell.text.empty())
        unread(cell.text, "this column is not read");
    }
    if (values == 0)
      error("no column says that it is the value: head it \"value\"");
    if (values > 1)
      error("two columns say that they are the value: keep one of them");
    header_ = std::move(header);
    header_names_ = std::any_of(header_.begin(), header_.end(),
                                [](const HeaderCell& cell) { return cell.column == Column::Name; });
  }

  // False where it names no analyte in its first cells.
  bool read_row_of_cells(const Cells& cells) {
    AnalysisRow row;
    row.at = at();
    std::size_t after_names = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      if (!may_name(i))
        continue;
      if (const auto open = open_name(cells[i])) {
        error(open->message);
        return true;
      }
      const auto name = name_in(cells[i]);
      if (!name && i > 0 && header_.empty() && !items_of(cells[i]).empty() &&
          items_of(cells[i]).front().kind == ItemKind::Value)
        break;
      if (!name)
        continue;
      if (after_names > 0 && !(row.of == name->of)) {
        error("it names two analytes, or one in two forms: write one for each line");
        return true;
      }
      row.of = name->of;
      row.unit = name->unit;
      after_names = i + 1;
    }
    if (after_names == 0)
      return false;
    finish(row, read_cells_of_row(cells, after_names, separator_ == Separator::Gap, row));
    return true;
  }

  // Where the header says so, else the first cells.
  [[nodiscard]] bool may_name(std::size_t column) const {
    constexpr std::size_t first_cells = 3;
    if (header_names_)
      return column < header_.size() && header_[column].column == Column::Name;
    return column < first_cells;
  }

  void finish(AnalysisRow& row, const std::optional<Error>& problem) {
    if (problem)
      error(fmt::format("{}: {}", word(row.of.analyte), problem->message));
    else
      text_.rows.push_back(std::move(row));
  }

  static std::optional<Error> read_without_header(const Cells& cells, std::size_t from,
                                                  bool only_blanks, AnalysisRow& row) {
    std::vector<Item> items;
    for (std::size_t i = from; i < cells.size(); ++i)
      for (Item& item : items_of(cells[i]))
        items.push_back(std::move(item));
    return take_value(items, !only_blanks, row);
  }

  static std::optional<Error> take_value(const std::vector<Item>& items, bool words_may_precede,
                                         AnalysisRow& row) {
    const auto value = value_among(items, words_may_precede);
    if (!value)
      return value.error();
    put_value(*value, row);
    return std::nullopt;
  }

  // Whether the header tells the value from something that looks like one.
  [[nodiscard]] bool header_matters() const {
    return std::any_of(header_.begin(), header_.end(), [](const HeaderCell& cell) {
      return cell.column != Column::Name && cell.column != Column::Value &&
             cell.column != Column::Unit;
    });
  }

  std::optional<Error> wrong_count(std::size_t count, bool columns_can_slip) const {
    if (count <= header_.size() && (!columns_can_slip || count == header_.size()))
      return std::nullopt;
    return Error{
        fmt::format("it has {} columns, but the header has {}: give each its own (a "
                    "decimal comma between commas needs quotation marks)",
                    count, header_.size())};
  }

  std::optional<Error> read_with_header(const Cells& cells, AnalysisRow& row) const {
    std::vector<Item> items;
    std::string expanded;
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const std::string with_unit = with_unit_of(header_[i], cells[i]);
      switch (header_[i].column) {
        case Column::Value:
          items = items_of(cells[i]);
          if (auto problem = put_unit(header_[i].unit, row))
            return problem;
          break;
        case Column::Name:
          if (auto problem = put_unit(header_[i].unit, row))
            return problem;
          break;
        case Column::Unit:
          if (auto problem = put_unit(cells[i], row))
            return problem;
          break;
        case Column::Limit:
          row.detection_limit = with_unit;
          break;
        case Column::Uncertainty:
          (with_unit.starts_with("±") ? expanded : row.uncertainty) = with_unit;
          break;
        case Column::ExpandedUncertainty:
          expanded = with_unit;
          break;
        default:
          break;
      }
    }
    if (auto problem = take_value(items, false, row))
      return problem;
    if (!expanded.empty())
      row.values.front() += (expanded.starts_with("±") ? " " : " ± ") + expanded;
    return std::nullopt;
  }

  static std::string with_unit_of(const HeaderCell& header, const std::string& cell) {
    const auto items = header.unit.empty() ? std::vector<Item>() : items_of(cell);
    const bool alone = items.size() == 1 && items.front().kind == ItemKind::Value;
    return alone && items.front().unit.empty() ? fmt::format("{} {}", cell, header.unit) : cell;
  }

  // What a name, a header and a column say of the unit must be one.
  static std::optional<Error> put_unit(std::string_view unit, AnalysisRow& row) {
    if (unit.empty() || unit == row.unit)
      return std::nullopt;
    if (!row.unit.empty())
      return Error{fmt::format("{} and {} both stand there as its unit: keep one of them",
                               quoted(std::string_view(row.unit)), quoted(unit))};
    row.unit = unit;
    return std::nullopt;
  }

  // A value under the last header; where the columns are told by blanks alone, only if none is
  // missing.
  std::optional<Error> read_cells_of_row(const Cells& cells, std::size_t after_names,
                                         bool columns_can_slip, AnalysisRow& row) const {
    auto wrong = header_.empty() ? std::nullopt : wrong_count(cells.size(), columns_can_slip);
    if (!header_.empty() && !wrong)
      return read_with_header(cells, row);
    if (wrong && (header_matters() || !columns_can_slip))
      return wrong;
    for (const HeaderCell& cell : header_)
      if (cell.column == Column::Value && row.unit.empty())
        row.unit = cell.unit;
    return read_without_header(cells, after_names, columns_can_slip, row);
  }

  // A line without separators.
  void read_words(std::string_view line) {
    const LeadingName name = leading_name(line);
    if (name.open) {
      error(*name.open);
      return;
    }
    if (name.of) {
      read_row_of_words(name);
      return;
    }
    if (auto header = header_in_words(line)) {
      take_header(std::move(*header));
      return;
    }
    const std::size_t first = std::min(line.find(' '), line.size());
    const auto particular = particular_named(line.substr(0, first));
    if (particular == Particular::Salinity || particular == Particular::Temperature) {
      put_particular(*particular, std::string(trimmed(line.substr(first))));
      return;
    }
    unread(line, why_unread(line));
  }

  // Nearly a name before a number is a slip that people want to hear of.
  [[nodiscard]] std::string why_unread(std::string_view line) const {
    constexpr std::size_t enough = 20;  // of them are looked at
    const std::size_t number = line.find_first_of("0123456789<");
    std::string_view name = line.substr(0, std::min(number, line.find_first_of(",;|\t:=")));
    if (number != std::string_view::npos && text_.unread.size() < enough)
      if (auto slip = unknown_analyte(trimmed(name)).message;
          slip.find("did you mean") != std::string::npos)
        return slip;
    return "it names no analyte";
  }

  void read_row_of_words(const LeadingName& name) {
    AnalysisRow row;
    row.at = at();
    row.of = *name.of;
    row.unit = name.unit;
    // Each item is a column, a unit behind its number too.
    Cells cells{""};
    for (const Item& item : items_of(name.rest)) {
      cells.push_back(item.text);
      if (!item.unit.empty())
        cells.push_back(item.unit);
    }
    finish(row, read_cells_of_row(cells, 1, true, row));
  }

  Problems& problems_;
  std::vector<std::string_view> lines_;
  Separator separator_ = Separator::Blank;
  std::vector<HeaderCell> header_;  // the last one above; empty: none
  bool header_names_ = false;       // it says which column names
  int line_ = 0;
  AnalysisText text_;
};

}  // namespace

AnalysisText read_table(std::string_view plain_text, Problems& problems) {
  return TableText(plain_text, problems).read();
}

}  // namespace brinegate::config
