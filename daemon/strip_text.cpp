// SPDX-License-Identifier: Apache-2.0
#include "daemon/strip_text.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstddef>
#include <cstdlib>
#include <string_view>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "daemon/command_text.h"

namespace brinegate::daemon {
namespace {

// At either end of the scale, for the arrow and the letters that are off it.
constexpr int margin = 4;
constexpr std::size_t margins = std::size_t{2} * margin;
constexpr int widest_scale = 28;
constexpr int readable_scale = 20;  // below it the numbers of what is wanted give way first
constexpr int narrowest_scale = 8;
constexpr std::string_view wanted_heading = "wanted";

// A range without width is drawn as wide as the ranking of lots counts it: a tenth of its end.
constexpr double width_of_point = 0.1;

struct Drawing {
  std::string_view axis;
  std::string_view bar;
  std::string_view not_found;
  std::string_view off_left;
  std::string_view off_right;
};
constexpr Drawing unicode{"·", "━", "╌", "◂", "▸"};
constexpr Drawing ascii{".", "=", "-", "<", ">"};

// What all lines share, in columns.
struct Layout {
  std::size_t name = 0;
  std::size_t number = 1;
  std::size_t wanted = 0;
  int scale = widest_scale;

  [[nodiscard]] int bar() const { return scale * 10 / widest_scale; }
  [[nodiscard]] int bar_begin() const { return (scale - bar()) / 2; }
  [[nodiscard]] std::size_t strip() const { return static_cast<std::size_t>(scale) + margins; }
};

// The scale gives way where names and numbers need its room.
Layout layout_of(const std::vector<StripGroup>& groups, std::size_t letters) {
  Layout layout;
  std::size_t unit = 0;
  for (const StripGroup& group : groups)
    for (const Strip& strip : group.strips) {
      layout.name = std::max(layout.name, columns_of(strip.name));
      unit = std::max(unit, columns_of(strip.unit));
      if (!strip.wanted_text.empty())
        layout.wanted =
            std::max({layout.wanted, wanted_heading.size(), columns_of(strip.wanted_text)});
      for (const StripMark& mark : strip.marks)
        layout.number = std::max(layout.number, columns_of(mark.number));
    }
  const auto room = [&] {
    const std::size_t others = layout.name + 1 + margins + letters * (layout.number + 1) +
                               (layout.wanted > 0 ? layout.wanted + 1 : 0) + 1 + unit;
    return static_cast<int>(terminal_columns) - static_cast<int>(others);
  };
  if (room() < readable_scale)
    layout.wanted = 0;
  layout.scale = std::clamp(room(), narrowest_scale, widest_scale);
  return layout;
}

// From a value to its column of the scale: -1 below it, layout.scale above it.
class Scale {
 public:
  Scale(const Strip& strip, const Layout& layout) : columns_(layout.scale) {
    if (strip.wanted) {
      const double width = strip.wanted->high - strip.wanted->low;
      const double end = width_of_point * strip.wanted->high;
      column_width_ = (width > 0.0 ? width : end > 0.0 ? end : 1.0) / layout.bar();
      zero_column_ = layout.bar_begin() - strip.wanted->low / column_width_;
      if (width == 0.0)
        zero_column_ += layout.bar() / 2.0;
      return;
    }
    double highest = 2.0 * strip.usual.value_or(0.0);
    if (!strip.usual)
      for (const StripMark& mark : strip.marks)
        highest = std::max(highest, mark.where.high);
    if (highest > 0.0)
      column_width_ = highest / columns_;
  }

  [[nodiscard]] int column_of(double value) const {
    const double exactly = zero_column_ + value / column_width_;
    // An end of a range belongs to it, and so do the last digits of what was computed.
    const double column =
        exactly < 0.5 * columns_ ? std::floor(exactly + slack) : std::ceil(exactly - slack) - 1.0;
    return static_cast<int>(std::clamp<double>(column, -1.0, columns_));
  }

 private:
  static constexpr double slack = 1e-6;

  int columns_;
  double zero_column_ = 0.0;
  double column_width_ = 1.0;
};

// The margins and the scale between them.
class Cells {
 public:
  explicit Cells(const Layout& layout) : cells_(layout.strip(), " ") {}

  // Of the scale; -1 and lower are the left margin.
  void put(int column, std::string text) {
    const std::ptrdiff_t from_left = std::ptrdiff_t{margin} + column;
    cells_[static_cast<std::size_t>(from_left)] = std::move(text);
  }
  [[nodiscard]] std::string text() const { return fmt::format("{}", fmt::join(cells_, "")); }

 private:
  std::vector<std::string> cells_;
};

void draw_ground(const Strip& strip, const Layout& layout, const Drawing& with, Cells& cells) {
  for (int i = 0; i < layout.scale; ++i)
    cells.put(i, std::string(with.axis));
  if (!strip.wanted && strip.usual)
    cells.put(Scale(strip, layout).column_of(*strip.usual), "|");
  if (!strip.wanted)
    return;
  const int end = layout.bar_begin() + layout.bar() - 1;
  for (int i = layout.bar_begin() + 1; i < end; ++i)
    cells.put(i, std::string(with.bar));
  cells.put(layout.bar_begin(), "[");
  cells.put(end, "]");
}

// The letters off one end of the scale, the first ones of too many.
std::string letters_off(const Strip& strip, const Scale& scale, int column) {
  std::string letters;
  for (const StripMark& mark : strip.marks)
    if (scale.column_of(mark.where.high) == column)
      letters += mark.letter;
  if (letters.size() > margin - 1)
    letters.replace(margin - 2, std::string::npos, "+");
  return letters;
}

void draw_marks(const Strip& strip, const Layout& layout, const Drawing& with, Cells& cells) {
  const Scale scale(strip, layout);
  for (const StripMark& mark : strip.marks) {
    if (mark.where.low == mark.where.high)
      continue;
    const int end = std::min(scale.column_of(mark.where.high), layout.scale);
    for (int i = std::max(0, scale.column_of(mark.where.low)); i < end; ++i)
      cells.put(i, std::string(with.not_found));
  }
  for (auto mark = strip.marks.rbegin(); mark != strip.marks.rend(); ++mark) {
    const int column = scale.column_of(mark->where.high);
    if (column >= 0 && column < layout.scale)
      cells.put(column, std::string(1, mark->letter));
  }
  if (const std::string left = letters_off(strip, scale, -1); !left.empty()) {
    cells.put(-margin, std::string(with.off_left));
    for (std::size_t i = 0; i < left.size(); ++i)
      cells.put(static_cast<int>(i) - margin + 1, std::string(1, left[i]));
  }
  if (const std::string right = letters_off(strip, scale, layout.scale); !right.empty()) {
    const int arrow = layout.scale + margin - 1;
    cells.put(arrow, std::string(with.off_right));
    for (std::size_t i = 0; i < right.size(); ++i)
      cells.put(arrow - static_cast<int>(right.size() - i), std::string(1, right[i]));
  }
}

// A column of this width, one space apart from what stands before it; nothing without width.
std::string column(std::string_view text, std::size_t width) {
  if (width == 0)
    return "";
  return std::string(1 + width - std::min(width, columns_of(text)), ' ') + std::string(text);
}

std::string line_of(const Strip& strip, const std::string& letters, const Layout& layout,
                    const Drawing& with) {
  Cells cells(layout);
  draw_ground(strip, layout, with, cells);
  draw_marks(strip, layout, with, cells);
  std::string line = fmt::format("{:<{}} {}", strip.name, layout.name, cells.text());
  for (const char letter : letters) {
    const auto mark = std::find_if(strip.marks.begin(), strip.marks.end(),
                                   [letter](const StripMark& m) { return m.letter == letter; });
    line += column(mark == strip.marks.end() ? "" : mark->number, layout.number);
  }
  return line + column(strip.wanted_text, layout.wanted) + ' ' + strip.unit + '\n';
}

}  // namespace

Glyphs glyphs_of_environment() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    const char* const set = std::getenv(name);
    if (set == nullptr || *set == '\0')
      continue;
    std::string locale(set);
    std::transform(locale.begin(), locale.end(), locale.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    const bool utf8 =
        locale.find("utf-8") != std::string::npos || locale.find("utf8") != std::string::npos;
    return utf8 ? Glyphs::Unicode : Glyphs::Ascii;
  }
  return Glyphs::Ascii;
}

std::string strips_text(const std::vector<StripGroup>& groups, const std::string& letters,
                        Glyphs glyphs) {
  const Layout layout = layout_of(groups, letters.size());
  std::string text;
  for (const StripGroup& group : groups) {
    if (group.strips.empty())
      continue;
    text += text.empty() ? "" : "\n";
    text += fmt::format("{:<{}}", group.heading, layout.name + 1 + layout.strip());
    for (const char letter : letters)
      text += column(std::string(1, letter), layout.number);
    text += column(wanted_heading, layout.wanted) + '\n';
    for (const Strip& strip : group.strips)
      text += line_of(strip, letters, layout, glyphs == Glyphs::Unicode ? unicode : ascii);
  }
  return text;
}

}  // namespace brinegate::daemon
