// SPDX-License-Identifier: Apache-2.0
#include <fstream>
#include <set>
#include <sstream>

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "daemon/command_help.h"
#include "daemon/command_status_text.h"
#include "daemon/command_text.h"
#include "tests/cli/run_cli.h"
#include "tests/temporary_folder.h"

namespace brinegate::daemon {
namespace {

using testing::HasSubstr;

TEST(CommandLine, NamesWhatWasProbablyMeant) {
  EXPECT_THAT(run_cli({"salinty"}).err, HasSubstr("did you mean 'salinity'"));
  EXPECT_THAT(run_cli({"batch", "bgin"}).err, HasSubstr("did you mean 'begin'"));
  EXPECT_THAT(run_cli({"batch"}).err, HasSubstr("begin, note, test, waive, unwaive, abandon"));
  EXPECT_THAT(run_cli({"dose", "--watr", "1 L"}).err, HasSubstr("did you mean '--water'"));
}

TEST(CommandLine, EveryWrongUsageIsStatusTwoAndSilentOnOutput) {
  const std::vector<std::vector<std::string_view>> wrong{
      {},
      {"salinty"},
      {"find"},          // nowhere
      {"find", "rack"},  // no address
      {"setup"},         // no file
      {"batch"},
      {"batch", "begin"},                                // no station
      {"batch", "begin", "mixer"},                       // no lot
      {"batch", "note", "mixer"},                        // nothing to note
      {"probe", "verify", "mixer", "cell_a"},            // nothing shown
      {"change", "mixer"},                               // neither volume nor stop
      {"change", "mixer", "--volume", "4 L", "--stop"},  // both
      {"dose", "--target"},                              // no value
      {"dose", "--target", "--json"},                    // no value
      {"dose", "--json=yes"},                            // a switch
      {"status", "mixer", "other"},                      // too many
      {"dose", "--water", "1 L", "--water", "2 L"},      // twice
      {"change", "mixer", "--volume", "forty"},          // no quantity
      {"help", "salinty"}};
  for (const auto& words : wrong) {
    const Said said = run_cli(words);
    EXPECT_EQ(said.status, ExitStatus::Usage) << testing::PrintToString(words);
    EXPECT_EQ(said.out, "") << testing::PrintToString(words);
    EXPECT_NE(said.err, "") << testing::PrintToString(words);
  }
}

TEST(CommandLine, TheManualPageAndTheCompletionKnowEveryCommand) {
  const std::string manual = run_cli({"help", "--manual"}).out;
  const std::string completion = run_cli({"help", "--completion"}).out;
  for (const Command& command : commands()) {
    EXPECT_THAT(manual, HasSubstr(".SS brinegate " + std::string(command.words) + "\n"));
    EXPECT_THAT(completion, HasSubstr("[\"" + std::string(command.words) + "\"]=\"--help"));
  }
}

TEST(CommandLine, RemindsOfQuotesAroundAQuantity) {
  EXPECT_THAT(run_cli({"dose", "--water", "200", "L"}).err, HasSubstr("--water \"200 L\""));
}

TEST(CommandLine, TakesARepeatableOptionEveryTimeInItsOrder) {
  const CommandTable table{{.words = "mix",
                            .summary = {},
                            .operands = {},
                            .options = {{"lot", "NAME", "of the salt", true, true}},
                            .notes = {},
                            .run = nullptr}};
  const auto twice = parse_command_line(table, {"mix", "--lot", "H-2291", "--lot=H-2304"});
  ASSERT_TRUE(twice);
  EXPECT_THAT(twice->arguments.all("lot"), testing::ElementsAre("H-2291", "H-2304"));
  EXPECT_EQ(twice->arguments.option("lot"), "H-2291");
  EXPECT_FALSE(parse_command_line(table, {"mix"})) << "required all the same";
  EXPECT_THAT(help_of(table.front()), HasSubstr("--lot NAME..."));
}

TEST(CommandLine, TakesAValueThatBeginsWithADash) {
  const Said said =
      run_cli({"salinity", "--conductivity=28 mS/cm", "--temperature=-1 C", "--json"});
  EXPECT_EQ(said.status, ExitStatus::Done);
  EXPECT_DOUBLE_EQ(said.json().at("temperature_c").get<double>(), -1.0);
}

TEST(Help, HasEveryCommandAndFitsTheTerminal) {
  const Said all = run_cli({"--help"});
  EXPECT_EQ(all.status, ExitStatus::Done);
  std::set<std::string_view> seen;
  for (const Command& command : commands()) {
    EXPECT_TRUE(seen.insert(command.words).second) << command.words << " stands twice";
    EXPECT_THAT(all.out, HasSubstr(std::string(command.words)));
    std::vector<std::string_view> words{"help", command.words};
    const std::size_t space = command.words.find(' ');
    if (space != std::string_view::npos)
      words = {"help", command.words.substr(0, space), command.words.substr(space + 1)};
    const Said one = run_cli(words);
    EXPECT_EQ(one.status, ExitStatus::Done) << command.words;
    for (const Option& option : command.options)
      EXPECT_THAT(one.out, HasSubstr("--" + std::string(option.name)));
    std::istringstream lines(one.out);
    for (std::string line; std::getline(lines, line);)
      EXPECT_LE(line.size(), terminal_columns + 2) << line;  // a degree sign is two bytes
  }
}

TEST(ConfigCheck, NamesTheFileThatIsNotThere) {
  const Said said = run_cli({"config", "check", "no-such-file.toml"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("no-such-file.toml:1:1: "));
}

TEST(ConfigCheck, PlacesEveryErrorAndSaysTheSameInJson) {
  const TemporaryFolder folder;
  const std::string file = (folder.path() / "cellar.toml").string();
  std::ofstream(file) << "site = 3\nunknown = 1\n";
  const Said text = run_cli({"config", "check", file});
  const Said json = run_cli({"config", "check", file, "--json"});
  EXPECT_EQ(text.status, ExitStatus::Usage);
  EXPECT_EQ(json.status, ExitStatus::Usage);
  EXPECT_FALSE(json.json().at("valid").get<bool>());
  const auto errors = json.json().at("errors");
  ASSERT_GE(errors.size(), 2U);
  for (const auto& error : errors)
    EXPECT_THAT(text.err, HasSubstr(error.at("message").get<std::string>()));
  EXPECT_THAT(text.out, HasSubstr("cannot be used"));
}

TEST(AskingTheDaemon, SaysWhichConfigurationItTried) {
  const Said said = run_cli({"status", "--config", "no-such-file.toml"});
  EXPECT_EQ(said.status, ExitStatus::Usage);
  EXPECT_THAT(said.err, HasSubstr("no-such-file.toml"));
  EXPECT_THAT(said.err, HasSubstr("BRINEGATE_CONFIG"));
}

TEST(StationText, ReadsLikeAWorkPermit) {
  const auto station = nlohmann::ordered_json::parse(R"({
    "station": "mixer", "phase": "mixing", "gate": "shut",
    "headline": "Shut: still dissolving.",
    "checks": [
      {"id": "dissolved", "verdict": "waiting", "measured": "0.31 PSU", "needed": "at most 0.1 PSU",
       "since_s": 120, "sentence": "Wait until the salt is dissolved."},
      {"id": "no-leak", "verdict": "met", "measured": "dry", "needed": "dry", "since_s": 5,
       "sentence": "Never shown."}],
    "readings": {"cell_a": {"value": null, "unit": "mS/cm", "quality": "bad", "reason": "stale",
                            "verified": false}},
    "batch": {"lot": "H-2291", "salt_g": 7400.0, "circulated_s": 600, "proof": null},
    "alarms": []})");
  const std::string text = station_text(station);
  EXPECT_EQ(text.rfind("mixer: Shut: still dissolving.\n", 0), 0U) << text;
  EXPECT_THAT(text, HasSubstr("waiting  dissolved"));
  EXPECT_THAT(text, HasSubstr("needed: at most 0.1 PSU"));
  EXPECT_THAT(text, HasSubstr("Wait until the salt is dissolved."));
  EXPECT_THAT(text, testing::Not(HasSubstr("Never shown.")));
  EXPECT_THAT(text, HasSubstr("no value  bad: stale, not verified"));
  EXPECT_THAT(text, HasSubstr("7400 g"));
  EXPECT_THAT(text, testing::Not(HasSubstr("Alarms")));
}

TEST(Wrapping, BreaksAtSpacesAndIndentsWhatFollows) {
  const std::string text = wrapped(std::string(50, 'a') + " " + std::string(40, 'b'), 4, 0);
  EXPECT_EQ(text, std::string(50, 'a') + "\n    " + std::string(40, 'b') + "\n");
}

}  // namespace
}  // namespace brinegate::daemon
