// SPDX-License-Identifier: Apache-2.0
// A profile's limits and hand tests: what they mean, and each slip named at its place.
#include <cmath>
#include <limits>
#include <ostream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/load.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

constexpr std::string_view last_line = R"(circulate = "45 min")";

std::string cellar_with(const std::string& line) {
  return with(cellar, last_line, std::string(last_line) + "\n" + line);
}

Profile profile_with(const std::string& line) {
  const Loaded loaded = load_text(cellar_with(line), "cellar.toml");
  for (const Problem& error : loaded.errors)
    ADD_FAILURE() << render(error);
  return loaded.site ? loaded.site->profiles.at(0) : Profile{};
}

// 1 dKH is 10 mg/L of CaO (DIN 38409-6), 0.3566 meq/L; water at the target of 35 g/kg has
// 1.0233 kg/L at 25 °C (TEOS-10).
TEST(LoadContents, ReadsLimitsAsContentsOfWaterAtTheTarget) {
  const Profile profile = profile_with(R"(limits = { alkalinity = ["7 dKH", "9 dKH"] })");
  const ContentRange range = profile.limits.at(Analyte::Alkalinity);
  EXPECT_NEAR(range.low, 7 * 0.3566 / 1.0233, 0.002);
  EXPECT_NEAR(range.high, 9 * 0.3566 / 1.0233, 0.002);
  EXPECT_TRUE(profile.hand_tests.empty());
}

TEST(LoadContents, LeavesAnEndOpenThatIsNotGiven) {
  const Profile profile =
      profile_with(R"(limits = { Cu = { to = "5 ug/L" }, Ca = { from = "400 mg/L" } })");
  EXPECT_EQ(profile.limits.at(Analyte::Copper).low, 0.0);
  EXPECT_NEAR(profile.limits.at(Analyte::Copper).high, 0.005 / 1.0233, 1e-5);
  EXPECT_NEAR(profile.limits.at(Analyte::Calcium).low, 400 / 1.0233, 0.1);
  EXPECT_EQ(profile.limits.at(Analyte::Calcium).high, std::numeric_limits<double>::infinity());
}

TEST(LoadContents, ReadsHandTestsApartFromLimits) {
  const Profile profile = profile_with(
      "hand_tests = { KH = [\"7 dKH\", \"9 dKH\"] }\nlimits = { Mg = { to = \"1400 mg/L\" } }");
  EXPECT_EQ(profile.hand_tests.size(), 1U);
  EXPECT_EQ(profile.hand_tests.count(Analyte::Alkalinity), 1U) << "by the name of a test kit";
  EXPECT_EQ(profile.limits.count(Analyte::Magnesium), 1U);
  EXPECT_EQ(profile.limits.size(), 1U);
}

struct Slip {
  std::string name;
  std::string line;
  std::string at;  // the piece at which the error must stand
  std::string says;
};

void PrintTo(const Slip& slip, std::ostream* out) {
  *out << slip.name;
}

class LoadContentsErrors : public ::testing::TestWithParam<Slip> {};

TEST_P(LoadContentsErrors, AreNamedAtTheirPlaceWithWhatToWriteInstead) {
  const Slip& slip = GetParam();
  for (const std::string key : {"limits", "hand_tests"}) {
    const std::string text = cellar_with(key + " = " + slip.line);
    const Loaded loaded = load_text(text, "cellar.toml");
    EXPECT_FALSE(loaded.site);
    ASSERT_EQ(loaded.errors.size(), 1U) << text;
    const Problem& error = loaded.errors.front();
    const Position expected = position_of(text, slip.at);
    EXPECT_EQ(error.line, expected.line) << render(error);
    EXPECT_EQ(error.column, expected.column) << render(error);
    EXPECT_THAT(error.message, HasSubstr(slip.says));
    EXPECT_THAT(render(error), HasSubstr("cellar.toml:" + std::to_string(expected.line)));
  }
}

const Slip slips[]{
    {"NotATable", R"("7 dKH")", R"("7 dKH")", "is text: expected a table with alkalinity ="},
    {"UnknownAnalyte", R"({ alkalinitty = ["7 dKH", "9 dKH"] })", "alkalinitty",
     "did you mean 'Alkalinity'?"},
    {"OneValue", R"({ alkalinity = "8 dKH" })", R"("8 dKH")", "'alkalinity' is text: expected"},
    {"OneOfTwo", R"({ alkalinity = ["8 dKH"] })", R"(["8 dKH"])", "'alkalinity' is"},
    {"Three", R"({ alkalinity = ["7 dKH", "8 dKH", "9 dKH"] })", R"(["7 dKH")", "'alkalinity' is"},
    {"NoLimit", "{ Cu = {} }", "{}", "'Cu' has no limit: expected"},
    {"UnknownEnd", R"({ Cu = { to = "5 ug/L", form = "0 ug/L" } })", "form",
     "did you mean 'from'?"},
    {"BareNumber", R"({ Cu = { to = 5 } })", "5 }", "expected text with a unit"},
    {"WithoutUnit", R"({ Cu = { to = "5" } })", R"("5")", "unit"},
    {"UnknownUnit", R"({ Cu = { to = "5 ug/pint" } })", R"("5 ug/pint")", "ug/pint"},
    {"BelowDetection", R"({ Cu = { to = "< 5 ug/L" } })", R"("< 5 ug/L")", "write it without '<'"},
    {"Falling", R"({ alkalinity = ["9 dKH", "7 dKH"] })", R"(["9 dKH")",
     "write the lower value first"},
    {"Empty", R"({ alkalinity = ["8 dKH", "8 dKH"] })", R"(["8 dKH")",
     "write the lower value first"},
    {"Twice", R"({ alkalinity = ["7 dKH", "9 dKH"], KH = ["7 dKH", "9 dKH"] })",
     "KH =", "is there twice: keep one"},
};

INSTANTIATE_TEST_SUITE_P(Slips, LoadContentsErrors, ::testing::ValuesIn(slips),
                         [](const auto& slip) { return slip.param.name; });

TEST(LoadContents, NamesEverySlipAtOnce) {
  const Loaded loaded = load_text(
      cellar_with(R"(limits = { Cu = { to = 5 }, Ca = ["9 mg/L"], Mg = ["2 mg/L", "1 mg/L"] })"),
      "cellar.toml");
  std::vector<std::string> messages;
  for (const Problem& error : loaded.errors)
    messages.push_back(error.message);
  EXPECT_THAT(messages, ElementsAre(HasSubstr("text with a unit"), HasSubstr("'Ca' is"),
                                    HasSubstr("lower value first")));
}

}  // namespace
}  // namespace brinegate::config
