// SPDX-License-Identifier: Apache-2.0
// Reads one table of a configuration against its list of known keys. Every reading function reports
// what is wrong at its place and then leaves the target as it was, so that one pass finds all
// errors.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <utility>
#include <vector>

#include "config/document.h"
#include "config/known_keys.h"
#include "config/problem.h"
#include "rules/result.h"

namespace brinegate::config {

// A word and what it stands for.
template <class T>
struct Word {
  std::string_view word;
  T value;
};

// Both ends belong to it. Written as in the file, so that the message can show them.
struct Range {
  std::string_view low;
  std::string_view high;
};

class TableReader {
 public:
  // Reports unknown and missing keys at once. `where` is the table's dotted name for messages.
  TableReader(const Node& node, const Section& section, std::string where, Problems& problems);

  [[nodiscard]] const std::string& where() const { return where_; }
  [[nodiscard]] bool has(std::string_view key) const { return find(key) != nullptr; }
  [[nodiscard]] const Node* find(std::string_view key) const;
  // The value's position, or the table's where the key is missing.
  [[nodiscard]] Position at(std::string_view key) const;
  [[nodiscard]] Position at() const { return at_; }
  void error(std::string_view key, std::string message) {
    problems_.error(at(key), std::move(message));
  }
  void hazard(std::string_view key, std::string message) {
    problems_.hazard(at(key), std::move(message));
  }
  // "'lease' is a whole number: expected text, such as lease = "5 s"".
  void wrong_type(std::string_view key, const Node& node, std::string_view expected);

  bool read(std::string_view key, std::string& target);  // not empty
  bool read(std::string_view key, bool& target);
  bool read(std::string_view key, double& target);  // finite; whole numbers too
  bool read_whole(std::string_view key, std::int64_t low, std::int64_t high, std::int64_t& target);
  bool read_list(std::string_view key, const Array*& target);
  // Refuses the key where it makes no sense, with the reason.
  void refuse(std::string_view key, std::string_view reason);

  template <class T, std::size_t N>
  bool read_word(std::string_view key, const Word<T> (&words)[N], T& target) {
    std::string text;
    if (!read(key, text))
      return false;
    std::vector<std::string> known;
    for (const auto& word : words) {
      if (word.word == text) {
        target = word.value;
        return true;
      }
      known.emplace_back(word.word);
    }
    unknown_word(key, text, known);
    return false;
  }

  // A quantity with its unit, within `range` (in the same notation).
  template <class T>
  bool read(std::string_view key, Result<T> (*parse)(std::string_view), Range range, T& target) {
    const Node* node = find(key);
    return node && read(key, *node, parse, range, target);
  }
  // ["24 C", "26 C"]: the low before the high.
  template <class T>
  bool read_pair(std::string_view key, Result<T> (*parse)(std::string_view), Range range, T& low,
                 T& high) {
    const Array* list = pair_of(key);
    if (!list)
      return false;
    T first = low;
    T second = high;
    const bool first_read = read(key, list->front(), parse, range, first);
    const bool second_read = read(key, list->back(), parse, range, second);
    if (!first_read || !second_read || !rising(key, first < second))
      return false;
    low = first;
    high = second;
    return true;
  }

 private:
  template <class T>
  bool read(std::string_view key, const Node& node, Result<T> (*parse)(std::string_view),
            Range range, T& target) {
    const std::string* text = quantity_text(key, node);
    if (!text)
      return false;
    const Result<T> parsed = parse(*text);
    if (!parsed) {
      problems_.error(node.at, in_words(key) + parsed.error().message);
      return false;
    }
    if (*parsed < parse(range.low).value() || *parsed > parse(range.high).value()) {
      out_of_range(key, node, *text, range);
      return false;
    }
    target = *parsed;
    return true;
  }

  const Array* pair_of(std::string_view key);
  bool rising(std::string_view key, bool is_rising);
  const std::string* quantity_text(std::string_view key, const Node& node);
  void out_of_range(std::string_view key, const Node& node, std::string_view text, Range range);
  void unknown_word(std::string_view key, std::string_view text,
                    const std::vector<std::string>& known);
  void check_keys(const Table& table);
  [[nodiscard]] std::string example(std::string_view key) const;  // "lease = "5 s""
  [[nodiscard]] static std::string in_words(std::string_view key);

  const Table* table_ = nullptr;  // none: the node is no table, which was reported
  std::span<const Key> keys_;
  bool json_;
  Position at_;
  std::string where_;
  Problems& problems_;
};

// Whether a name can stand in topics, addresses and file names as it is; reports it if not.
bool check_name(std::string_view name, std::string_view what, Position at, Problems& problems);

}  // namespace brinegate::config
