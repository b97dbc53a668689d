// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/lot_text.h"

#include <algorithm>
#include <functional>

#include <fmt/format.h>

#include "config/chemistry/analysis.h"
#include "config/chemistry/json_keys.h"
#include "config/json_document.h"
#include "config/quantity.h"
#include "config/table_reader.h"
#include "config/wall_time.h"

namespace brinegate::config {
namespace {

AnalysisText read_json_lot(std::string_view plain_text, Problems& problems) {
  AnalysisText text;
  const auto root = parse_json(plain_text, problems);
  if (!root)
    return text;
  const TableReader lot(*root, json_keys::lot, "the lot", problems);
  if (const auto* table = std::get_if<Table>(&root->value)) {
    read_particular(*table, "lot", Particular::Lot, text, problems);
    read_particular(*table, "salt", Particular::Salt, text, problems);
    read_particular(*table, "expires", Particular::Expires, text, problems);
    read_particular(*table, "dry_fraction", Particular::DryFraction, text, problems);
  }
  const Node* assay = lot.find("assay");
  if (!assay)
    return text;
  const TableReader reader(*assay, json_keys::assay, "assay", problems);
  if (const auto* table = std::get_if<Table>(&assay->value)) {
    read_particular(*table, "salinity", Particular::Salinity, text, problems);
    read_particular(*table, "temperature", Particular::Temperature, text, problems);
    read_particular(*table, "method", Particular::Method, text, problems);
    read_particular(*table, "ppm", Particular::Ppm, text, problems);
  }
  if (const Node* values = reader.find("values"))
    read_values(*values, text, problems);
  return text;
}

// "H-2291", "Harbour blend": what a line of the record and a topic can carry.
Result<std::string> parse_name(std::string_view given) {
  constexpr std::size_t longest = 64;
  const std::string_view name = trimmed(given);
  const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
    return static_cast<unsigned char>(c) >= ' ' && c != '\x7f' && c != '/' && c != '"';
  });
  if (name.empty() || name.size() > longest || !plain)
    return Error{
        fmt::format("{} cannot be a name: write up to {} letters, digits and blanks, such "
                    "as \"H-2291\"",
                    quoted(name), longest)};
  return std::string(name);
}
bool same_name(const std::string& a, const std::string& b) {
  return a == b;
}

Result<double> parse_dry_fraction(std::string_view text) {
  constexpr double least = 0.2;
  auto share = parse_share(text);
  if (share && *share <= least)
    return Error{fmt::format("{} cannot be the dry fraction of a salt mix: write 20 % to 100 %",
                             quoted(text))};
  return share;
}
bool same_fraction(const double& a, const double& b) {
  return a == b;
}
std::optional<std::string> unless_empty(const std::string& text) {
  return text.empty() ? std::nullopt : std::optional(text);
}

std::optional<Lot> lot_of(AnalysisText& text, const LotParticulars& said, Problems& problems) {
  Lot lot;
  const auto name = agreed<std::string>(text, Particular::Lot, parse_name, unless_empty(said.name),
                                        same_name, problems);
  if (name)
    lot.name = *name;
  else if (!text.particulars.contains(Particular::Lot))
    problems.error({}, "it does not say which lot it is: write for example \"lot: H-2291\"");
  lot.salt = agreed<std::string>(text, Particular::Salt, parse_name, unless_empty(said.salt),
                                 same_name, problems)
                 .value_or("");
  lot.expires = agreed<WallTime>(text, Particular::Expires, parse_last_day, said.expires,
                                 std::equal_to<>(), problems);
  lot.dry_fraction = agreed<double>(text, Particular::DryFraction, parse_dry_fraction,
                                    said.dry_fraction, same_fraction, problems);
  const auto assay = assay_of(text, said.salinity, problems);
  if (!assay)
    return std::nullopt;
  lot.assay = *assay;
  return problems.any_error() ? std::nullopt : std::optional(lot);
}

}  // namespace

ReadLot read_lot(std::string_view given, const std::string& file_name,
                 const LotParticulars& particulars) {
  Problems problems(file_name);
  ReadLot result;
  if (const auto plain = plain_text_of(given, problems)) {
    AnalysisText text =
        looks_like_json(*plain) ? read_json_lot(*plain, problems) : read_table(*plain, problems);
    if (text.rows.empty() && !problems.any_error())
      problems.error({}, "it names no analyte: write for example \"Ca 421 mg/L\"");
    if (!text.rows.empty())
      result.lot = lot_of(text, particulars, problems);
    result.unread = readable(std::move(text.unread));
  }
  if (problems.any_error())
    result.lot.reset();
  result.errors = readable(problems);
  return result;
}

}  // namespace brinegate::config
