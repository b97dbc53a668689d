// SPDX-License-Identifier: Apache-2.0
// Names of analytes: the catalogue's, what else people call them, and the forms in which they are
// counted.
#include <algorithm>
#include <map>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "config/chemistry/content_words.h"
#include "config/nearest.h"
#include "config/plain_text.h"

namespace brinegate::config {
namespace {

using enum Analyte;

// Formula masses in g/mol (IUPAC standard atomic weights, abridged 2021). All have one atom of the
// element.
constexpr double element = 0.0;
constexpr double sulfate = 96.056;
constexpr double nitrate = 62.004;
constexpr double phosphate = 94.970;
constexpr double boric_acid = 61.831;
constexpr double silica = 60.083;
constexpr double iodate = 174.897;

struct Synonym {
  std::string_view name;
  Analyte analyte;
  double formula_mass = element;
};

constexpr Synonym synonyms[] = {
    {"KH", Alkalinity},
    {"Alk", Alkalinity},
    {"TA", Alkalinity},
    {"total alkalinity", Alkalinity},
    {"Gesamtalkalinität", Alkalinity},
    {"Alkalinitaet", Alkalinity},
    {"carbonate hardness", Alkalinity},
    {"Karbonathärte", Alkalinity},
    {"Karbonathaerte", Alkalinity},
    {"Carbonathärte", Alkalinity},
    {"Säurekapazität", Alkalinity},
    {"Säurebindungsvermögen", Alkalinity},
    {"SBV", Alkalinity},
    {"Kalzium", Calcium},
    {"chloride", Chlorine},
    {"Chlorid", Chlorine},
    {"sulphur", Sulfur},
    {"sulfate", Sulfur, sulfate},
    {"sulphate", Sulfur, sulfate},
    {"Sulfat", Sulfur, sulfate},
    {"SO4", Sulfur, sulfate},
    {"bromide", Bromine},
    {"Bromid", Bromine},
    {"boric acid", Boron, boric_acid},
    {"Borsäure", Boron, boric_acid},
    {"H3BO3", Boron, boric_acid},
    {"B(OH)3", Boron, boric_acid},
    {"fluoride", Fluorine},
    {"Fluorid", Fluorine},
    {"nitrate", Nitrogen, nitrate},
    {"Nitrat", Nitrogen, nitrate},
    {"NO3", Nitrogen, nitrate},
    {"nitrate nitrogen", Nitrogen},
    {"Nitratstickstoff", Nitrogen},
    {"phosphate", Phosphorus, phosphate},
    {"orthophosphate", Phosphorus, phosphate},
    {"Phosphat", Phosphorus, phosphate},
    {"Orthophosphat", Phosphorus, phosphate},
    {"PO4", Phosphorus, phosphate},
    {"total phosphorus", Phosphorus},
    {"Gesamtphosphor", Phosphorus},
    {"silicate", Silicon, silica},
    {"Silikat", Silicon, silica},
    {"silica", Silicon, silica},
    {"SiO2", Silicon, silica},
    {"Silizium", Silicon},
    {"iodide", Iodine},
    {"Iodid", Iodine},
    {"Jod", Iodine},
    {"Jodid", Iodine},
    {"iodate", Iodine, iodate},
    {"Iodat", Iodine, iodate},
    {"IO3", Iodine, iodate},
    {"aluminum", Aluminium},
    {"Kobalt", Cobalt},
    {"Wismut", Bismuth},
    {"Molybdaen", Molybdenum},
    {"Wolfram", Tungsten},
};

// Named in analyses, but nothing that a salt or a tank is held to here.
constexpr std::string_view others[] = {"nitrite",  "Nitrit", "NO2",     "ammonium", "ammonia",
                                       "Ammoniak", "NH4",    "NH3",     "caesium",  "cesium",
                                       "Cäsium",   "cerium", "gallium", "yttrium",  "niobium",
                                       "indium",   "gold",   "thorium", "rhodium",  "neodymium"};

struct Replacement {
  std::string_view written;
  std::string_view plain;
};
// Accents, subscripts and the signs of a charge, which tell no analytes apart.
constexpr Replacement replacements[] = {
    {"ä", "a"},    {"Ä", "a"}, {"ö", "o"}, {"Ö", "o"},     {"ü", "u"}, {"Ü", "u"},
    {"ß", "ss"},   {"é", "e"}, {"è", "e"}, {"₀", "0"},     {"₁", "1"}, {"₂", "2"},
    {"₃", "3"},    {"₄", "4"}, {"¹", ""},  {"²", ""},      {"³", ""},  {"⁺", ""},
    {"⁻", ""},     {"–", "-"}, {"−", "-"}, {"\u0308", ""},  // a combining diaeresis
    {"\u00a0", ""}};

std::string plainly_spelled(std::string_view name) {
  std::string result;
  for (std::size_t i = 0; i < name.size();) {
    if (character_size(name.substr(i)) == 1) {
      result += name[i++];
      continue;
    }
    const auto* const found =
        std::find_if(std::begin(replacements), std::end(replacements),
                     [&](const Replacement& r) { return name.substr(i).starts_with(r.written); });
    if (found == std::end(replacements)) {
      result += name[i++];
      continue;
    }
    result += found->plain;
    i += found->written.size();
  }
  return result;
}

// Small letters and digits alone: what stays of a plainly spelled name for comparing.
std::string letters_of(std::string_view name) {
  std::string result;
  for (const char c : name)
    if (std::string_view(" -_.:\t").find(c) == std::string_view::npos)
      result += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return result;
}

using Names = std::map<std::string, NamedAnalyte, std::less<>>;

Names names_in_letters() {
  Names names;
  for (const AnalyteRow& row : analytes())
    for (const std::string_view name : {row.english, row.german})
      names.insert({letters_of(plainly_spelled(name)), {row.analyte, 1.0}});
  for (const Synonym& synonym : synonyms) {
    const double factor = synonym.formula_mass == element
                              ? 1.0
                              : analyte_row(synonym.analyte).molar_mass / synonym.formula_mass;
    names.insert({letters_of(plainly_spelled(synonym.name)), {synonym.analyte, factor}});
  }
  return names;
}

// "CO" is carbon monoxide, or CO2 or CO3 whose digit went astray; "SC" is specific conductance.
bool is_another_thing(std::string_view capitals) {
  return capitals == "CO" || capitals == "SC";
}

std::optional<NamedAnalyte> by_symbol(std::string_view name) {
  if (name.size() > 2)
    return std::nullopt;
  for (const AnalyteRow& row : analytes()) {
    if (row.analyte == Alkalinity || !same_letters(row.symbol, name))
      continue;
    const bool one_case =
        name.size() == 2 && ((name[0] >= 'a') == (name[1] >= 'a')) && !is_another_thing(name);
    if (row.symbol == name || one_case)
      return NamedAnalyte{row.analyte, 1.0};
  }
  return std::nullopt;
}

// "Ca2+", "SO4 2-", "NO3-", "Ca++": without the charge.
std::string_view without_charge(std::string_view name, bool also_its_digit) {
  while (name.ends_with('+') || name.ends_with('-'))
    name.remove_suffix(1);
  if (also_its_digit && name.size() > 1 && name.back() >= '1' && name.back() <= '4')
    name.remove_suffix(1);
  return trimmed(name);
}

std::optional<NamedAnalyte> plain_name(std::string_view given) {
  static const Names names = names_in_letters();
  const std::string spelled = plainly_spelled(trimmed(given));
  const std::string_view name = trimmed(spelled);
  const bool charged = name.ends_with('+') || name.ends_with('-');
  for (const std::string_view bare :
       {name, without_charge(name, false), without_charge(name, true)}) {
    if (bare.empty() || (bare.size() != name.size() && !charged))
      continue;
    if (const auto symbol = by_symbol(bare))
      return symbol;
    if (const auto found = names.find(letters_of(bare)); found != names.end())
      return found->second;
  }
  return std::nullopt;
}

// "nitrate as N", "Nitrat als N", "NO3-N": the second says in which form it is counted.
struct Expressed {
  std::string_view name;
  std::string_view form;
};
std::optional<Expressed> expressed(std::string_view name) {
  for (const std::string_view as : {" as ", " als ", "-"}) {
    const std::size_t at = name.rfind(as);
    if (at != std::string_view::npos && at > 0 && at + as.size() < name.size())
      return Expressed{name.substr(0, at), name.substr(at + as.size())};
  }
  return std::nullopt;
}

struct Name {
  NamedAnalyte of;
  bool form_is_said = false;  // "as N": it is not merely the name's own
};

std::optional<Name> name_without_brackets(std::string_view name) {
  if (const auto plain = plain_name(name))
    return Name{*plain, false};
  const auto parts = expressed(name);
  if (!parts)
    return std::nullopt;
  const auto of = plain_name(parts->name);
  const auto form = plain_name(parts->form);
  if (!of || !form || of->analyte != form->analyte)
    return std::nullopt;
  return Name{*form, true};
}

struct ReadName {
  std::optional<NamedAnalyte> of;
  bool open = false;  // in which form
};

ReadName only(const std::optional<Name>& name) {
  return {name ? std::optional(name->of) : std::nullopt};
}

// "Calcium (Ca)", "Nitrate (NO3-N)", "Nitrogen (as NO3)".
ReadName read_name(std::string_view given) {
  const std::string_view name = trimmed(given);
  if (const auto whole = name_without_brackets(name))
    return only(whole);
  const std::size_t open = name.find_first_of("([");
  if (open == std::string_view::npos || open == 0 || (!name.ends_with(')') && !name.ends_with(']')))
    return {};
  const auto outer = name_without_brackets(trimmed(name.substr(0, open)));
  std::string_view within = trimmed(name.substr(open + 1, name.size() - open - 2));
  const bool says_as = within.starts_with("as ") || within.starts_with("als ");
  if (says_as)
    within.remove_prefix(within.find(' ') + 1);
  const auto inner = name_without_brackets(within);
  if (!outer || !inner || outer->of.analyte != inner->of.analyte)
    return {};
  if (outer->of == inner->of || inner->form_is_said || says_as)
    return only(inner);
  return {std::nullopt, true};
}

}  // namespace

std::optional<NamedAnalyte> analyte_named(std::string_view name) {
  return read_name(name).of;
}

std::optional<Error> open_name(std::string_view given) {
  const std::string_view name = trimmed(given);
  if (name == "CO")
    return Error{
        "'CO' can be cobalt or what is left of CO2 or CO3: write 'Co' for cobalt, or leave "
        "it out"};
  if (name.find_first_of("([") != std::string_view::npos && read_name(name).open)
    return Error{fmt::format(
        "{} leaves open in which form it is counted: write for example 'NO3' or 'NO3-N', 'SO4' or "
        "'SO4-S'",
        quoted(name))};
  return std::nullopt;
}

Error unknown_analyte(std::string_view name) {
  if (const auto open = open_name(name))
    return *open;
  if (std::any_of(std::begin(others), std::end(others),
                  [&](std::string_view other) { return same_letters(other, trimmed(name)); }))
    return {fmt::format("{} is not kept here: leave it out", quoted(name))};
  std::vector<std::string> known;
  for (const AnalyteRow& row : analytes()) {
    known.emplace_back(row.english);
    known.emplace_back(row.german);
    if (row.analyte != Alkalinity && same_letters(row.symbol, name))
      return {
          fmt::format("there is nothing called {}: did you mean '{}'?", quoted(name), row.symbol)};
  }
  for (const Synonym& synonym : synonyms)
    known.emplace_back(synonym.name);
  const auto near = nearest(name, known);
  return {fmt::format("there is nothing called {}: {}", quoted(name),
                      near ? fmt::format("did you mean '{}'?", *near)
                           : "write an element's name or symbol, or alkalinity")};
}

std::string_view word(Analyte analyte) {
  return analyte_row(analyte).english;
}

}  // namespace brinegate::config
