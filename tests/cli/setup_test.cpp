// SPDX-License-Identifier: Apache-2.0
// The first start: what the numbers found may mean, what the answers become, and the conversation
// through a pipe, without any device. With devices: tests/system/first_start_test.py.
#include <filesystem>
#include <fstream>
#include <sstream>

#include <fmt/format.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "config/cautions.h"
#include "config/load.h"
#include "config/measured.h"
#include "daemon/found_numbers.h"
#include "daemon/setup_answers.h"
#include "tests/cli/run_cli.h"
#include "tests/temporary_folder.h"
#include "tests/uniform.h"

namespace brinegate::daemon {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

// "input 0 float32 ABCD: conductivity 53 mS/cm", of all that is plausible.
std::vector<std::string> plausible(const std::vector<FoundNumber>& numbers) {
  std::vector<std::string> texts;
  for (const FoundNumber& number : numbers)
    for (const Meaning& meaning : meanings_of(number))
      if (meaning.measures != Measures::Level)
        texts.push_back(fmt::format("{}: {} {:.4g} {}", number.where,
                                    config::word_for(meaning.measures), meaning.value, meaning.in));
  return texts;
}

drivers::FoundUnit unit_with(config::ModbusTable table, std::vector<std::uint16_t> words) {
  return {1, {{table, 0, std::move(words)}}};
}

// 53.0 is 42 54 00 00 as a float of IEEE 754.
TEST(FoundNumbers, KnowAFloatInTheOrderInWhichItWasSentAndInNoOther) {
  using config::ModbusTable;
  EXPECT_THAT(plausible(numbers_of(unit_with(ModbusTable::Input, {0x4254, 0x0000}), "line")),
              ElementsAre("unit 1 input 0 uint16: conductivity 1.698e+04 uS/cm",
                          "unit 1 input 0 float32 ABCD: conductivity 53 mS/cm"));
  EXPECT_THAT(plausible(numbers_of(unit_with(ModbusTable::Holding, {0x0000, 0x5442}), "line")),
              ElementsAre("unit 1 holding 0 float32 DCBA: conductivity 53 mS/cm",
                          "unit 1 holding 1 uint16: conductivity 2.157e+04 uS/cm"));
}

TEST(FoundNumbers, OfSixteenBitsMayBeTenthsOrHundredths) {
  const auto numbers = numbers_of(unit_with(config::ModbusTable::Input, {0xFFFE, 2491}), "line");
  EXPECT_THAT(plausible(numbers), ElementsAre("unit 1 input 0 uint16: conductivity 6.553e+04 uS/cm",
                                              "unit 1 input 1 uint16: conductivity 24.91 mS/cm",
                                              "unit 1 input 1 uint16: salinity 24.91 ppt",
                                              "unit 1 input 1 int16: temperature 24.91 C"));
  EXPECT_EQ(numbers.front().raw, "FFFE");
}

TEST(FoundNumbers, OfAMessageAreFoundWithTheTimeBesideThem) {
  const auto numbers = numbers_of(drivers::HeardTopic{
      "cellar/bath", R"({"temperature_c": 24.91, "time": "2030-12-20T12:26:40Z", "n": [9000]})", 1,
      false});
  ASSERT_EQ(numbers.size(), 2U);
  EXPECT_EQ(numbers[1].where, "cellar/bath /temperature_c");
  const auto meanings = meanings_of(numbers[1]);
  ASSERT_FALSE(meanings.empty());
  EXPECT_EQ(source_of(numbers[1], meanings[1]),
            R"({ topic = "cellar/bath", pointer = "/temperature_c", time = "/time", in = "C" })");
  EXPECT_THAT(numbers_of(drivers::HeardTopic{"a", "no number", 1, false}), IsEmpty());
}

TEST(FoundNumbers, NothingIsPlausibleOfZerosAndOfNoValue) {
  // 7F C0 00 00 is not a number by IEEE 754.
  const auto numbers = numbers_of(unit_with(config::ModbusTable::Input, {0, 0, 0x7FC0, 0}), "line");
  for (const FoundNumber& number : numbers) {
    if (number.encoding != config::ModbusEncoding::Float32)
      continue;
    EXPECT_TRUE(meanings_of(number).empty()) << number.where;
  }
}

SetupProbe probe(std::string name, Measures measures, std::string source) {
  return {std::move(name), measures, std::move(source), {}, {}, {}};
}

// What is proposed for a number, read by the loader, means of that number what was said of it.
RC_GTEST_PROP(FoundNumbers, MeanInTheConfigurationWhatWasSaidOfThem, ()) {
  const auto words = *rc::gen::container<std::vector<std::uint16_t>>(
      2, rc::gen::oneOf(rc::gen::arbitrary<std::uint16_t>(),
                        rc::gen::element<std::uint16_t>(0x4254, 0x5442, 252, 3500, 0x41C7)));
  for (const FoundNumber& number :
       numbers_of(unit_with(config::ModbusTable::Holding, words), setup_line_name)) {
    for (Meaning meaning : meanings_of(number)) {
      meaning.in = meaning.measures == Measures::Level ? "L" : meaning.in;
      SetupAnswers answers;
      answers.line = SetupLine{"modbus-tcp://192.0.2.10:502", false};
      answers.capacity = "100000 L";
      answers.probes = {probe(std::string(setup_thermometer), Measures::Temperature,
                              R"({ command = ["read-bath"], in = "C" })"),
                        probe("other", meaning.measures, source_of(number, meaning))};
      const auto loaded = loaded_from(answers, "cellar.toml");
      RC_ASSERT(loaded.site.has_value());
      const auto& station = loaded.site->stations.front();
      const auto& source = std::get<config::ModbusSource>(station.sources[1]);
      RC_ASSERT(source.encoding == number.encoding);
      const auto in_units =
          meaning.measures == Measures::Level
              ? Result<double>(meaning.value)
              : config::parse_measured(meaning.measures,
                                       fmt::format("{} {}", meaning.value, meaning.in));
      RC_ASSERT(std::abs(converted(station.spec.probes[1].conversion, number.value) - *in_units) <
                1e-6);
    }
  }
}

SetupAnswers cellar() {
  SetupAnswers answers;
  answers.site = "cellar";
  answers.line = SetupLine{"modbus-tcp://192.0.2.10:502", false};
  answers.broker = SetupBroker{"mqtt://hub.example", "", "", ""};
  answers.probes = {
      probe(std::string(setup_thermometer), Measures::Temperature,
            R"({ topic = "cellar/bath", in = "C" })"),
      probe("cell_a", Measures::Conductivity,
            R"({ link = "line", unit = 1, input = 0, as = "float32", order = "ABCD", )"
            R"(in = "mS/cm" })"),
      probe("height", Measures::Level,
            R"({ link = "line", unit = 1, holding = 4, as = "uint16", in = "mm" })")};
  answers.probes.back().table = "0 0, 800 200";
  answers.pump.emplace();
  answers.pump->max_volume = "40 L";
  return answers;
}

RC_GTEST_PROP(SetupAnswers, AreFoundAgainInTheConfigurationThatTheyBecome, ()) {
  SetupAnswers answers = cellar();
  const double capacity = uniform(60.0, 5000.0);
  const double salinity = uniform(10.0, 40.0);
  answers.capacity = fmt::format("{:.3f} L", capacity);
  answers.salinity = fmt::format("{:.3f} PSU", salinity);
  SetupPump& pump = *answers.pump;
  const int coil = *rc::gen::inRange(0, 65536);
  const bool is_timed = *rc::gen::arbitrary<bool>();
  const bool is_read_back = *rc::gen::arbitrary<bool>();
  pump.on_broker = *rc::gen::arbitrary<bool>();
  pump.topic = "cellar/" + *rc::gen::container<std::string>(rc::gen::inRange<char>(' ', 0x7F));
  std::erase_if(pump.topic, [](char c) { return c == '+' || c == '#'; });  // wildcards
  pump.coil = std::to_string(coil);
  pump.timed = is_timed ? "16" : "";
  pump.readback = is_read_back ? "3" : "";
  const auto loaded = config::load_text(toml_of(answers), "cellar.toml");
  RC_ASSERT(loaded.errors.empty());
  const config::Station& station = loaded.site->stations.front();
  RC_ASSERT(std::abs(station.spec.capacity.value() - capacity) < 1e-3);
  RC_ASSERT(std::abs(loaded.site->profiles.front().target.value() - salinity) < 1e-3);
  RC_ASSERT(station.spec.probes[1].temperature_from == std::size_t{0});
  RC_ASSERT(converted(station.spec.probes[2].conversion, 400.0) == 100.0);
  if (pump.on_broker) {
    RC_ASSERT(std::get<config::MqttOutput>(station.pump->output.address).topic == pump.topic);
  } else {
    const auto& output = std::get<config::ModbusOutput>(station.pump->output.address);
    RC_ASSERT(output.coil == coil);
    RC_ASSERT(output.timed.has_value() == is_timed);
    RC_ASSERT(station.spec.pump->has_readback == is_read_back);
  }
}

// An answer is a value and nothing else, whatever it holds: refused, or found as it was given.
RC_GTEST_PROP(SetupAnswers, CannotSmuggleAnythingIntoTheConfiguration, ()) {
  const std::string text = *rc::gen::container<std::string>(rc::gen::oneOf(
      rc::gen::element('"', '\\', '\n', '=', '[', ']', '{', '}', '#', '\x7f', '\0', 'a'),
      rc::gen::arbitrary<char>()));
  SetupAnswers answers = cellar();
  std::string* const fields[]{&answers.site,
                              &answers.data,
                              &answers.line->address,
                              &answers.broker->address,
                              &answers.broker->username,
                              &answers.station,
                              &answers.capacity,
                              &answers.coldest,
                              &answers.probes[2].table,
                              &answers.probes[2].stale_after,
                              &answers.pump->unit,
                              &answers.pump->timed,
                              &answers.pump->max_run};
  *fields[*rc::gen::inRange<std::size_t>(0, std::size(fields))] = text;
  const auto loaded = config::load_text(toml_of(answers), "cellar.toml");
  if (!loaded.site)
    return;
  const config::Site& site = *loaded.site;
  RC_ASSERT(site.stations.size() == 1U && site.links.size() == 1U && !site.http);
  RC_ASSERT(site.stations.front().sources.size() == 3U);
  RC_ASSERT(site.name == answers.site);
  RC_ASSERT(site.data == answers.data);
  RC_ASSERT(site.mqtt->username == answers.broker->username);
  RC_ASSERT(site.stations.front().spec.name == answers.station);
}

std::string content_of(const std::string& file) {
  std::ostringstream text;
  text << std::ifstream(file).rdbuf();
  return text.str();
}

// No line and no broker: scripts read the probes.
std::string scripted_answers(const std::string& capacity) {
  return "cellar\nrecord\nno\n\n" + capacity +
         "\n"
         "\n\n\n\n"  // the usual profile
         "\n\n"      // neither line nor broker
         "{ command = [\"read-bath\"], in = \"C\" }\n"
         "\n"  // conductivity
         "{ command = [\"read-cell\"], in = \"mS/cm\" }\n"
         "\n"  // no second one
         "{ command = [\"read-height\"], in = \"cm\" }\n"
         "0 0, 80 200\n"
         "none\n";
}

TEST(Setup, WritesAConfigurationThatTheLoaderFindsValidAndSaysTheCautions) {
  const TemporaryFolder folder;
  const std::string file = folder.file("cellar.toml");
  const Said said = run_cli({"setup", file}, scripted_answers("200 L"));
  ASSERT_EQ(said.status, ExitStatus::Done) << said.err;
  const auto loaded = config::load_file(file);
  ASSERT_TRUE(loaded.site) << content_of(file);
  EXPECT_EQ(loaded.site->name, "cellar");
  EXPECT_EQ(loaded.site->data, folder.file("record"));
  const auto& station = loaded.site->stations.front();
  ASSERT_EQ(station.spec.probes.size(), 3U);
  EXPECT_EQ(station.spec.probes[1].measures, Measures::Conductivity);
  EXPECT_NEAR(converted(station.spec.probes[2].conversion, 40.0), 100.0, 1e-9);
  EXPECT_FALSE(station.pump);
  EXPECT_THAT(said.out, HasSubstr("not a certified safety device"));
  EXPECT_THAT(said.err, HasSubstr("hazard:"));
  EXPECT_THAT(said.out, HasSubstr("brinegate run --config " + file));
}

TEST(Setup, AsksAgainWithWhatIsWrongWithAnAnswer) {
  const TemporaryFolder folder;
  const std::string file = folder.file("cellar.toml");
  const Said said = run_cli({"setup", file}, scripted_answers("200\n1,000 L\n0 L\n200 L"));
  ASSERT_EQ(said.status, ExitStatus::Done) << said.err;
  EXPECT_THAT(said.out, HasSubstr("\"200\" has no unit"));
  EXPECT_THAT(said.out, HasSubstr("0.1 L"));
  EXPECT_EQ(config::load_file(file).site->stations.front().spec.capacity.value(), 200.0);
}

TEST(Setup, LeavesAFileThatExistsAloneAndAsksNothing) {
  const TemporaryFolder folder;
  const std::string file = folder.file("cellar.toml");
  std::ofstream(file) << "site = \"mine\"\n";
  const Said said = run_cli({"setup", file}, scripted_answers("200 L"));
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("never overwritten"));
  EXPECT_EQ(said.out, "");
  EXPECT_EQ(content_of(file), "site = \"mine\"\n");
}

TEST(Setup, NamesAFolderThatIsNotThereBeforeTheFirstQuestion) {
  const TemporaryFolder folder;
  const Said said = run_cli({"setup", folder.file("none/cellar.toml")}, "cellar\n");
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("No such file"));
  EXPECT_EQ(said.out, "");
}

// Wherever the answers end: no file, and an end.
TEST(Setup, WritesNothingWhenTheAnswersEndEarly) {
  const TemporaryFolder folder;
  const std::string file = folder.file("cellar.toml");
  const std::string answers = scripted_answers("200 L");
  for (std::size_t end = 0; end + 1 < answers.size(); ++end) {
    if (end > 0 && answers[end - 1] != '\n')
      continue;
    const Said said = run_cli({"setup", file}, answers.substr(0, end));
    EXPECT_EQ(said.status, ExitStatus::Refused);
    EXPECT_THAT(said.err, HasSubstr("nothing was written"));
    EXPECT_FALSE(std::filesystem::exists(file)) << end;
  }
}

TEST(Setup, WritesNothingWhereNothingTellsTheSalinity) {
  const TemporaryFolder folder;
  const std::string file = folder.file("cellar.toml");
  const Said said = run_cli({"setup", file}, "cellar\nrecord\nno\n\n200 L\n\n\n\n\n\n\n\n\n\n\n");
  EXPECT_EQ(said.status, ExitStatus::Refused);
  EXPECT_THAT(said.err, HasSubstr("no probe tells the salinity"));
  EXPECT_FALSE(std::filesystem::exists(file));
}

TEST(Find, NamesWhatIsNoAddressAndWhatIsNoSpan) {
  EXPECT_THAT(run_cli({"find", "rack"}).err, HasSubstr("modbus-tcp://HOST:502"));
  EXPECT_THAT(run_cli({"find", "mqtt://"}).err, HasSubstr("mqtt://HOST:1883"));
  for (const char* units : {"0-3", "3-1", "1-248", "1", "1-", "a-b", "1-3-5"}) {
    const Said said = run_cli({"find", "modbus-tcp://127.0.0.1:1", "--units", units});
    EXPECT_EQ(said.status, ExitStatus::Usage) << units;
    EXPECT_THAT(said.err, HasSubstr("1-247")) << units;
  }
  EXPECT_THAT(run_cli({"find", "modbus-tcp://127.0.0.1:1", "--registers", "0-200"}).err,
              HasSubstr("more than 125"));
}

TEST(Find, SaysThatNobodyIsThere) {
  const Said line = run_cli({"find", "modbus-tcp://127.0.0.1:1"});
  EXPECT_EQ(line.status, ExitStatus::Refused);
  EXPECT_THAT(line.err, HasSubstr("nobody answers there"));
  const Said broker = run_cli({"find", "mqtt://127.0.0.1:1"});
  EXPECT_EQ(broker.status, ExitStatus::Refused);
  EXPECT_THAT(broker.err, HasSubstr("nobody answers there"));
  const Said serial = run_cli({"find", "modbus-rtu:///dev/no-such-device"});
  EXPECT_EQ(serial.status, ExitStatus::Refused);
  EXPECT_THAT(serial.err, HasSubstr("no such serial device"));
}

}  // namespace
}  // namespace brinegate::daemon
