// SPDX-License-Identifier: Apache-2.0
#include "config/json_document.h"

#include <cstdint>
#include <iterator>
#include <limits>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "config/plain_text.h"

namespace brinegate::config {
namespace {

constexpr std::size_t deepest = 8;
constexpr std::size_t most_nodes = 5000;

// An iterator that tells how far the parser has read: the library gives no places of its own.
class Cursor {
 public:
  using iterator_category = std::input_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  Cursor(const char* at, const char*& furthest) : at_(at), furthest_(&furthest) {}
  reference operator*() const { return *at_; }
  Cursor& operator++() {
    *furthest_ = ++at_;
    return *this;
  }
  Cursor operator++(int) {
    const Cursor before = *this;
    ++*this;
    return before;
  }
  bool operator==(const Cursor& other) const { return at_ == other.at_; }

 private:
  const char* at_;
  const char** furthest_;
};

// Places are asked for in the order of the text.
class Places {
 public:
  explicit Places(std::string_view text) : text_(text) {}

  Position of(std::size_t offset) {
    for (; offset_ < offset && offset_ < text_.size(); ++offset_) {
      const auto byte = static_cast<unsigned char>(text_[offset_]);
      if (byte == '\n') {
        ++at_.line;
        at_.column = 1;
      } else if ((byte & 0xC0U) != 0x80U) {  // not within a character of UTF-8
        ++at_.column;
      }
    }
    return at_;
  }

 private:
  std::string_view text_;
  std::size_t offset_ = 0;
  Position at_;
};

// "[json...] parse error at line 1, column 8: syntax error while parsing value - unexpected '}';
// last read: '...'; expected ..." without what the place says already and what the text holds.
std::string told_shortly(std::string message) {
  if (const auto column = message.find("column "); column != std::string::npos)
    message.erase(0, message.find(": ", column) + 2);
  const auto read = message.find("; last read: '");
  const auto end = message.rfind('\'');
  const auto expected = message.rfind("'; expected");
  if (read != std::string::npos)
    message.erase(read, (expected != std::string::npos ? expected : end) + 1 - read);
  const std::string_view short_form = message;
  const std::size_t dash = short_form.find(" - ");
  const std::string_view what =
      dash == std::string_view::npos ? short_form : short_form.substr(dash + 3);
  return in_short(what, 160);
}

class TreeBuilder {
 public:
  using Json = nlohmann::json;

  TreeBuilder(std::string_view text, const char* const& furthest, Problems& problems)
      : text_(text), furthest_(furthest), places_(text), problems_(problems) {}

  [[nodiscard]] Node take() { return std::move(root_); }

  bool null() {
    problems_.error(places_.of(word_begin()), "null says nothing: leave the key out");
    return false;
  }
  bool boolean(bool value) { return add(value, word_begin()); }
  bool number_integer(std::int64_t value) { return add(value, word_begin()); }
  bool number_unsigned(std::uint64_t value) {
    constexpr auto most = static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max());
    return value <= most ? add(static_cast<std::int64_t>(value), word_begin())
                         : add(static_cast<double>(value), word_begin());
  }
  bool number_float(double value, const std::string&) { return add(value, word_begin()); }
  bool string(std::string& value) { return add(std::move(value), text_begin()); }
  bool binary(Json::binary_t&) { return false; }
  bool start_object(std::size_t) { return open(Table{}); }
  bool start_array(std::size_t) { return open(Array{}); }
  bool end_object() { return close(); }
  bool end_array() { return close(); }
  bool key(std::string& key) {
    const Position at = places_.of(text_begin());
    const auto [first, is_new] = keys_.back().insert({key, at.line});
    if (!is_new) {
      problems_.error(at, fmt::format("{} is given twice, first in line {}: leave one out",
                                      config::quoted(key), first->second));
      return false;
    }
    std::get<Table>(open_.back()->value).push_back({key, at, {}});
    return true;
  }
  bool parse_error(std::size_t position, const std::string&, const Json::exception& error) {
    const std::size_t read = position > 0 ? position - 1 : 0;
    problems_.error(places_.of(read), "this is not JSON: " + told_shortly(error.what()));
    return false;
  }

 private:
  template <class T>
  bool add(T value, std::size_t begin) {
    return place(std::move(value), begin) != nullptr;
  }

  template <class T>
  Node* place(T value, std::size_t begin) {
    Node node{places_.of(begin), std::move(value)};
    if (++nodes_ > most_nodes) {
      problems_.error(
          node.at,
          fmt::format("here begins more than {} values: this is something else", most_nodes));
      return nullptr;
    }
    if (open_.empty()) {
      root_ = std::move(node);
      return &root_;
    }
    if (auto* list = std::get_if<Array>(&open_.back()->value))
      return &list->emplace_back(std::move(node));
    Node& member = std::get<Table>(open_.back()->value).back().node;
    member = std::move(node);
    return &member;
  }

  // What is open is the last of what it stands in, so nothing moves it before it is closed.
  template <class T>
  bool open(T empty) {
    const std::size_t begin = read() - 1;
    if (open_.size() == deepest) {
      problems_.error(places_.of(begin),
                      "nothing is nested so deeply here: this is something else");
      return false;
    }
    open_.push_back(place(std::move(empty), begin));
    keys_.emplace_back();
    return open_.back() != nullptr;
  }
  bool close() {
    open_.pop_back();
    keys_.pop_back();
    return true;
  }

  [[nodiscard]] std::size_t read() const {
    return static_cast<std::size_t>(furthest_ - text_.data());
  }
  // Of the text whose closing quotation mark was just read.
  [[nodiscard]] std::size_t text_begin() const {
    std::size_t at = read() - 1;
    while (at > 0) {
      --at;
      if (text_[at] != '"')
        continue;
      std::size_t escapes = 0;
      while (escapes < at && text_[at - 1 - escapes] == '\\')
        ++escapes;
      if (escapes % 2 == 0)
        break;
    }
    return at;
  }
  // Of the number or word just read; after a number one more letter was.
  [[nodiscard]] std::size_t word_begin() const {
    const auto is_part = [](char c) {
      return is_digit(c) || (c >= 'a' && c <= 'z') || c == '.' || c == '-' || c == '+' || c == 'E';
    };
    std::size_t at = read();
    while (at > 0 && !is_part(text_[at - 1]))
      --at;
    while (at > 0 && is_part(text_[at - 1]))
      --at;
    return at;
  }

  std::string_view text_;
  const char* const& furthest_;
  Places places_;
  Problems& problems_;
  Node root_;
  std::size_t nodes_ = 0;
  std::vector<Node*> open_;
  std::vector<std::map<std::string, int>> keys_;
};

}  // namespace

std::optional<Node> parse_json(std::string_view text, Problems& problems) {
  // The library takes a zero byte for the end.
  if (const auto zero = text.find('\0'); zero != std::string_view::npos) {
    problems.error(Places(text).of(zero), "a zero byte stands here: this is not a text");
    return std::nullopt;
  }
  const char* furthest = text.data();
  TreeBuilder builder(text, furthest, problems);
  const Cursor begin(text.data(), furthest);
  const Cursor end(text.data() + text.size(), furthest);
  if (!nlohmann::json::sax_parse(begin, end, &builder))
    return std::nullopt;
  return builder.take();
}

}  // namespace brinegate::config
