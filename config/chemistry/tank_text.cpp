// SPDX-License-Identifier: Apache-2.0
#include "config/chemistry/tank_text.h"

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

class TankFile {
 public:
  TankFile(const Node& root, Problems& problems)
      : problems_(problems), reader_(root, json_keys::tank, "the tank", problems) {}

  Tank read() {
    Tank tank;
    if (reader_.read("tank", tank.name))
      check_name(tank.name, "tank", reader_.at("tank"), problems_);
    reader_.read("volume", parse_volume, {"0.1 L", "10000000 L"}, tank.volume);
    reader_.read("salinity", parse_salinity, {"1 PSU", "60 PSU"}, tank.salinity);
    reader_.read("temperature", parse_temperature, {"0 C", "40 C"}, tank.temperature);
    water_ = {tank.salinity, tank.temperature, false};
    for_each_analyte("wanted", [&](const NamedAnalyte& of, const Member& member) {
      if (const auto wanted = read_wanted(of, member); wanted && is_new(tank.wanted, of, member))
        tank.wanted[of.analyte] = *wanted;
    });
    for_each_analyte("consumption", [&](const NamedAnalyte& of, const Member& member) {
      const auto used = read_consumption(of, member);
      if (used && is_new(tank.consumption, of, member))
        tank.consumption[of.analyte] = *used;
    });
    if (const Node* limits = reader_.find("limits")) {
      TableReader steps(*limits, json_keys::limits, "limits", problems_);
      steps.read("salinity_step", parse_salinity_difference, {"0.01 PSU", "10 PSU"},
                 tank.salinity_step);
      steps.read("temperature_step", parse_temperature_difference, {"0.01 C", "20 C"},
                 tank.temperature_step);
    }
    return tank;
  }

 private:
  template <class Read>
  void for_each_analyte(std::string_view key, const Read& read) {
    const Node* node = reader_.find(key);
    if (!node)
      return;
    const auto* table = std::get_if<Table>(&node->value);
    if (!table) {
      reader_.wrong_type(key, *node, "a table");
      return;
    }
    for (const Member& member : *table) {
      if (const auto named = analyte_named(member.key))
        read(*named, member);
      else
        problems_.error(member.at, unknown_analyte(member.key).message);
    }
  }

  template <class Map>
  bool is_new(const Map& known, const NamedAnalyte& of, const Member& member) {
    if (known.count(of.analyte) == 0)
      return true;
    problems_.error(member.at, fmt::format("{} is given twice: leave one out", word(of.analyte)));
    return false;
  }

  // What is wanted is a bound: no detection limit and no uncertainty stands with it.
  std::optional<double> read_bound(const NamedAnalyte& of, const Node& node) {
    const auto* text = std::get_if<std::string>(&node.value);
    if (!text) {
      problems_.error(node.at, fmt::format("{}: this is {}: expected text with a unit, such as "
                                           "\"400 mg/L\"",
                                           word(of.analyte), kind_of(node)));
      return std::nullopt;
    }
    const auto bound = parse_bound(*text, of, water_);
    if (!bound) {
      problems_.error(node.at, fmt::format("{}: {}", word(of.analyte), bound.error().message));
      return std::nullopt;
    }
    return *bound;
  }

  std::optional<Wanted> read_wanted(const NamedAnalyte& of, const Member& member) {
    Wanted wanted;
    wanted.source = "set by the keeper";
    const bool read = std::holds_alternative<Array>(member.node.value)
                          ? read_pair(of, member, wanted)
                          : read_parts(of, member, wanted);
    if (read && wanted.range.low >= wanted.range.high) {
      problems_.error(member.at, fmt::format("{}: the range must rise: write the lower value first",
                                             word(of.analyte)));
      return std::nullopt;
    }
    return read ? std::optional(wanted) : std::nullopt;
  }

  bool read_pair(const NamedAnalyte& of, const Member& member, Wanted& wanted) {
    const Array& pair = std::get<Array>(member.node.value);
    if (pair.size() != 2) {
      problems_.error(member.at, fmt::format("{}: expected the lowest and the highest, such as "
                                             "[\"400 mg/L\", \"450 mg/L\"]",
                                             word(of.analyte)));
      return false;
    }
    const auto low = read_bound(of, pair.front());
    const auto high = read_bound(of, pair.back());
    wanted.range = {low.value_or(0.0), high.value_or(0.0)};
    return low && high;
  }

  bool read_parts(const NamedAnalyte& of, const Member& member, Wanted& wanted) {
    if (!std::holds_alternative<Table>(member.node.value)) {
      problems_.error(member.at, fmt::format("{} is {}: expected for example [\"400 mg/L\", \"450 "
                                             "mg/L\"] or {{ \"to\": \"5 ug/L\" }}",
                                             word(of.analyte), kind_of(member.node)));
      return false;
    }
    TableReader parts(member.node, json_keys::wanted, std::string(word(of.analyte)), problems_);
    bool read = true;
    for (const auto& [key, bound] :
         {std::pair{"from", &wanted.range.low}, std::pair{"to", &wanted.range.high}})
      if (const Node* node = parts.find(key)) {
        const auto content = read_bound(of, *node);
        *bound = content.value_or(0.0);
        read = read && content;
      }
    parts.read("weight", wanted.weight);
    parts.read("never_above", wanted.never_above);
    if (wanted.weight < 0.0 || wanted.weight > 1000.0)
      parts.error("weight", "'weight' is out of range: write a number from 0 to 1000");
    return read && parts.has("to");
  }

  std::optional<Consumption> read_consumption(const NamedAnalyte& of, const Member& member) {
    const auto* text = std::get_if<std::string>(&member.node.value);
    const auto used = text ? parse_consumption(*text, of, water_)
                           : Error{fmt::format("this is {}: expected text, such as \"0.3 dKH/d\"",
                                               kind_of(member.node))};
    if (used)
      return *used;
    problems_.error(member.node.at, fmt::format("{}: {}", word(of.analyte), used.error().message));
    return std::nullopt;
  }

  Problems& problems_;
  TableReader reader_;
  WaterOfSample water_;
};

AnalysisText read_json_test(std::string_view plain_text, Problems& problems) {
  AnalysisText text;
  const auto root = parse_json(plain_text, problems);
  if (!root)
    return text;
  const TableReader test(*root, json_keys::test, "the water test", problems);
  if (const auto* table = std::get_if<Table>(&root->value)) {
    read_particular(*table, "tested", Particular::Tested, text, problems);
    read_particular(*table, "salinity", Particular::Salinity, text, problems);
    read_particular(*table, "temperature", Particular::Temperature, text, problems);
    read_particular(*table, "method", Particular::Method, text, problems);
    read_particular(*table, "ppm", Particular::Ppm, text, problems);
  }
  if (const Node* values = test.find("values"))
    read_values(*values, text, problems);
  return text;
}

std::optional<WaterTest> test_of(AnalysisText& text, const TestParticulars& said,
                                 Problems& problems) {
  const auto at =
      agreed<WallTime>(text, Particular::Tested, parse_time, said.at, std::equal_to<>(), problems);
  if (!at && !text.particulars.contains(Particular::Tested))
    problems.error({},
                   "it does not say when the sample was taken: write for example \"tested: "
                   "2026-11-02T18:00\"");
  const auto assay = assay_of(text, said.salinity, problems);
  if (!at || !assay || problems.any_error())
    return std::nullopt;
  return WaterTest{*at, *assay, {}};
}

}  // namespace

ReadTank read_tank(std::string_view given, const std::string& file_name) {
  Problems problems(file_name);
  ReadTank result;
  if (const auto plain = plain_text_of(given, problems)) {
    if (!looks_like_json(*plain))
      problems.error({},
                     "a tank is described in JSON: write for example { \"tank\": \"reef\", "
                     "\"volume\": \"800 L\" }");
    else if (const auto root = parse_json(*plain, problems))
      result.tank = TankFile(*root, problems).read();
  }
  if (problems.any_error())
    result.tank.reset();
  result.errors = readable(problems);
  return result;
}

ReadTest read_water_test(std::string_view given, const std::string& file_name,
                         const TestParticulars& particulars) {
  Problems problems(file_name);
  ReadTest result;
  if (const auto plain = plain_text_of(given, problems)) {
    AnalysisText text =
        looks_like_json(*plain) ? read_json_test(*plain, problems) : read_table(*plain, problems);
    if (text.rows.empty() && !problems.any_error())
      problems.error({}, "it names no analyte: write for example \"Ca 421 mg/L\"");
    if (!text.rows.empty())
      result.test = test_of(text, particulars, problems);
    result.unread = readable(std::move(text.unread));
  }
  if (problems.any_error())
    result.test.reset();
  result.errors = readable(problems);
  return result;
}

}  // namespace brinegate::config
