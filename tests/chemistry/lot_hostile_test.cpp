// SPDX-License-Identifier: Apache-2.0
// Malformed, truncated, mixed and hostile texts: each is told what is wrong with it and where, and
// no lot comes of it.
#include <chrono>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/chemistry/reading.h"

namespace brinegate::config {
namespace {

using testing::HasSubstr;

struct Hostile {
  std::string_view text;
  std::string_view told;  // a part of what is said, with its line
};

constexpr std::string_view head =
    R"({"lot": "H-2291", "assay": {"salinity": "35 ppt", "values": {)";
using std::string_view_literals::operator""sv;

const Hostile texts[] = {
    // No text, no JSON.
    {"", "t:1:1: there is nothing in it"},
    {" \n\t\r\n ", "t:1:1: there is nothing in it"},
    {"Ca 421 mg/L\n\0"sv, "t:2:1: a zero byte"},
    {"Ca 421 mg/L\n\nMg \xff 1300", "t:3:1: this is not UTF-8"},
    {"Ca 421 \xc3", "t:1:1: this is not UTF-8"},
    {"\xed\xa0\x80 421 mg/L", "t:1:1: this is not UTF-8"},
    {"\xff\xfe{\0}\0"sv, "t:1:1: this is UTF-16"},
    {"PK\x03\x04\x14\0\x06\0"sv, "t:1:1: a zero byte"},
    {"\x89PNG\r\n\x1a\n", "not UTF-8"},
    {"%PDF-1.4\n%\xe2\xe3\xcf\xd3", "t:2:1: this is not UTF-8"},
    {"<html><body><table><tr><td>Ca</td><td>421</td></tr></table>", "names no analyte"},
    {"hello", "names no analyte"},
    {"{", "t:1:2: this is not JSON: unexpected end of input"},
    {"{\n\"lot\": \"H-2291\",\n", "t:3:1: this is not JSON"},
    {"{\"lot\": \"H-2291\",}", "t:1:18: this is not JSON"},
    {"{\"lot\": 'H-2291'}", "t:1:9: this is not JSON"},
    {"{lot: H-2291}", "t:1:2: this is not JSON"},
    {"{\"lot\": \"H-2291\"} {}", "this is not JSON"},
    {"{\"lot\": \"H-2291\n\"}", "this is not JSON"},
    {"{\"lot\": \"\\ud800\"}", "this is not JSON"},
    {"{\"lot\": 1e999}", "this is not JSON"},
    {"{\"lot\": null}", "t:1:9: null says nothing: leave the key out"},
    {"[]", "'the lot' is a list: expected a table"},
    {"[[[[[[[[[[[[[[[[", "t:1:9: nothing is nested so deeply here"},
    {"{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":{\"a\":", "nested so deeply"},
    {"{}", "'assay' is missing in the lot: write for example \"assay\""},
    {"{\"lot\": \"H-2291\",\n\"lot\": \"H-2304\"}",
     "t:2:1: \"lot\" is given twice, first in line 1"},
    {"{\"lott\": \"H-2291\", \"assay\": {\"salinity\": \"35 ppt\", \"values\": {\"Ca\": \"421 "
     "mg/L\"}}}",
     "unknown key 'lott' in the lot: did you mean 'lot'?"},
    // Their shape.
    {R"({"lot": "H-2291", "assay": "none"})", "'assay' is text"},
    {R"({"lot": "H-2291", "assay": {"salinity": "35 ppt"}})", "'values' is missing in assay"},
    {R"({"lot": "H-2291", "assay": {"salinity": "35 ppt", "values": []}})", "'values' is a"},
    {R"({"lot": "H-2291", "assay": {"salinity": "35 ppt", "values": {}}})", "names no analyte"},
    {R"({"lot": {}, "assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "'lot' is a table: expected text"},
    {R"({"lot": "", "assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "'lot' is empty"},
    {R"({"lot": "H/2291", "assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "cannot be a name"},
    {R"({"lot": "H\u0000", "assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "\"H?\" cannot be a name"},
    {R"({"lot": "H-2291", "expires": "02.03.2029", )"
     R"("assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "\"02.03.2029\" is no day"},
    {R"({"lot": "H-2291", "expires": "2029-02-30", )"
     R"("assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "\"2029-02-30\" is no day"},
    {R"({"lot": "H-2291", "dry_fraction": 1.5, )"
     R"("assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "\"1.5\" is no share"},
    {R"({"lot": "H-2291", "dry_fraction": 0.1, )"
     R"("assay": {"salinity": "35 ppt", "values": {"Ca": "421 mg/L"}}})",
     "cannot be the dry fraction"},
    {R"({"lot": "H-2291", "assay": {"salinity": 35, "values": {"Ca": "421 mg/L"}}})",
     "\"35\" has no unit"},
    {R"({"lot": "H-2291", "assay": {"salinity": "0 ppt", "values": {"Ca": "421 mg/L"}}})",
     "none that an analysis was made at"},
    {R"({"lot": "H-2291", "assay": {"salinity": "250 ppt", "values": {"Ca": "421 mg/L"}}})",
     "none that an analysis was made at"},
    {R"({"lot": "H-2291", )"
     R"("assay": {"salinity": "35 ppt", "temperature": "77 C", "values": {"Ca": "421 mg/L"}}})",
     "no temperature of a sample"},
    {R"({"lot": "H-2291", )"
     R"("assay": {"salinity": "35 ppt", "ppm": "mg/kg", "values": {"Ca": "421 mg/L"}}})",
     "\"mg/kg\" is not what ppm can stand for"},
    // Tables.
    {"Lot: H-2291\nSalinity: 35 ppt\nCa\t421\tmg/L\nCa\t420\tmg/L",
     "t:4:1: Calcium is given twice"},
    {"Lot: H-2291\nSalinity: 35 ppt\nS 900 mg/L\nSO4 900 mg/L",
     "t:4:1: Sulfur is given twice, first in line 3, and the two do not agree"},
    {"Lot: H-2291\nLot: H-2304\nSalinity: 35 ppt\nCa 421 mg/L", "t:2:1: \"H-2304\" stands here"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa 421 mg/L\nMg 1300 mg", "t:4:1: Magnesium"},
    {"Lot: H-2291\nSalinity: 35 ppt\n\"Ca,421,mg/L\nMg,1300,mg/L", "t:3:1: a quotation mark"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa,421,dKH", "t:3:1: Calcium: \"421\": \"dKH\" is not a unit"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa,1300 ppm", "t:3:1: Calcium: \"1300\": \"ppm\" leaves open"},
    {"Lot: H-2291\nSalinity: 35 ppt\nKH 8,1", "t:3:1: Alkalinity: \"8,1\" has no unit"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;1.2.3;mg/L", "holds a number that cannot be read"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;99999999;mg/L", "more than water can hold"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;-421;mg/L", "less than nothing"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;=1+1;mg/L", "no value stands there"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;0x1a5;mg/L", "t:3:1: Calcium"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;inf;mg/L", "no value stands there"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa;1e400;mg/L", "cannot be read"},
    {"Lot: H-2291\nSalinity: 35 ppt\nFe;0;ug/L", "t:3:1: Iron: \"0\" says that it was not found"},
    {"Lot: H-2291\nSalinity: 35 ppt\nFe;<0;ug/L", "cannot be a detection limit"},
    {"Lot: H-2291\nSalinity: 35 ppt\nElement [mg/L];Wert [ug/L]\nCa;421",
     "t:4:1: Calcium: \"mg/L\" and \"ug/L\" both stand there as its unit"},
    {"Lot: H-2291\nSalinity: 35 ppt\nelement,value [ug/L],unit\nCa,421,mg/L",
     "\"mg/L\" both stand there as its unit"},
    {"Lot: H-2291\nSalinity: 35 ppt\nCa [mg/L]\t421 ug/L", "leave one of the two units out"},
    {"Lot: \x01\x02\nSalinity: 35 ppt\nCa 421 mg/L", "t:1:1: \"??\" cannot be a name"},
    {"Salinity: 35 ppt\nCa 421 mg/L", "which lot it is"},
    {"Lot: H-2291\nppm: mg/kg\nSalinity: 35 ppt\nCa 421 ppm", "t:2:1: \"mg/kg\" is not what ppm"},
};

TEST(HostileLot, IsToldWhatIsWrongAndWhereAndNothingComesOfIt) {
  EXPECT_GE(std::size(texts), 50U);
  for (const Hostile& hostile : texts) {
    const ReadLot read = read_lot(hostile.text, "t", {});
    EXPECT_FALSE(read.lot) << hostile.text;
    EXPECT_THAT(all_errors(read.errors), HasSubstr(std::string(hostile.told))) << hostile.text;
    for (const Problem& problem : read.errors)
      EXPECT_LE(problem.message.size(), 400U) << hostile.text;
  }
}

// One value spoils the lot, whatever stands beside it.
TEST(HostileLot, OneBadValueIsEnough) {
  for (const std::string_view value :
       {R"("Ca": true)", R"("Ca": [])", R"("Ca": {})", R"("Ca": [["1 mg/L"]])", R"("Ca": "")",
        R"("Ca": {"value": null})", R"("Ca": ["421 mg/L", 5])", R"("Ca": ["421 mg/L", "< 2 mg/L"])",
        R"("Ca": {"value": "421 mg/L", "uncertainty": "0 mg/L"})", R"("Ca": "421 mg/L ± 500 mg/L")",
        R"("Ca": {"value": "421 mg/L", "detection_limit": "0 mg/L"})", R"("Ca": {"value": "n.d."})",
        R"("Ca": "about 421 mg/L")", R"("Ca": "1,234 mg/L")", R"("": "421 mg/L")",
        R"("Unobtainium": "421 mg/L")", R"("CO": "421 mg/L")"}) {
    const std::string text = fmt::format("{}\"Mg\": \"1300 mg/L\",\n{}}}}}}}", head, value);
    const ReadLot read = read_lot(text, "t", {});
    EXPECT_FALSE(read.lot) << text;
    ASSERT_FALSE(read.errors.empty()) << text;
    EXPECT_EQ(read.errors.front().line, 2) << text << all_errors(read.errors);
  }
}

TEST(HostileLot, EveryTruncationOfAGoodOneIsRefusedOrSaysLess) {
  const std::string whole =
      fmt::format("{}\"Mg\": \"1300 mg/L\", \"Ca\": [\"421 mg/L\"]}}}}}}", head);
  ASSERT_TRUE(read_lot(whole, "t", {}).lot);
  for (std::size_t size = 0; size < whole.size(); ++size) {
    const ReadLot read = read_lot(std::string_view(whole).substr(0, size), "t", {});
    EXPECT_FALSE(read.lot) << size;
    EXPECT_FALSE(read.errors.empty()) << size;
  }
}

TEST(HostileLot, TooMuchIsRefusedAtOnce) {
  EXPECT_THAT(lot_refusal(std::string(largest_analysis + 1, 'a')), HasSubstr("larger than 64 KiB"));
}

// As much as is allowed of what costs most; a quadratic reader would take minutes.
TEST(HostileLot, IsReadInTimeThatGrowsWithItsSize) {
  const auto filled = [](std::string_view piece) {
    std::string text = "Lot: H-2291\nSalinity: 35 ppt\n";
    while (text.size() + piece.size() <= largest_analysis)
      text += piece;
    return text;
  };
  for (const char* piece : {"\n",
                            "a\n",
                            "Ca 421 mg/L\n",
                            "Ca Ca ",
                            "Ca,421,mg/L\n",
                            "a,",
                            "|",
                            ";\t",
                            "( ",
                            "421 ",
                            "421-",
                            "± ",
                            "< ",
                            "n.d. ",
                            "\"",
                            "value,",
                            "value ",
                            "Element value\n",
                            "Ca: ",
                            "mg/L ",
                            "\u00a0",
                            "ä",
                            "1.",
                            "-",
                            "as "}) {
    std::string line;
    while (line.size() + std::string_view(piece).size() < 990)
      line += piece;
    for (const std::string& text : {filled(piece), filled("Ca " + line + '\n')}) {
      const auto begin = std::chrono::steady_clock::now();
      const ReadLot read = read_lot(text, "t", {});
      EXPECT_FALSE(read.lot) << piece;
      EXPECT_LE(read.errors.size(), 100U) << piece;
      EXPECT_LE(read.unread.size(), 100U) << piece;
      EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(10)) << piece;
    }
  }
  for (const std::string_view inside : {"", R"("assay": {"values": {)"}) {
    std::string text = fmt::format("{{ {}", inside);
    for (int i = 0; text.size() + 40 <= largest_analysis; ++i)
      text += fmt::format("{}\"Calzium{}\": \"1 mg/L\"", i > 0 ? "," : "", i);
    text += inside.empty() ? "}" : "}}}";
    const auto begin = std::chrono::steady_clock::now();
    EXPECT_FALSE(read_lot(text, "t", {}).lot);
    EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(10));
  }
  for (const char* piece : {"[", "{\"a\":", "\"a\",", "1,", "\\\\", "\\\"", "{\"a\":1},"}) {
    std::string text = "{\"lot\": [\"";
    while (text.size() + 20 <= largest_analysis)
      text += piece;
    const auto begin = std::chrono::steady_clock::now();
    EXPECT_FALSE(read_lot(text, "t", {}).lot) << piece;
    EXPECT_LT(std::chrono::steady_clock::now() - begin, std::chrono::seconds(10)) << piece;
  }
}

TEST(HostileLot, ManyEmptyLinesAreNoProblemOfTheirOwn) {
  std::string text = "Lot: H-2291\nSalinity: 35 ppt\nCa 421 mg/L\n";
  text.resize(largest_analysis, '\n');
  EXPECT_TRUE(read_lot(text, "t", {}).lot);
}

}  // namespace
}  // namespace brinegate::config
