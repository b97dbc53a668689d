// SPDX-License-Identifier: Apache-2.0
// One row an error: how the valid cellar is spoiled, where the error must stand, what it must say.
// Each must be the only error, so that one slip never brings a train of others.
#include <fstream>
#include <ostream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include "config/load.h"
#include "tests/config/cellar.h"
#include "tests/temporary_folder.h"

namespace brinegate::config {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

struct Spoiled {
  std::string name;
  std::string from;
  std::string to;
  std::string at;  // the piece of the spoiled text at which the error must stand
  std::string says;
};

void PrintTo(const Spoiled& spoiled, std::ostream* out) {
  *out << spoiled.name;
}

std::string name_of(const ::testing::TestParamInfo<Spoiled>& spoiled) {
  return spoiled.param.name;
}

class LoadErrors : public ::testing::TestWithParam<Spoiled> {};

TEST_P(LoadErrors, AreNamedAtTheirPlaceWithWhatToWriteInstead) {
  const Spoiled& spoiled = GetParam();
  const std::string text = with(cellar, spoiled.from, spoiled.to);
  const Loaded loaded = load_text(text, "cellar.toml");
  EXPECT_FALSE(loaded.site);
  ASSERT_FALSE(loaded.errors.empty());
  for (std::size_t i = 1; i < loaded.errors.size(); ++i)
    ADD_FAILURE() << "unexpected: " << render(loaded.errors[i]);
  const Problem& error = loaded.errors.front();
  const Position expected = position_of(text, spoiled.at);
  EXPECT_EQ(error.line, expected.line) << render(error);
  EXPECT_EQ(error.column, expected.column) << render(error);
  EXPECT_THAT(error.message, HasSubstr(spoiled.says));
}

const Spoiled syntax[]{
    {"Syntax", "[mqtt]", "[/dev/ttyS0]", "/dev/ttyS0", "this is not TOML"},
    {"DuplicateKey", "circulate = \"45 min\"", "salinity = \"34 ppt\"", "\"34 ppt\"",
     "this is not TOML"},
    {"UnknownKey", "circulate =", "circulat =", "circulat =",
     "unknown key 'circulat' in profile.reef: did you mean 'circulate'?"},
    {"UnknownKeyWithoutNeighbour", "circulate =", "colour =", "colour =", "known are salinity, "},
    {"UnknownTable", "[mqtt]", "[webserver]\nx = 1\n[mqtt]", "webserver]",
     "unknown table 'webserver': known are site, data, "},
    {"UnknownKeyInASource", "every = \"2 s\"", "evry = \"2 s\"", "evry",
     "unknown key 'evry' in station.mixer.probe.height.source: did you mean 'every'?"},
    {"MissingKey", "capacity = \"200 L\"\n", "", "[station.mixer]",
     "'capacity' is missing in station.mixer: write for example capacity = \"200 L\""},
    {"MissingTable", "data = \"record\"\n", "", "site =", "'data' is missing"},
    {"WrongType", "timeout = \"300 ms\"", "timeout = 300", "300\n",
     "'timeout' is a whole number: expected text with a unit, such as timeout = \"300 ms\""},
    {"TextForNumber", "unit = 1, input", "unit = \"1\", input", "\"1\", input",
     "'unit' is text: expected a whole number"},
    {"TextForTable",
     "output = { link = \"rack\", unit = 2, coil = 0, timed = { holding = 16, step "
     "= \"100 ms\" } }",
     "output = \"rack\"", "\"rack\"\nsecond",
     "'station.mixer.pump.output' is text: expected a table"},
    {"DateForText", "circulate = \"45 min\"", "circulate = 2024-01-01", "2024-01-01",
     "'circulate' is a date or time"},
    {"EmptyText", "data = \"record\"", "data = \"\"", "\"\"", "it is empty"},
    {"MissingUnit", "salinity = \"35 ppt\"", "salinity = \"35\"", "\"35\"", "has no unit"},
    {"WrongUnit", "capacity = \"200 L\"", "capacity = \"200 kg\"", "\"200 kg\"", "'capacity': "},
    {"SiteName", "site = \"cellar\"", "site = \"Cellar 1\"", "\"Cellar 1\"",
     "'Cellar 1' cannot name a site: write up to 64 of a-z, 0-9, '_' and '-'"},
    {"ProbeName", "[station.mixer.probe.floor]", "[station.mixer.probe.Floor]", "Floor]",
     "'Floor' cannot name a probe"},
    {"ReservedProbeName", "[station.mixer.probe.floor]", "[station.mixer.probe.readback]",
     "readback]", "choose another"},
};
INSTANTIATE_TEST_SUITE_P(Syntax, LoadErrors, ::testing::ValuesIn(syntax), name_of);

const Spoiled ranges[]{
    {"TemperaturesFall", "[\"24 C\", \"26 C\"]", "[\"26 C\", \"24 C\"]", "[\"26 C\"",
     "'temperature' must rise: write the lower value first"},
    {"OneTemperature", "[\"24 C\", \"26 C\"]", "[\"24 C\"]", "[\"24 C\"]",
     "expected a list of the lowest and the highest"},
    {"ToleranceZero", "tolerance = \"1 ppt\"", "tolerance = \"0 ppt\"", "\"0 ppt\"",
     "out of range: write a value from \"0.01 PSU\" to \"10 PSU\""},
    {"ToleranceNegative", "tolerance = \"1 ppt\"", "tolerance = \"-1 ppt\"", "\"-1 ppt\"",
     "out of range"},
    {"ToleranceToFreshWater", "\"35 ppt\"\ntolerance = \"1 ppt\"",
     "\"9 PSU\"\ntolerance = \"9.5 PSU\"", "\"9.5 PSU\"", "reaches down to fresh water"},
    {"SalinityBeyondTheEquation", "salinity = \"35 ppt\"", "salinity = \"43 PSU\"", "\"43 PSU\"",
     "from \"1 PSU\" to \"42 PSU\""},
    {"KeepEndsBeforeCirculate", "circulate = \"45 min\"", "circulate = \"2 h\"\nkeep = \"1 h\"",
     "\"1 h\"", "'keep' ends before 'circulate' does"},
    {"DissolvingUsesUpTheTolerance", "circulate = \"45 min\"", "still_to_dissolve = \"1 PSU\"",
     "\"1 PSU\"", "'still_to_dissolve' would use up the whole tolerance"},
    {"LeaseTooShort", "max_run =", "lease = \"0.5 s\"\nmax_run =", "\"0.5 s\"",
     "write a value from \"1 s\" to \"60 s\""},
    {"LeaseTooLong", "max_run =", "lease = \"61 s\"\nmax_run =", "\"61 s\"",
     "write a value from \"1 s\" to \"60 s\""},
    {"VolumeBeyondTheReservoir", "max_volume = \"60 L\"", "max_volume = \"181 L\"", "\"181 L\"",
     "more than the reservoir holds above its low level"},
    {"LowLevelAtCapacity", "low_level = \"20 L\"", "low_level = \"200 L\"", "\"200 L\"\n\n",
     "'low_level' is not below the capacity"},
    {"UnaskedLossIsEverything", "max_run =", "unasked_loss = \"200 L\"\nmax_run =",
     "\"200 L\"\nmax", "no loss would ever be an alarm"},
    {"StaleBeforeTwoReadings", "every = \"2 s\" }", "every = \"2 s\" }\nstale_after = \"3.9 s\"",
     "\"3.9 s\"", "'stale_after' is shorter than two readings"},
    {"FlatLineBeforeStale", "stale_after = \"30 s\"",
     "stale_after = \"30 s\"\nflat_line_after = \"20 s\"", "\"20 s\"",
     "'flat_line_after' is no longer than 'stale_after'"},
    {"RangeFalls", "stale_after = \"30 s\"", "range = [\"30 C\", \"20 C\"]", "[\"30 C\"",
     "'range' must rise"},
    {"SpikeZero", "stale_after = \"30 s\"", "spike = \"0 C\"", "\"0 C\"", "must be more than 0"},
    {"UncertaintyZero", "stale_after = \"30 s\"", "uncertainty = \"0 C\"", "\"0 C\"",
     "no instrument is exact"},
    {"RiskOfAHalf", "circulate = \"45 min\"", "risk = \"50 %\"", "\"50 %\"", "to \"20 %\""},
    {"TableFalls", "[10, 22.4]", "[90, 22.4]", "[[0, 0]", "'table' must rise in both columns"},
    {"TableOfOneRow", "[[0, 0], [10, 22.4], [80, 200]]", "[[0, 0]]", "[[0, 0]]", "has one row"},
    {"TableOfTexts", "[10, 22.4]", "[\"10 cm\", 22.4]", "[\"10 cm\"",
     "expected rows of a height and its litres"},
    {"ScaleZero", "scale = 0.1", "scale = 0", "0, in = \"cm\"", "'scale' is 0"},
    {"ScaleInfinite", "scale = 0.1", "scale = inf", "inf,", "expected a finite number"},
    {"LeaseOfNoStep", "step = \"100 ms\"", "step = \"6 s\"", "{ link = \"rack\", unit = 2, coil",
     "a lease of 5 s is 0 steps"},
    {"ReadbackAskedTooSeldom", "discrete = 0 }", "discrete = 0, every = \"3 s\" }",
     "{ link = \"rack\", unit = 2, discrete = 0", "too seldom to follow"},
};
INSTANTIATE_TEST_SUITE_P(Ranges, LoadErrors, ::testing::ValuesIn(ranges), name_of);

const Spoiled registers[]{
    {"UnitZero", "unit = 1, input", "unit = 0, input", "0, input",
     "'unit' 0 speaks to every device at once"},
    {"UnitTooLarge", "unit = 1, input", "unit = 248, input", "248, input", "from 1 to 247"},
    {"AddressTooLarge", "input = 10", "input = 65536", "65536", "from 0 to 65535"},
    {"OrderMissing", "order = \"CDAB\", ", "", "\"float32\"",
     "a 32-bit value has no default order"},
    {"OrderOfSixteenBits", "as = \"int16\"", "as = \"int16\", order = \"ABCD\"", "\"ABCD\"",
     "'order' does not belong here"},
    {"EncodingMissing", "as = \"int16\", ", "", "{ link = \"rack\", unit = 1, holding",
     "'as' is missing"},
    {"EncodingUnknown", "as = \"int16\"", "as = \"in16\"", "\"in16\"", "did you mean 'int16'?"},
    {"EncodingOfABit", "discrete = 2,", "discrete = 2, as = \"uint16\",", "\"uint16\"", "one bit"},
    {"NumberFromABit", "holding = 4, as = \"int16\"", "coil = 4", "4, scale",
     "one bit cannot tell a level"},
    {"NoRegister", "holding = 4, ", "", "{ link = \"rack\", unit = 1, as",
     "write one of coil, discrete, input, holding"},
    {"TwoRegisters", "holding = 4,", "input = 3, holding = 4,", "4, as", "keep one"},
    {"LastRegisterOf32Bits", "input = 10", "input = 65535", "{ link = \"rack\", unit = 1, input",
     "needs two registers"},
    {"OneRegisterForTwoProbes", "holding = 4, as = \"int16\"", "input = 11, as = \"int16\"",
     "{ link = \"rack\", unit = 1, input = 11", "read the same register of unit 1 on link.rack"},
    {"OneValueForTwoProbes",
     "{ link = \"rack\", unit = 1, holding = 4, as = \"int16\", scale = 0.1, in = \"cm\", every = "
     "\"2 s\" }",
     "{ topic = \"cellar/bath\", pointer = \"/celsius\", in = \"cm\" }",
     "{ topic = \"cellar/bath\", pointer = \"/celsius\", in = \"cm\"",
     "another probe reads \"/celsius\" of \"cellar/bath\" already"},
    {"OneCoilForTwoOutputs",
     "{ topic = \"cellar/socket/set\", on = \"on {seconds}\", off = "
     "\"off\" }",
     "{ link = \"rack\", unit = 2, coil = 0 }", "0 }\nreadback", "switch the same coil of unit 2"},
    {"NoUnitOfTheNumber", ", in = \"F\"", "", "{ topic = \"cellar/bath\"", "'in' is missing"},
    {"UnitOfSomethingElse", "in = \"F\"", "in = \"mS/cm\"", "\"mS/cm\"",
     "is not a unit of a temperature: write one of C, °C, F, °F, K"},
    {"HeightWithoutTable", "table = [[0, 0], [10, 22.4], [80, 200]]\n", "", "\"cm\"",
     "is not a unit of a level: write one of L, mL, m3"},
    {"UnitOfAContact", "closed_means = \"dry\"", "closed_means = \"dry\", in = \"C\"", "\"C\" }",
     "a contact is closed or open"},
    {"PolarityMissing", ", closed_means = \"dry\"", "", "{ link = \"rack\", unit = 2, discrete = 2",
     "write closed_means = \"wet\" or \"dry\""},
    {"PolarityOfAnother", "\"dry\"", "\"running\"", "\"running\"", "known are wet, dry"},
};
INSTANTIATE_TEST_SUITE_P(Registers, LoadErrors, ::testing::ValuesIn(registers), name_of);

const Spoiled names[]{
    {"ProfileUnknown", "profile = \"reef\"", "profile = \"reeef\"", "\"reeef\"",
     "there is no [profile.reeef]: did you mean 'reef'?"},
    {"LinkUnknown", "link = \"rack\", unit = 1, input", "link = \"rak\", unit = 1, input",
     "\"rak\"", "there is no [link.rak]: did you mean 'rack'?"},
    {"TemperatureFromNothing", "temperature_from = \"bath\"", "temperature_from = \"bth\"",
     "\"bth\"", "names no probe of this station: 'bth'; did you mean 'bath'?"},
    {"TemperatureFromALevel", "temperature_from = \"bath\"", "temperature_from = \"height\"",
     "\"height\"", "which measures level: name a probe that measures temperature; known is bath"},
    {"TemperatureFromMissing", "temperature_from = \"bath\"\n", "", "[station.mixer.probe.zz_cell]",
     "'temperature_from' is missing"},
    {"TemperatureOfATemperature", "stale_after = \"30 s\"", "temperature_from = \"bath\"",
     "\"bath\"\n\n[station.mixer.probe.height]", "only a conductivity needs a temperature"},
    {"MeasuresUnknown", "measures = \"leak\"", "measures = \"leek\"", "\"leek\"",
     "did you mean 'leak'?"},
    {"GravityOfALevel", "table =", "gravity = \"25/25\"\ntable =", "\"25/25\"",
     "only a specific gravity"},
    {"AlphaOfAnUncompensatedCell", "temperature_from = \"bath\"",
     "temperature_from = \"bath\"\nalpha = \"2 %\"", "\"2 %\"",
     "only a compensated-conductivity is compensated"},
    {"RangeOfAContact", "closed_means = \"dry\" }",
     "closed_means = \"dry\" }\nrange = [\"0 L\", \"1 L\"]", "[\"0 L\"", "a contact is 0 or 1"},
    {"TwoKindsOfSource", "topic = \"cellar/bath\"", "topic = \"cellar/bath\", link = \"rack\"",
     "{ topic = \"cellar/bath\"", "more than one of link (Modbus), topic (MQTT)"},
    {"NoKindOfSource", "topic = \"cellar/bath\", ", "", "{ pointer", "has none of link (Modbus)"},
    {"TimeWithoutPointer", "pointer = \"/celsius\", ", "", "\"/time\"", "write pointer too"},
    {"PointerWithoutSlash", "\"/celsius\"", "\"celsius\"", "\"celsius\"", "is no JSON pointer"},
    {"TopicWithWildcard", "topic = \"cellar/bath\"", "topic = \"cellar/+\"", "\"cellar/+\"",
     "without the wildcards"},
    {"OnIsOff", "on = \"on {seconds}\"", "on = \"off\"", "\"off\" }", "never be stopped"},
    {"PasswordWithoutUser", "broker =", "password_file = \"p\"\nbroker =", "\"p\"",
     "'password_file' without 'username'"},
    {"AuthoritiesWithoutTls", "broker =", "ca_file = \"ca.pem\"\nbroker =", "\"ca.pem\"",
     "'ca_file' without TLS"},
    {"DiscoveryPrefixWithWildcard",
     "broker =", "discovery_prefix = \"home/#\"\nbroker =", "\"home/#\"", "without the wildcards"},
    {"DiscoveryPrefixWithSlash", "broker =", "discovery_prefix = \"home/\"\nbroker =", "\"home/\"",
     "begins or ends with a slash"},
    {"BirthTopicWithWildcard", "broker =", "birth_topic = \"+/status\"\nbroker =", "\"+/status\"",
     "'birth_topic': \"+/status\" cannot be used"},
    {"ChangeButtonAboveTheMaximum", "max_run =", "change_button = \"61 L\"\nmax_run =", "\"61 L\"",
     "write 60.0 L or less"},
    {"ChangeButtonOfAPumpThatNeedsNone",
     "max_run =", "permit = \"while proven\"\nchange_button = \"5 L\"\nmax_run =", "\"5 L\"",
     "'change_button' does not belong here"},
    {"BrokerWithoutScheme", "mqtt://hub.example", "hub.example", "\"hub.example\"",
     "write \"mqtt://HOST:1883\""},
    {"LinkAddress", "modbus-tcp://192.0.2.10:1502", "tcp://192.0.2.10",
     "\"tcp:", "write \"modbus-tcp://HOST:502\""},
    {"LinkPort", "192.0.2.10:1502", "192.0.2.10:70000", "\"modbus-tcp", "is no address"},
    {"SerialSetting", "parity=none", "parity=no", "\"modbus-rtu", "\"parity=no\" is not a serial"},
    {"SerialDevice", "modbus-rtu:///dev/ttyUSB0", "modbus-rtu://ttyUSB0", "\"modbus-rtu",
     "must be a full path"},
    {"TwoLinksOnOneAddress", "modbus-rtu:///dev/ttyUSB0?baud=9600&parity=none",
     "modbus-tcp://192.0.2.10:1502", "\"modbus-tcp://192.0.2.10:1502\"\n\n",
     "'address' is that of link.rack already"},
    {"HttpOnAName", "[mqtt]", "[http]\nlisten = \"cellar.example:8480\"\n[mqtt]",
     "\"cellar.example:8480\"", "is no address of this computer"},
    {"HttpPort", "[mqtt]", "[http]\nlisten = \"127.0.0.1:0\"\n[mqtt]", "\"127.0.0.1:0\"",
     "is no address of this computer"},
    {"HttpForOthersWithoutToken", "[mqtt]", "[http]\nlisten = \"0.0.0.0:8480\"\n[mqtt]",
     "\"0.0.0.0:8480\"", "there is no 'token_file'"},
    {"HttpHostWithPort", "[mqtt]", "[http]\nhosts = [\"cellar.example:8480\"]\n[mqtt]",
     "\"cellar.example:8480\"", "without port"},
    {"PumpWithoutLimit", "max_run = \"15 min\"\n", "", "[station.mixer.pump]",
     "'max_run' is missing"},
    {"ReadbackTimeWithoutReadback", "readback = { link = \"rack\", unit = 2, discrete = 0 }",
     "readback_within = \"5 s\"", "\"5 s\"", "there is no 'readback'"},
};
INSTANTIATE_TEST_SUITE_P(Names, LoadErrors, ::testing::ValuesIn(names), name_of);

// Several lines at once, hence not in the tables above.
constexpr std::string_view height_probe = R"([station.mixer.probe.height]
measures = "level"
source = { link = "rack", unit = 1, holding = 4, as = "int16", scale = 0.1, in = "cm", every = "2 s" }
table = [[0, 0], [10, 22.4], [80, 200]]
)";

std::vector<std::string> messages(const std::string& text) {
  std::vector<std::string> result;
  for (const Problem& error : load_text(text, "cellar.toml").errors)
    result.push_back(error.message);
  return result;
}

TEST(LoadErrorsOfSeveralLines, NamesAPumpWhoseChangeNothingCouldEnd) {
  EXPECT_THAT(messages(with(cellar, height_probe, "")),
              ElementsAre(HasSubstr("nothing could end a change at its volume")));
}

TEST(LoadErrorsOfSeveralLines, NamesAStationWithoutAProbeThatTellsTheSalinity) {
  const std::size_t begin = cellar.find("[station.mixer.probe.zz_cell]");
  const std::size_t end = cellar.find("[station.mixer.probe.bath]");
  EXPECT_THAT(messages(with(cellar, cellar.substr(begin, end - begin), "")),
              ElementsAre(HasSubstr("has no probe that tells the salinity")));
}

TEST(LoadErrorsOfSeveralLines, NamesTopicsWithoutABroker) {
  EXPECT_THAT(
      messages(with(cellar, "[mqtt]\nbroker = \"mqtt://hub.example\"\n", "")),
      ElementsAre(HasSubstr("'topic' needs a broker"), HasSubstr("'topic' needs a broker")));
}

// For a file: of a password that others may read it is too late to say so as a hazard only.
TEST(LoadErrorsOfSeveralLines, RefusesAPasswordFileThatIsOpenToOthersThanItsOwner) {
  const TemporaryFolder folder;
  const std::string file = folder.file("password");
  std::ofstream(file) << "invented";
  const std::string text = with(
      cellar, "broker =", "username = \"brinegate\"\npassword_file = \"" + file + "\"\nbroker =");
  for (const mode_t open_to_others : {0644U, 0640U, 0620U, 0601U}) {
    ASSERT_EQ(::chmod(file.c_str(), open_to_others), 0);
    EXPECT_THAT(messages(text), ElementsAre(HasSubstr("chmod 600 it")));
  }
  for (const mode_t closed : {0600U, 0400U}) {
    ASSERT_EQ(::chmod(file.c_str(), closed), 0);
    EXPECT_THAT(messages(text), ElementsAre());
  }
}

TEST(LoadErrorsOfSeveralLines, NamesEachMissingPartOfAnEmptyFile) {
  EXPECT_THAT(messages(""),
              ElementsAre(HasSubstr("'site' is missing"), HasSubstr("'data' is missing"),
                          HasSubstr("'profile' is missing"), HasSubstr("'station' is missing")));
}

TEST(LoadErrorsOfSeveralLines, NamesASpecificGravityWithoutItsTemperaturesOrWithUnfitOnes) {
  const auto hydrometer = [](const std::string& more) {
    return messages(with(cellar, height_probe,
                         std::string(height_probe) +
                             "[station.mixer.probe.hydrometer]\nmeasures = \"specific-gravity\"\n"
                             "source = { command = [\"read\"] }\n" +
                             more));
  };
  EXPECT_THAT(hydrometer(""), ElementsAre(HasSubstr("'gravity' is missing")));
  EXPECT_THAT(hydrometer("gravity = \"t/4\"\n"), ElementsAre(HasSubstr("not two temperatures")));
  EXPECT_THAT(hydrometer("gravity = \"20/20\"\n"), ElementsAre());
}

}  // namespace
}  // namespace brinegate::config
