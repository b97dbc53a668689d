// SPDX-License-Identifier: Apache-2.0
// Whatever analysis is written down, in whatever format, units, order and decimal mark: it reads
// back as the same contents.
#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <tuple>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "rules/seawater.h"
#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

struct Line {
  Analyte analyte = Analyte::Alkalinity;
  std::string name;
  std::string number;  // "< " before it where it was not found
  std::string unit;
  double content = 0.0;
  bool censored = false;
};

class Writer {
 public:
  explicit Writer(std::uint32_t seed) : random_(seed) {}

  void write_lines() {
    comma_ = coin();
    salinity_ = 30.0 + static_cast<double>(below(1000)) / 100.0;
    litre_ = density(PracticalSalinity(salinity_), Celsius(25.0)).value() / 1000.0;
    std::vector<const AnalyteRow*> rows;
    for (const AnalyteRow& row : analytes())
      rows.push_back(&row);
    std::shuffle(rows.begin(), rows.end(), random_);
    rows.resize(1 + below(analyte_count));
    for (const AnalyteRow* row : rows)
      lines_.push_back(line_of(*row));
  }

  [[nodiscard]] const std::vector<Line>& lines() const { return lines_; }
  [[nodiscard]] double salinity() const { return salinity_; }

  std::string as_json() {
    std::string values;
    for (const Line& line : lines_)
      values += fmt::format("{}\"{}\": \"{} {}\"", values.empty() ? "" : ",\n", line.name,
                            line.number, line.unit);
    return fmt::format(
        R"({{"assay": {{"values": {{{}}}, "salinity": "{} PSU"}}, "lot": "H-2291"}})", values,
        number(salinity_));
  }

  std::string as_csv() {
    const std::string separator(1, ",;\t"[below(3)]);
    const bool header = coin();
    std::vector<std::size_t> order{0, 1, 2};
    if (header)
      std::shuffle(order.begin(), order.end(), random_);
    const auto row = [&](const std::array<std::string, 3>& cells) {
      std::string text;
      for (const std::size_t column : order) {
        const bool quote = coin() || cells[column].find(separator) != std::string::npos;
        text += (text.empty() ? "" : separator) +
                (quote ? fmt::format("\"{}\"", cells[column]) : cells[column]);
      }
      return text + (windows_ ? "\r\n" : "\n");
    };
    windows_ = coin();
    std::string text = header ? row({"analyte", "value", "unit"}) : "";
    for (const Line& line : lines_)
      text += row({line.name, line.number, line.unit});
    return text + fmt::format("Salinity: {} PSU", number(salinity_));
  }

  std::string as_pasted() {
    std::string text = fmt::format("Harbour blend\n\nSalinität: {} PSU\n", number(salinity_));
    switch (below(4)) {
      case 0:
        for (const Line& line : lines_)
          text += fmt::format("{}{} {} {}\n", line.name, coin() ? ":" : "", line.number, line.unit);
        break;
      case 1:
        for (const Line& line : lines_)
          text += fmt::format("| {} | {} {} | 1 - 2 {} |\n", line.name, line.number, line.unit,
                              line.unit);
        break;
      case 2:
        text += "Element  Sollwert  Messwert  Einheit\n";
        for (const Line& line : lines_)
          text += fmt::format("{}  {}  {}  {}\n", line.name, below(1000), line.number, line.unit);
        break;
      default:
        text += "Symbol\tUnit\tResult\tTarget\n";
        for (const Line& line : lines_)
          text += fmt::format("{}\t{}\t{}\t{}\n", line.name, line.unit, line.number, below(1000));
        break;
    }
    return text;
  }

 private:
  std::size_t below(std::size_t end) { return random_() % end; }
  bool coin() { return below(2) == 0; }

  // Never three decimals, which could be a thousand.
  std::string number(double value) {
    std::string text = fmt::format("{:.15g}", value);
    const std::size_t point = text.find('.');
    if (point != std::string::npos && text.find('e') == std::string::npos &&
        text.size() - point == 4)
      text += '0';
    if (comma_ && point != std::string::npos)
      text[point] = ',';
    return text;
  }

  Line line_of(const AnalyteRow& row) {
    Line line;
    line.analyte = row.analyte;
    const std::string_view names[]{row.symbol, row.english, row.german};
    line.name = names[below(3)];
    line.censored = row.analyte != Analyte::Alkalinity && below(4) == 0;
    const double amount = std::pow(10.0, static_cast<double>(below(6000)) / 1000.0 - 4.0);
    line.number = (line.censored ? (coin() ? "< " : "<") : "") + number(amount);
    double one = 0.0;
    std::tie(line.unit, one) =
        row.analyte == Analyte::Alkalinity ? unit_of_alkalinity() : unit_of(row);
    line.content = amount * one;
    return line;
  }

  std::pair<std::string, double> unit_of(const AnalyteRow& row) {
    const std::pair<std::string, double> units[]{{"mg/L", 1.0 / litre_},
                                                 {"mg/l", 1.0 / litre_},
                                                 {"ug/L", 1e-3 / litre_},
                                                 {"µg/l", 1e-3 / litre_},
                                                 {"ng/L", 1e-6 / litre_},
                                                 {"mg/kg", 1.0},
                                                 {"ug/kg", 1e-3},
                                                 {"mmol/L", row.molar_mass / litre_},
                                                 {"umol/kg", row.molar_mass * 1e-3},
                                                 {"nmol/kg", row.molar_mass * 1e-6}};
    return units[below(std::size(units))];
  }
  std::pair<std::string, double> unit_of_alkalinity() {
    const std::pair<std::string, double> units[]{{"dKH", 20.0 / 56.077 / litre_},
                                                 {"meq/L", 1.0 / litre_},
                                                 {"mmol/l", 1.0 / litre_},
                                                 {"ueq/kg", 1e-3},
                                                 {"mg/L CaCO3", 1.0 / 50.043 / litre_}};
    return units[below(std::size(units))];
  }

  std::mt19937 random_;
  std::vector<Line> lines_;
  bool comma_ = false;
  bool windows_ = false;
  double salinity_ = 0.0;
  double litre_ = 1.0;
};

void expect_same(const Writer& written, const std::string& text) {
  LotParticulars said;
  said.name = "H-2291";
  const ReadLot read = read_lot(text, "lot", said);
  RC_LOG() << text << "\n" << all_errors(read.errors);
  RC_ASSERT(read.lot.has_value());
  const Assay& assay = read.lot->assay;
  RC_ASSERT(std::abs(assay.salinity.value() - written.salinity()) <= 1e-9 * written.salinity());
  RC_ASSERT(assay.values.size() == written.lines().size());
  for (const Line& line : written.lines()) {
    const CensoredValue& content = assay.values.at(line.analyte).content;
    RC_ASSERT(content.censored() == line.censored);
    RC_ASSERT(content.low == (line.censored ? 0.0 : content.high));
    RC_ASSERT(std::abs(content.high - line.content) <= 1e-9 * line.content);
  }
}

RC_GTEST_PROP(LotRoundTrip, AsJson, (std::uint32_t seed)) {
  Writer writer(seed);
  writer.write_lines();
  expect_same(writer, writer.as_json());
}
RC_GTEST_PROP(LotRoundTrip, AsCsv, (std::uint32_t seed)) {
  Writer writer(seed);
  writer.write_lines();
  expect_same(writer, writer.as_csv());
}
RC_GTEST_PROP(LotRoundTrip, AsPastedTable, (std::uint32_t seed)) {
  Writer writer(seed);
  writer.write_lines();
  expect_same(writer, writer.as_pasted());
}

}  // namespace
}  // namespace brinegate::config
