// SPDX-License-Identifier: Apache-2.0
// Cells into items: numbers with what belongs to them, ranges, units, remarks, words.
#include <algorithm>
#include <array>

#include "config/chemistry/table_cells.h"
#include "config/plain_text.h"
#include "config/written_number.h"

namespace brinegate::config {
namespace {

using Words = std::vector<std::string_view>;

Words words_of(std::string_view text) {
  constexpr std::string_view no_break = "\u00a0";
  Words words;
  std::size_t begin = 0;
  for (std::size_t at = 0; at <= text.size(); ++at) {
    const bool wide = text.substr(at).starts_with(no_break);
    if (at < text.size() && text[at] != ' ' && text[at] != '\t' && !wide)
      continue;
    if (at > begin)
      words.push_back(text.substr(begin, at - begin));
    at += wide ? no_break.size() - 1 : 0;
    begin = at + 1;
  }
  return words;
}

std::string joined(const Words& words, std::size_t begin, std::size_t count) {
  std::string text;
  for (std::size_t i = begin; i < std::min(words.size(), begin + count); ++i)
    text += (text.empty() ? "" : " ") + std::string(words[i]);
  return text;
}

bool is_unit(std::string_view text) {
  constexpr std::array others{"PSU", "SP", "ppt", "‰", "sg", "C", "°C", "F", "°F", "K", "%"};
  return is_content_unit(text) ||
         std::any_of(others.begin(), others.end(),
                     [&](std::string_view other) { return same_letters(other, text); });
}

bool is_less_than(std::string_view word) {
  return word == "<" || word == "≤" || word == "<=" || word == ">" || word == "≥" || word == ">=";
}
std::string_view without_less_than(std::string_view word) {
  for (const std::string_view sign : {"<=", ">=", "≤", "≥", "<", ">"})
    if (word.starts_with(sign))
      return trimmed(word.substr(sign.size()));
  return word;
}

bool is_dash(std::string_view word) {
  return word == "-" || word == "–" || word == "—" || word == "to" || word == "bis" ||
         word == "..." || word == "…" || word == "..";
}
// "400-450", "400–450", "400...450": what follows the first number begins the second.
bool continues_as_range(std::string_view rest) {
  for (const std::string_view dash : {"-", "–", "—", "...", "…", ".."})
    if (rest.starts_with(dash))
      return leading_number(trimmed(rest.substr(dash.size()))).has_value();
  return false;
}
bool is_plus_minus(std::string_view word) {
  return word.starts_with("±") || word.starts_with("+/-") || word.starts_with("+-");
}

// Reads the words of one cell from left to right.
class ItemReader {
 public:
  explicit ItemReader(std::string_view cell) : words_(words_of(cell)) {}

  std::vector<Item> read() {
    while (at_ < words_.size())
      if (!take_remark() && !take_not_detected() && !take_number() && !take_unit())
        take_word();
    return std::move(items_);
  }

 private:
  // "(target 420)", "(400-450)", "(420)": what stands in brackets is read for itself.
  bool take_remark() {
    if (!words_[at_].starts_with('(') && !words_[at_].starts_with('['))
      return false;
    std::size_t end = at_;
    while (end < words_.size() && words_[end].find_first_of(")]") == std::string_view::npos)
      ++end;
    const std::string whole = joined(words_, at_, end - at_ + 1);
    std::string_view within = std::string_view(whole).substr(1);
    within = within.substr(0, within.find_first_of(")]"));
    at_ = std::min(end + 1, words_.size());
    if (within.find_first_of("([") == std::string_view::npos && items_of(within).size() == 1)
      items_.push_back(items_of(within).front());
    else
      items_.push_back({ItemKind::Remark, whole, {}});
    if (items_.back().kind == ItemKind::Word)
      items_.back() = {ItemKind::Remark, whole, {}};
    return true;
  }

  bool take_not_detected() {
    for (std::size_t count = 4; count > 0; --count) {
      if (at_ + count > words_.size() || !says_not_detected(joined(words_, at_, count)))
        continue;
      Item item{ItemKind::Value, joined(words_, at_, count), {}};
      at_ += count;
      // "n.d. (< 2 µg/L)"
      if (at_ < words_.size() &&
          without_less_than(without_bracket(words_[at_])) != without_bracket(words_[at_])) {
        item.text += " <";
        words_[at_] = without_less_than(without_bracket(words_[at_]));
        if (words_[at_].empty())
          ++at_;
        append_number_and_unit(item);
      }
      items_.push_back(item);
      return true;
    }
    return false;
  }

  static std::string_view without_bracket(std::string_view word) {
    return word.starts_with('(') || word.starts_with('[') ? word.substr(1) : word;
  }

  void append_number_and_unit(Item& item) {
    while (at_ < words_.size()) {
      const std::string_view word = words_[at_];
      const bool last = word.ends_with(')') || word.ends_with(']');
      const std::string_view bare = last ? word.substr(0, word.size() - 1) : word;
      if (!leading_number(bare) && !is_unit(bare))
        return;
      item.text += " " + std::string(bare);
      ++at_;
      if (last)
        return;
    }
  }

  bool take_number() {
    const std::size_t begin = at_;
    std::string sign;
    if (is_less_than(words_[at_]) && at_ + 1 < words_.size()) {
      sign = std::string(words_[at_]) + " ";
      ++at_;
    }
    const std::string_view word = words_[at_];
    const auto number = leading_number(without_less_than(word));
    if (!number) {
      at_ = begin;
      return false;
    }
    ++at_;
    Item item{
        ItemKind::Value, sign + std::string(word.substr(0, word.size() - number->rest.size())), {}};
    if (!take_glued(number->rest, item))
      return true;  // it was something else, which is told
    if (take_range(item))
      return true;
    take_plus_minus(item);
    take_unit_of(item);
    take_plus_minus(item);
    take_coverage(item);
    items_.push_back(std::move(item));
    return true;
  }

  // What is written on to the number: "421mg/L", "400-450", "421±8", "2026-11-02".
  bool take_glued(std::string_view rest, Item& item) {
    if (rest.empty())
      return true;
    if (continues_as_range(rest)) {
      item.kind = ItemKind::Range;
      item.text += rest;
      take_unit_of(item);
      items_.push_back(std::move(item));
      return false;
    }
    if (is_plus_minus(rest)) {
      item.text += rest;
      return true;
    }
    std::string with_more(rest);  // "421mg/L CaCO3"
    for (std::size_t count = 3;; --count) {
      const std::string unit = with_more + (count > 0 ? " " : "") + joined(words_, at_, count);
      if (is_unit(unit) && (count == 0 || at_ + count <= words_.size())) {
        item.unit = unit;
        at_ += count;
        return true;
      }
      if (count == 0)
        break;
    }
    item.kind = ItemKind::Word;
    item.text += rest;
    items_.push_back(std::move(item));
    return false;
  }

  bool take_range(Item& item) {
    if (at_ + 1 >= words_.size() || !is_dash(words_[at_]) || !leading_number(words_[at_ + 1]))
      return false;
    item.kind = ItemKind::Range;
    item.text += " " + joined(words_, at_, 2);
    at_ += 2;
    take_unit_of(item);
    items_.push_back(std::move(item));
    return true;
  }

  void take_plus_minus(Item& item) {
    if (at_ >= words_.size() || !is_plus_minus(words_[at_]))
      return;
    if (!item.unit.empty()) {
      item.text += " " + item.unit;
      item.unit.clear();
    }
    const bool alone = words_[at_] == "±" || words_[at_] == "+/-" || words_[at_] == "+-";
    item.text += " " + joined(words_, at_, alone ? 2 : 1);
    at_ = std::min(at_ + (alone ? 2 : 1), words_.size());
    if (at_ < words_.size() && words_[at_] == "%") {
      item.text += " %";
      ++at_;
    }
  }

  void take_unit_of(Item& item) {
    for (std::size_t count = 4; count > 0 && item.unit.empty(); --count)
      if (at_ + count <= words_.size() && is_unit(joined(words_, at_, count))) {
        item.unit = joined(words_, at_, count);
        at_ += count;
      }
  }

  void take_coverage(Item& item) {
    for (std::size_t count = 1; count <= 3 && at_ + count <= words_.size(); ++count) {
      const std::string text = plain_letters(joined(words_, at_, count));
      if (text != "(k=2)" && text != "(k=1)" && text != "k=2" && text != "k=1")
        continue;
      item.text += (item.unit.empty() ? "" : " " + item.unit) + " " + text;
      item.unit.clear();
      at_ += count;
      return;
    }
  }

  bool take_unit() {
    for (std::size_t count = 4; count > 0; --count)
      if (at_ + count <= words_.size() && is_unit(joined(words_, at_, count))) {
        items_.push_back({ItemKind::Unit, joined(words_, at_, count), {}});
        at_ += count;
        return true;
      }
    return false;
  }

  void take_word() {
    const std::string_view word = words_[at_++];
    if (word.find_first_not_of(":=|*-–—•") != std::string_view::npos)
      items_.push_back({ItemKind::Word, std::string(word), {}});
  }

  Words words_;
  std::size_t at_ = 0;
  std::vector<Item> items_;
};

std::string_view without_ending_signs(std::string_view text) {
  while (!text.empty() && std::string_view(":=,;|* ").find(text.back()) != std::string_view::npos)
    text.remove_suffix(1);
  return text;
}

// "- Calcium", "• Calcium", "1. Calcium", "1) Calcium"
std::string_view without_bullet(std::string_view line) {
  for (const std::string_view bullet : {"-", "*", "|", "#", "•"})
    if (line.starts_with(bullet))
      return trimmed(line.substr(bullet.size()));
  const std::size_t digits = std::min(line.find_first_not_of("0123456789"), line.size());
  if (digits > 0 && digits < 3 && digits + 1 < line.size() &&
      (line[digits] == '.' || line[digits] == ')') && line[digits + 1] == ' ')
    return trimmed(line.substr(digits + 1));
  return line;
}

}  // namespace

std::string plain_letters(std::string_view text) {
  std::string letters;
  for (const char c : text)
    if (c != ' ' && c != '\t' && c != '_' && c != '.')
      letters += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return letters;
}

std::vector<Item> items_of(std::string_view cell) {
  return ItemReader(cell).read();
}

std::optional<CellName> name_in(std::string_view cell) {
  constexpr std::size_t longest = 80;
  const std::string_view name = without_ending_signs(trimmed(cell));
  if (name.empty() || name.size() > longest)
    return std::nullopt;
  if (const auto named = analyte_named(name))
    return CellName{*named, {}};
  // "Calcium [mg/L]", "Calcium, mg/L", "Calcium in mg/L"
  for (const auto& [open, close] : {std::pair<std::string_view, std::string_view>{"[", "]"},
                                    {"(", ")"},
                                    {",", ""},
                                    {" in ", ""}}) {
    const std::size_t at = name.rfind(open);
    if (at == std::string_view::npos || !name.ends_with(close))
      continue;
    const std::string_view unit =
        trimmed(name.substr(at + open.size(), name.size() - at - open.size() - close.size()));
    const auto named = analyte_named(name.substr(0, at));
    if (named && is_content_unit(unit))
      return CellName{*named, std::string(unit)};
  }
  return std::nullopt;
}

LeadingName leading_name(std::string_view line) {
  constexpr std::size_t most_words = 6;
  constexpr int most_names = 3;  // "Calcium Ca"
  LeadingName result;
  result.rest = trimmed(line);
  result.rest = without_bullet(result.rest);
  bool more = true;
  for (int names = 0; more && names < most_names; ++names) {
    more = false;
    Words words = words_of(result.rest.substr(0, 200));
    for (std::size_t count = std::min(words.size(), most_words); count > 0 && !more; --count) {
      const char* const end = words[count - 1].data() + words[count - 1].size();
      const std::string_view text(words[0].data(), static_cast<std::size_t>(end - words[0].data()));
      const auto name = name_in(text);
      const auto open = open_name(without_ending_signs(text));
      const bool another = name && result.of && !(*result.of == name->of);
      if (open || another) {
        result.open = open ? open->message
                           : "it names two analytes, or one in two forms: write one for each line";
        return result;
      }
      if (!name)
        continue;
      result.of = name->of;
      result.unit = name->unit;
      result.rest = trimmed(result.rest.substr(static_cast<std::size_t>(end - result.rest.data())));
      more = true;
    }
  }
  return result;
}

}  // namespace brinegate::config
