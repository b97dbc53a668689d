// SPDX-License-Identifier: Apache-2.0
// An analysis as it stands in a text, whatever its format: what each row and each particular says,
// as written and with its place. The readers of JSON and of tables fill it; what it says is judged
// in one place for all.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "config/chemistry/content_words.h"
#include "config/chemistry/lot_text.h"
#include "config/document.h"
#include "config/plain_text.h"
#include "config/problem.h"
#include "rules/chemistry/assay.h"

namespace brinegate::config {

enum class Particular {
  Lot,
  Salt,
  Expires,
  DryFraction,
  Tested,
  Salinity,
  Temperature,
  Method,
  Ppm
};

struct Written {
  std::string text;
  Position at;
};

struct AnalysisRow {
  Position at;
  NamedAnalyte of;
  std::vector<std::string> values;  // at least one; more are replicates
  std::string unit;                 // empty where the values have theirs
  std::string uncertainty;          // standard; empty
  std::string detection_limit;      // empty
};

struct AnalysisText {
  std::map<Particular, Written> particulars;
  std::vector<AnalysisRow> rows;
  std::vector<UnreadLine> unread;
};

// UTF-8 without byte order mark and with single line feeds, or nothing after reporting why it is no
// text at all: too large, no UTF-8, zero bytes, empty.
std::optional<std::string> plain_text_of(std::string_view text, Problems& problems);
bool looks_like_json(std::string_view plain_text);

// CSV and pasted tables. `plain_text` as above.
AnalysisText read_table(std::string_view plain_text, Problems& problems);
// The object "values" of a JSON file.
void read_values(const Node& values, AnalysisText& into, Problems& problems);
// The text of a particular; a number counts as its digits. Nothing where the key is missing.
void read_particular(const Table& table, std::string_view key, Particular particular,
                     AnalysisText& into, Problems& problems);

// What the text and the person beside it say of one thing must agree. Nothing where both are
// silent, or after reporting what is wrong.
template <class T, class Same>
std::optional<T> agreed(const AnalysisText& text, Particular particular,
                        Result<T> (*parse)(std::string_view), const std::optional<T>& said,
                        const Same& same, Problems& problems) {
  const auto found = text.particulars.find(particular);
  if (found == text.particulars.end())
    return said;
  const auto& [written, at] = found->second;
  const Result<T> read = parse(written);
  if (!read) {
    problems.error(at, read.error().message);
    return std::nullopt;
  }
  if (said && !same(*said, *read)) {
    problems.error(at, quoted(std::string_view(written)) +
                           " stands here, but another was said beside it: make both say the same");
    return std::nullopt;
  }
  return *read;
}

// The contents in their water. `salinity` is what was said beside the text. What only says a
// content again in another form joins the text's unread lines. Nothing after reporting what is
// wrong.
std::optional<Assay> assay_of(AnalysisText& text, const std::optional<PracticalSalinity>& salinity,
                              Problems& problems);

// The errors in the order of the text, no more than people will read.
std::vector<Problem> readable(const Problems& problems);
std::vector<UnreadLine> readable(std::vector<UnreadLine> unread);

}  // namespace brinegate::config
