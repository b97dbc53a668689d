// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/content_units.h"

#include <algorithm>
#include <array>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "config/plain_text.h"

namespace brinegate::config {
namespace {

enum class Measure { Mass, Amount, Charge };

struct Base {
  std::string_view symbol;
  Measure measure;
  double scale;  // to mg, to mmol
};
constexpr Base bases[] = {
    {"g", Measure::Mass, 1000.0},    {"mg", Measure::Mass, 1.0},
    {"ug", Measure::Mass, 1e-3},     {"mcg", Measure::Mass, 1e-3},
    {"ng", Measure::Mass, 1e-6},     {"mol", Measure::Amount, 1000.0},
    {"mmol", Measure::Amount, 1.0},  {"umol", Measure::Amount, 1e-3},
    {"nmol", Measure::Amount, 1e-6}, {"meq", Measure::Charge, 1.0},
    {"mval", Measure::Charge, 1.0},  {"ueq", Measure::Charge, 1e-3},
};

constexpr std::array german_degrees{"dkh", "°dkh", "°dh", "°kh", "ºdkh", "ºdh"};
constexpr double calcium_carbonate_per_milliequivalent = 50.043;  // mg: CaCO3 100.086 g/mol over 2

// "mg/L NO3", taken apart.
struct Unit {
  const Base* base = nullptr;
  bool per_kilogram = false;
  std::string form;  // "NO3"; empty
};

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = text.find(from); at != std::string::npos;
       at = text.find(from, at + to.size()))
    text.replace(at, from.size(), to);
}

// One way of writing for all: "u" for micro, "/" for per, no blanks at it, no brackets.
std::string plainly(std::string_view unit) {
  std::string text(trimmed(unit));
  for (const auto& [from, to] :
       std::initializer_list<std::pair<std::string_view, std::string_view>>{{"\u00a0", " "},
                                                                            {"\u202f", " "},
                                                                            {"µ", "u"},
                                                                            {"\u03bc", "u"},
                                                                            {"⁻¹", "-1"},
                                                                            {"·", " "},
                                                                            {"−", "-"},
                                                                            {" L-1", "/L"},
                                                                            {" l-1", "/L"},
                                                                            {" kg-1", "/kg"},
                                                                            {" /", "/"},
                                                                            {"/ ", "/"},
                                                                            {"(", " "},
                                                                            {")", " "},
                                                                            {"  ", " "}})
    replace_all(text, from, to);
  return std::string(trimmed(text));
}

std::pair<std::string_view, std::string_view> cut(std::string_view text, char at) {
  const std::size_t found = text.find(at);
  if (found == std::string_view::npos)
    return {text, {}};
  return {trimmed(text.substr(0, found)), trimmed(text.substr(found + 1))};
}

std::string_view without_as(std::string_view form) {
  for (const std::string_view as : {"as ", "als "})
    if (form.starts_with(as))
      form.remove_prefix(as.size());
  return trimmed(form);
}

std::optional<Unit> unit_of(const std::string& plain) {
  const auto [above, below] = cut(plain, '/');
  const auto [symbol, form_above] = cut(above, ' ');
  const auto [per, form_below] = cut(below, ' ');
  const auto* const base = std::find_if(std::begin(bases), std::end(bases),
                                        [&, s = symbol](const Base& b) { return b.symbol == s; });
  if (base == std::end(bases) || (per != "L" && per != "l" && per != "kg") ||
      (!form_above.empty() && !form_below.empty()))
    return std::nullopt;
  return Unit{base, per == "kg",
              std::string(without_as(form_above.empty() ? form_below : form_above))};
}

bool is_german_degree(std::string_view plain) {
  return std::any_of(german_degrees.begin(), german_degrees.end(),
                     [&](std::string_view degree) { return same_letters(degree, plain); });
}

// "421 ppm CaCO3" to "mg/L CaCO3", where parts per million are mg/L.
std::optional<std::string> parts_per_litre(const std::string& plain) {
  for (const auto& [parts, unit] : {std::pair{"ppm", "mg/L"}, std::pair{"ppb", "ug/L"}})
    if (same_letters(plain.substr(0, 3), parts) && (plain.size() == 3 || plain[3] == ' '))
      return unit + plain.substr(3);
  return std::nullopt;
}

Error unknown_unit(std::string_view unit, Analyte analyte) {
  const std::string plain = plainly(unit);
  if (same_letters(plain, "ppt"))
    return {R"("ppt" can be a thousandth or a million-millionth: write "g/kg" or "ng/L")"};
  const auto [symbol, per] = cut(plain, '/');
  for (const Base& base : bases)
    if (!per.empty() && base.symbol != symbol && same_letters(base.symbol, symbol))
      return {
          fmt::format("{} leaves its unit open (m is milli and M mega): write \"{}/{}\" if "
                      "that is meant",
                      quoted(unit), base.symbol, per)};
  return {fmt::format("{} is not a unit of {}, which is written in {}", quoted(unit), word(analyte),
                      accepted_units(analyte))};
}

// Of one unit, per litre or per kilogram: mg of the element, or mmol of charge.
Result<double> scale_of(const Unit& unit, std::string_view written, const NamedAnalyte& of) {
  const double one = unit.base->scale;
  if (of.analyte == Analyte::Alkalinity) {
    if (unit.base->measure != Measure::Mass)
      return unit.form.empty() ? Result<double>(one) : unknown_unit(written, of.analyte);
    if (same_letters(unit.form, "CaCO3") || unit.form == "CaCO₃")
      return one / calcium_carbonate_per_milliequivalent;
    return Error{fmt::format("{} does not say of what: write alkalinity in {}", quoted(written),
                             accepted_units(of.analyte))};
  }
  NamedAnalyte form = of;
  if (!unit.form.empty()) {
    const auto named = analyte_named(unit.form);
    if (!named || named->analyte != of.analyte)
      return unknown_unit(written, of.analyte);
    form = *named;
  }
  if (unit.base->measure == Measure::Charge)
    return unknown_unit(written, of.analyte);
  // Every form has one atom of the element.
  return unit.base->measure == Measure::Amount ? one * analyte_row(of.analyte).molar_mass
                                               : one * form.factor;
}

}  // namespace

std::string_view accepted_units(Analyte analyte) {
  return analyte == Analyte::Alkalinity
             ? "dKH, meq/L, mmol/L, mmol/kg, ueq/kg or mg/L CaCO3"
             : "mg/L, ug/L, ng/L, mg/kg, ug/kg, umol/kg, mmol/L or umol/L";
}

Result<double> content_of_one(std::string_view written, const NamedAnalyte& of,
                              const WaterOfSample& water) {
  std::string plain = plainly(written);
  const auto per_litre = [&](double one) {
    return content_of_per_litre(one, water.salinity, water.temperature);
  };
  if (is_german_degree(plain)) {
    if (of.analyte != Analyte::Alkalinity)
      return unknown_unit(written, of.analyte);
    return per_litre(milliequivalents_per_german_degree);
  }
  if (const auto parts = parts_per_litre(plain)) {
    if (!water.ppm_is_mg_per_litre)
      return Error{fmt::format("{} leaves open whether it is per litre or per kilogram: write {}",
                               quoted(written),
                               same_letters(plain.substr(0, 3), "ppm") ? R"("mg/L" or "mg/kg")"
                                                                       : R"("ug/L" or "ug/kg")")};
    plain = *parts;
  }
  const auto unit = unit_of(plain);
  if (!unit)
    return unknown_unit(written, of.analyte);
  const auto scale = scale_of(*unit, written, of);
  if (!scale)
    return scale.error();
  return unit->per_kilogram ? *scale : per_litre(*scale);
}

bool is_content_unit(std::string_view text) {
  constexpr std::size_t longest = 40;
  if (text.empty() || text.size() > longest || is_digit(text.front()))
    return false;
  if (text.find_first_of("/1\xb9") == std::string_view::npos)  // neither "/L" nor "L-1" nor "L⁻¹"
    return is_german_degree(trimmed(text)) || parts_per_litre(std::string(trimmed(text)));
  const std::string plain = plainly(text);
  const auto unit = unit_of(plain);
  const bool form_is_known = unit && (unit->form.empty() || same_letters(unit->form, "CaCO3") ||
                                      analyte_named(unit->form));
  return form_is_known;
}

}  // namespace brinegate::config
