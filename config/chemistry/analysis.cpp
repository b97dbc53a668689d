// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/analysis.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "config/quantity.h"
#include "config/written_number.h"

namespace brinegate::config {
namespace {

constexpr std::size_t most_shown = 100;

// What an analysis can have been made of: from brackish water to a salt solution twice as strong as
// the sea (the density is extrapolated there).
constexpr PracticalSalinity least_salinity{1.0};
constexpr PracticalSalinity most_salinity{60.0};
constexpr Celsius coldest{0.0};
constexpr Celsius warmest{40.0};

bool same_salinity(const PracticalSalinity& a, const PracticalSalinity& b) {
  return std::abs(a.value() - b.value()) < 0.005;
}
bool same_temperature(const Celsius& a, const Celsius& b) {
  return a == b;
}

Result<bool> parse_ppm(std::string_view text) {
  if (same_letters(trimmed(text), "mg/L"))
    return true;
  return Error{
      fmt::format("{} is not what ppm can stand for here: write \"mg/L\", or write each "
                  "value in mg/kg",
                  quoted(text))};
}
bool same_flag(const bool& a, const bool& b) {
  return a == b;
}

Position place_of(const AnalysisText& text, Particular particular) {
  const auto found = text.particulars.find(particular);
  return found == text.particulars.end() ? Position{} : found->second.at;
}

std::optional<WaterOfSample> water_of(const AnalysisText& text,
                                      const std::optional<PracticalSalinity>& said,
                                      Problems& problems) {
  const std::size_t before = problems.errors().size();
  const auto salinity = agreed<PracticalSalinity>(text, Particular::Salinity, parse_salinity, said,
                                                  same_salinity, problems);
  const auto temperature = agreed<Celsius>(text, Particular::Temperature, parse_temperature, {},
                                           same_temperature, problems);
  const auto ppm = agreed<bool>(text, Particular::Ppm, parse_ppm, {}, same_flag, problems);
  if (problems.errors().size() > before)
    return std::nullopt;
  if (!salinity) {
    problems.error({},
                   "the salinity of the sample is missing, without which no value says "
                   "anything: write for example \"salinity: 35 ppt\"");
    return std::nullopt;
  }
  WaterOfSample water{*salinity, temperature.value_or(Celsius(25.0)), ppm.value_or(false)};
  if (water.salinity < least_salinity || water.salinity > most_salinity)
    problems.error(place_of(text, Particular::Salinity),
                   fmt::format("a salinity of {} is none that an analysis was made at: write 1 to "
                               "60 PSU",
                               show(water.salinity)));
  else if (water.temperature < coldest || water.temperature > warmest)
    problems.error(
        place_of(text, Particular::Temperature),
        fmt::format("{} is no temperature of a sample: write 0 to 40 °C", show(water.temperature)));
  else
    return water;
  return std::nullopt;
}

// Whether some number of the text can only have a decimal comma.
bool has_decimal_commas(const AnalysisText& text) {
  const auto has_comma = [](std::string_view value) {
    const std::size_t digit = value.find_first_of("0123456789");
    if (digit == std::string_view::npos)
      return false;
    const auto number = leading_number(value.substr(digit));
    return number && number->decimal_comma;
  };
  return std::any_of(text.rows.begin(), text.rows.end(), [&](const AnalysisRow& row) {
    return has_comma(row.detection_limit) ||
           std::any_of(row.values.begin(), row.values.end(), has_comma);
  });
}

// Several analyses of one sample as one value.
Result<AssayValue> joined(const std::vector<AssayValue>& values, const AnalysisRow& row) {
  if (values.size() == 1)
    return values.front();
  const auto censored = static_cast<std::size_t>(
      std::count_if(values.begin(), values.end(),
                    [](const AssayValue& value) { return value.content.censored(); }));
  if (censored > 0 && censored < values.size())
    return Error{"some of its replicates were found and some were not: write one value"};
  AssayValue result = values.front();
  std::vector<std::string> written;
  double uncertainties = 0.0;
  for (const AssayValue& value : values) {
    written.push_back(value.written);
    uncertainties += value.content.standard_uncertainty;
    if (censored > 0)
      result.content.high = std::max(result.content.high, value.content.high);
    else
      result.replicates.push_back(value.content.low);
  }
  result.written = fmt::format("{}", fmt::join(written, ", "));
  if (censored > 0) {
    result.detection_limit = result.content.high;
    return result;
  }
  result.content =
      content_of_replicates(result.replicates, analyte_row(row.of.analyte).usual_uncertainty);
  if (!row.uncertainty.empty())
    result.content.standard_uncertainty = uncertainties / static_cast<double>(values.size());
  return result;
}

Result<AssayValue> value_of(const AnalysisRow& row, const WaterOfSample& water,
                            bool decimal_commas) {
  std::vector<AssayValue> values;
  for (const std::string& text : row.values) {
    const WrittenContent written{text, row.unit, row.uncertainty, row.detection_limit,
                                 decimal_commas};
    const auto value = parse_content(written, row.of, water);
    if (!value)
      return value.error();
    values.push_back(*value);
  }
  auto result = joined(values, row);
  if (!result)
    return result;
  AssayValue value = std::move(result).value();
  value.line = row.at.line;
  return value;
}

bool is_plain_text(std::string_view text, Problems& problems) {
  int line = 1;
  while (!text.empty()) {
    const std::size_t size = character_size(text);
    if (size == 0 || text.front() == '\0') {
      problems.error({line, 1}, size == 0 ? "this is not UTF-8: save the file as UTF-8 text"
                                          : "a zero byte stands here: this is not a text");
      return false;
    }
    line += text.front() == '\n' ? 1 : 0;
    text.remove_prefix(size);
  }
  return true;
}

bool in_one_form(const AnalysisRow& a, const AnalysisRow& b) {
  return a.of == b.of && a.unit == b.unit;
}

bool may_be_one(const CensoredValue& a, const CensoredValue& b) {
  return a.at_least() <= b.at_most() && b.at_least() <= a.at_most();
}

// An analyte that the text gives again. Laboratories tell one measurement in two forms (P and PO4,
// dKH and meq/L): where both may be true, the less uncertain one counts and the other is told.
void take_again(const AnalysisRow& row, AssayValue value, AssayValue& taken, AnalysisText& text,
                Problems& problems) {
  const bool in_this_form =
      std::any_of(std::as_const(text.rows).data(), &row,
                  [&row](const AnalysisRow& earlier) { return in_one_form(earlier, row); });
  const bool agree = may_be_one(value.content, taken.content);
  if (in_this_form || !agree)
    return problems.error(
        row.at,
        fmt::format("{} is given twice, first in line {}{}: leave one out", word(row.of.analyte),
                    taken.line, agree ? "" : ", and the two do not agree"));
  if (value.content.total_uncertainty() < taken.content.total_uncertainty())
    std::swap(value, taken);
  text.unread.push_back({value.line, fmt::format("{} {}", word(row.of.analyte), value.written),
                         fmt::format("line {} says the same in another form", taken.line)});
}

}  // namespace

std::optional<std::string> plain_text_of(std::string_view text, Problems& problems) {
  if (text.size() > largest_analysis) {
    problems.error({}, fmt::format("this is larger than {} KiB: no analysis is so long",
                                   largest_analysis / 1024));
    return std::nullopt;
  }
  if (text.starts_with("\xEF\xBB\xBF"))
    text.remove_prefix(3);
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF")) {
    problems.error({}, "this is UTF-16: save the file as UTF-8 text");
    return std::nullopt;
  }
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i)
    if (text[i] != '\r')
      plain += text[i];
    else if (i + 1 == text.size() || text[i + 1] != '\n')
      plain += '\n';
  if (!is_plain_text(plain, problems))
    return std::nullopt;
  if (plain.find_first_not_of(" \t\n") == std::string::npos) {
    problems.error({}, "there is nothing in it");
    return std::nullopt;
  }
  return plain;
}

bool looks_like_json(std::string_view plain_text) {
  const std::size_t first = plain_text.find_first_not_of(" \t\n");
  return first != std::string_view::npos && (plain_text[first] == '{' || plain_text[first] == '[');
}

std::optional<Assay> assay_of(AnalysisText& text, const std::optional<PracticalSalinity>& salinity,
                              Problems& problems) {
  const auto water = water_of(text, salinity, problems);
  if (!water)
    return std::nullopt;
  Assay assay{water->salinity, water->temperature, {}, {}};
  if (const auto method = text.particulars.find(Particular::Method);
      method != text.particulars.end())
    assay.method = method->second.text;
  const bool decimal_commas = has_decimal_commas(text);
  for (const AnalysisRow& row : text.rows) {
    const auto value = value_of(row, *water, decimal_commas);
    if (!value) {
      problems.error(row.at, fmt::format("{}: {}", word(row.of.analyte), value.error().message));
      continue;
    }
    const auto [taken, is_new] = assay.values.insert({row.of.analyte, *value});
    if (!is_new)
      take_again(row, *value, taken->second, text, problems);
  }
  return problems.any_error() ? std::nullopt : std::optional(assay);
}

std::vector<Problem> readable(const Problems& problems) {
  auto errors = problems.errors();
  if (errors.size() > most_shown) {
    const std::size_t more = errors.size() - most_shown;
    errors.resize(most_shown);
    errors.back().message += fmt::format("; and {} more errors follow", more);
  }
  return errors;
}

std::vector<UnreadLine> readable(std::vector<UnreadLine> unread) {
  if (unread.size() > most_shown) {
    const std::size_t more = unread.size() - most_shown;
    unread.resize(most_shown);
    unread.back().why += fmt::format("; {} more lines were not read either", more);
  }
  return unread;
}

}  // namespace brinegate::config
