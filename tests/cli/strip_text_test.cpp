// SPDX-License-Identifier: Apache-2.0
#include "daemon/strip_text.h"

#include <cstdlib>
#include <sstream>
#include <string>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include "daemon/command_text.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;

StripMark at(char letter, double value, std::string number) {
  return {letter, {value, value}, std::move(number)};
}

StripMark below(char letter, double limit, std::string number) {
  return {letter, {0.0, limit}, std::move(number)};
}

// Invented: a tank, a lot, and where a change of water with it lands.
const std::vector<StripGroup>& example() {
  static const std::vector<StripGroup> groups{
      {"Major ions",
       {{"Alkalinity",
         StripRange{7.0, 8.5},
         {},
         {at('T', 6.2, "6.2"), at('A', 6.6, "6.6"), at('L', 8.1, "8.1")},
         "7-8.5",
         "dKH"},
        {"Calcium",
         StripRange{400, 450},
         {},
         {at('T', 460, "460"), at('A', 472, "472"), at('L', 520, "520")},
         "400-450",
         "mg/L"},
        {"Strontium",
         StripRange{7.0, 9.0},
         {},
         {at('T', 8.0, "8.0"), at('A', 8.01, "8.0"), at('L', 8.2, "8.2")},
         "7-9",
         "mg/L"}}},
      {"Nutrients", {}},
      {"Trace elements",
       {{"Iron",
         StripRange{1.0, 5.0},
         {},
         {below('T', 2.0, "<2.0"), at('A', 3.0, "3.0"), at('L', 9.5, "9.5")},
         "1-5",
         "µg/L"}}},
      {"Contaminants",
       {{"Lead",
         {},
         {},
         {at('T', 3.0, "3.0"), at('A', 5.0, "5.0"), at('L', 12.0, "12")},
         "",
         "µg/L"},
        {"Copper",
         StripRange{0.0, 2.0},
         {},
         {at('T', 0.0, "0.0"), at('A', 6.0, "6.0"), at('L', 9.0, "9.0")},
         "up to 2",
         "µg/L"}}}};
  return groups;
}

TEST(Strips, ShowTankLotAndWhereTheChangeLandsAgainstTheBarOfWhatIsWanted) {
  EXPECT_EQ(strips_text(example(), "TLA", Glyphs::Unicode),
            "Major ions                                         T    L    A  wanted\n"
            "Alkalinity     ···T··A··[━━━━━━L━]·········      6.2  8.1  6.6   7-8.5 dKH\n"
            "Calcium        ·········[━━━━━━━━]·T··A····  L▸  460  520  472 400-450 mg/L\n"
            "Strontium      ·········[━━━TA━━━]·········      8.0  8.2  8.0     7-9 mg/L\n"
            "\n"
            "Trace elements                                     T    L    A  wanted\n"
            "Iron           ······╌╌╌╌╌T━A━━━━]·········  L▸ <2.0  9.5  3.0     1-5 µg/L\n"
            "\n"
            "Contaminants                                       T    L    A  wanted\n"
            "Lead           ·······T···A···············L      3.0   12  5.0         µg/L\n"
            "Copper         ·········T━━━━━━━━]········· AL▸  0.0  9.0  6.0 up to 2 µg/L\n");
}

TEST(Strips, SayTheSameWhereTheTerminalKnowsAsciiOnly) {
  EXPECT_EQ(strips_text(example(), "TLA", Glyphs::Ascii),
            "Major ions                                         T    L    A  wanted\n"
            "Alkalinity     ...T..A..[======L=].........      6.2  8.1  6.6   7-8.5 dKH\n"
            "Calcium        .........[========].T..A....  L>  460  520  472 400-450 mg/L\n"
            "Strontium      .........[===TA===].........      8.0  8.2  8.0     7-9 mg/L\n"
            "\n"
            "Trace elements                                     T    L    A  wanted\n"
            "Iron           ......-----T=A====].........  L> <2.0  9.5  3.0     1-5 µg/L\n"
            "\n"
            "Contaminants                                       T    L    A  wanted\n"
            "Lead           .......T...A...............L      3.0   12  5.0         µg/L\n"
            "Copper         .........T========]......... AL>  0.0  9.0  6.0 up to 2 µg/L\n");
}

// The line of one strip, up to its numbers.
std::string drawn(const Strip& strip) {
  const std::string text = strips_text({{"", {strip}}}, "", Glyphs::Ascii);
  return text.substr(text.find('\n') + 1, strip.name.size() + 1 + 36);
}

TEST(Strips, CountBothEndsOfTheRangeAsWanted) {
  const StripRange wanted{400, 450};
  EXPECT_EQ(drawn({"Ca", wanted, {}, {at('a', 400, ""), at('b', 450, "")}, "", ""}),
            "Ca     .........a========b.........    ");
  EXPECT_EQ(drawn({"Ca", wanted, {}, {at('a', 399.9, ""), at('b', 450.1, "")}, "", ""}),
            "Ca     ........a[========]b........    ");
}

TEST(Strips, PutWhatIsOffTheScaleBeyondItsEnd) {
  const StripRange wanted{400, 450};
  EXPECT_EQ(
      drawn({"Ca", wanted, {}, {at('a', 300, ""), at('b', 310, ""), at('c', 700, "")}, "", ""}),
      "Ca <ab .........[========].........  c>");
  EXPECT_EQ(drawn({"Ca",
                   wanted,
                   {},
                   {at('a', 700, ""), at('b', 700, ""), at('c', 700, ""), at('d', 700, "")},
                   "",
                   ""}),
            "Ca     .........[========].........ab+>")
      << "more than there is room for";
}

TEST(Strips, ShowTheFirstOfMarksThatMeet) {
  EXPECT_EQ(drawn({"Ca", StripRange{400, 450}, {}, {at('T', 420, ""), at('L', 421, "")}, "", ""}),
            "Ca     .........[===T====].........    ");
}

TEST(Strips, PutSeaWaterInTheMiddleWhereNothingIsWanted) {
  EXPECT_EQ(drawn({"Na", {}, 10781.0, {at('a', 9000, ""), at('b', 30000, "")}, "", ""}),
            "Na     ...........a.|..............  b>");
}

TEST(Strips, DrawARangeWithoutWidthAndOneAtZero) {
  EXPECT_EQ(drawn({"P", StripRange{10, 10}, {}, {at('T', 10, ""), at('L', 10.2, "")}, "", ""}),
            "P     .........[===T=L==].........    ");
  EXPECT_EQ(drawn({"P", StripRange{0, 0}, {}, {at('T', 0, ""), at('L', 3.0, "")}, "", ""}),
            "P     .........[===T====].........  L>");
}

double any_content() {
  return 1e-4 * *rc::gen::inRange(0, 2'000'000'000);
}

Strip any_strip(const std::string& letters) {
  Strip strip{"Molybdenum", {}, {}, {}, "", "µg/L"};
  if (*rc::gen::arbitrary<bool>()) {
    const double low = any_content();
    strip.wanted = StripRange{low, low + any_content()};
    strip.wanted_text = "1280-1380";
  }
  for (const char letter : letters) {
    const double high = any_content();
    const double low = *rc::gen::arbitrary<bool>() ? 0.0 : high;
    strip.marks.push_back(
        {letter, {low, high}, *rc::gen::element<std::string>("8.1", "<0.02", "10782")});
  }
  return strip;
}

RC_GTEST_PROP(Strips, KeepToTheTerminalWhateverTheNumbersAre, ()) {
  const auto letters = std::string("TabcA").substr(0, *rc::gen::inRange<std::size_t>(0, 6));
  const std::vector<StripGroup> groups{
      {"Major ions", {any_strip(letters), any_strip(letters), any_strip(letters)}}};
  for (const Glyphs glyphs : {Glyphs::Unicode, Glyphs::Ascii}) {
    std::istringstream lines(strips_text(groups, letters, glyphs));
    for (std::string line; std::getline(lines, line);)
      RC_ASSERT(columns_of(line) <= terminal_columns);
  }
}

class Locale : public testing::Test {
 protected:
  Locale() {
    for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"})
      unsetenv(name);
  }
};

TEST_F(Locale, DecidesWhetherTheTerminalKnowsMoreThanAscii) {
  EXPECT_EQ(glyphs_of_environment(), Glyphs::Ascii);
  setenv("LANG", "de_DE.UTF-8", 1);
  EXPECT_EQ(glyphs_of_environment(), Glyphs::Unicode);
  setenv("LC_CTYPE", "C.utf8", 1);
  EXPECT_EQ(glyphs_of_environment(), Glyphs::Unicode);
  setenv("LC_ALL", "C", 1);
  EXPECT_EQ(glyphs_of_environment(), Glyphs::Ascii);
}

}  // namespace
}  // namespace brinegate::daemon
