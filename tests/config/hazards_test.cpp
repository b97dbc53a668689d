// SPDX-License-Identifier: Apache-2.0
// What a valid configuration is warned of, and where.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "config/load.h"
#include "tests/config/cellar.h"

namespace brinegate::config {
namespace {

using ::testing::AllOf;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;

std::vector<std::string> hazards(const std::string& text) {
  const Loaded loaded = load_text(text, "cellar.toml");
  std::vector<std::string> result;
  for (const Problem& problem : loaded.errors)
    ADD_FAILURE() << render(problem);
  for (const Problem& problem : loaded.hazards)
    result.push_back(render(problem));
  return result;
}

// That the spoiled cellar has the hazard, at this piece of the text, and the cellar itself has not.
void expect_hazard(std::string_view from, std::string_view to, std::string_view at,
                   const std::string& says) {
  const std::string text = with(cellar, from, to);
  const Position place = position_of(text, at);
  const std::string where =
      "cellar.toml:" + std::to_string(place.line) + ":" + std::to_string(place.column) + ": ";
  EXPECT_THAT(hazards(text), Contains(AllOf(HasSubstr(where), HasSubstr(says))));
  EXPECT_THAT(hazards(std::string(cellar)), Not(Contains(HasSubstr(says))));
}

TEST(Hazards, NameAnOutputThatStaysOnWhenTheDaemonDies) {
  expect_hazard(", timed = { holding = 16, step = \"100 ms\" }", "",
                "{ link = \"rack\", unit = 2, coil = 0",
                "the pump's output does not switch off by itself");
}

TEST(Hazards, NameAnMqttOutputWithoutSeconds) {
  expect_hazard("on {seconds}", "on", "{ topic = \"cellar/socket/set\"",
                "write {seconds} into 'on'");
}

TEST(Hazards, NameAnMqttSourceThatGivesNoTime) {
  expect_hazard(", time = \"/time\"", "", "[station.mixer.probe.bath]",
                "'bath' has no 'time' pointer");
}

TEST(Hazards, NameASenderWhoseIntervalIsNotTold) {
  expect_hazard("stale_after = \"30 s\"\n", "", "[station.mixer.probe.bath]",
                "'stale_after' is not written in station.mixer.probe.bath");
}

TEST(Hazards, NameACellWhoseFlatLineIsNeverLookedFor) {
  expect_hazard("temperature_from = \"bath\"",
                "temperature_from = \"bath\"\nflat_line_after = \"never\"", "\"never\"",
                "a probe that froze");
}

TEST(Hazards, NameALongLease) {
  expect_hazard("max_run =", "lease = \"11 s\"\nmax_run =", "[station.mixer.pump]",
                "a lease of 11 s");
}

TEST(Hazards, NameALinkThatMayOutwaitTheRenewalOfThePermit) {
  expect_hazard("timeout = \"300 ms\"", "timeout = \"2 s\"",
                "{ link = \"rack\", unit = 2, coil = 0", "shorten 'timeout'");
}

TEST(Hazards, NameTheProbesThatAreToBeVerified) {
  EXPECT_THAT(hazards(std::string(cellar)), Contains(HasSubstr("entry: zz_cell, height, floor;")));
  EXPECT_THAT(
      hazards(with(cellar, "timeout = \"300 ms\"", "timeout = \"300 ms\"\nsimulated = true")),
      Not(Contains(HasSubstr("to be verified"))));
}

TEST(Hazards, NameAMissingReadback) {
  expect_hazard("readback = { link = \"rack\", unit = 2, discrete = 0 }\n", "",
                "[station.mixer.pump]", "no 'readback'");
}

TEST(Hazards, NameAMissingLeakProbe) {
  expect_hazard(
      "measures = \"leak\"\nsource = { link = \"rack\", unit = 2, discrete = 2, "
      "closed_means = \"dry\" }",
      "measures = \"running\"\nsource = { link = \"rack\", unit = 2, discrete = 2, "
      "closed_means = \"running\" }",
      "[station.mixer]", "no probe measures leak");
}

TEST(Hazards, NameWhatOneCellAndNoCirculationProbeLeaveUnknown) {
  EXPECT_THAT(hazards(std::string(cellar)), Contains(HasSubstr("only one probe tells")));
  EXPECT_THAT(hazards(std::string(cellar)), Contains(HasSubstr("mere elapsed time")));
  const auto example = load_text(content_of("config/example.toml"), "example.toml").hazards;
  for (const Problem& problem : example)
    EXPECT_THAT(problem.message, Not(HasSubstr("mere elapsed time")));
}

TEST(Hazards, NameSimulatedProbesBesideARealOutput) {
  const std::string text =
      with(with(cellar, "timeout = \"300 ms\"", "timeout = \"300 ms\"\nsimulated = true"),
           "output = { link = \"rack\"", "output = { link = \"bus\"");
  EXPECT_THAT(hazards(text), Contains(HasSubstr("simulated readings never move a real pump")));
}

TEST(Hazards, NameAnAddressInADataSheetsNotation) {
  expect_hazard("holding = 4,", "holding = 40005,", "40005", "the sheet's 40005 is holding = 4");
}

TEST(Hazards, NameFilesForTheBrokerThatAreNotThereYet) {
  expect_hazard("broker = \"mqtt://", "username = \"u\"\npassword_file = \"p\"\nbroker = \"mqtt://",
                "\"p\"", "the password file p is not there yet");
  expect_hazard("broker = \"mqtt://", "ca_file = \"ca.pem\"\nbroker = \"mqtts://", "[mqtt]",
                "the file of authorities ca.pem is not there yet");
}

TEST(Hazards, NameAPasswordThatIsSentOpenlyToAnotherComputer) {
  expect_hazard("broker =", "username = \"u\"\nbroker =", "[mqtt]", "goes to the broker openly");
  const auto with_broker = [](const std::string& broker) {
    return hazards(with(cellar, "broker = \"mqtt://hub.example\"",
                        "username = \"u\"\nbroker = \"" + broker + "\""));
  };
  for (const char* safe : {"mqtts://hub.example", "mqtt://localhost", "mqtt://[::1]:1883"})
    EXPECT_THAT(with_broker(safe), Not(Contains(HasSubstr("openly")))) << safe;
}

TEST(Hazards, NameAnHttpThatOthersReachWithoutEncryption) {
  const std::string table = "[http]\nlisten = \"0.0.0.0:8480\"\ntoken_file = \"t\"\n";
  EXPECT_THAT(hazards(with(cellar, "[mqtt]", table + "[mqtt]")),
              AllOf(Contains(AllOf(HasSubstr("cellar.toml:5:10: http is without encryption"),
                                   HasSubstr("reverse proxy with TLS"))),
                    Contains(HasSubstr("the token file t is not there yet"))));
  EXPECT_THAT(hazards(with(cellar, "[mqtt]", "[http]\n[mqtt]")),
              AllOf(Not(Contains(HasSubstr("without encryption"))),
                    Contains(HasSubstr("http without 'token_file'"))));
}

// The cell has u = 0.3 PSU and after 30 days of 0.01 % a drift of 0.105 PSU, the salt factor 1 % /
// sqrt(3) of 35 PSU: 0.3764 PSU together. By JCGM 106 P(error > 1 - d) + P(error > 1 + d) = 1 %
// gives d = 0.096 PSU (solved with another program). ppt are 1.0047 times as much.
TEST(Hazards, SayHowMuchOfTheToleranceTheInstrumentsLeaveAndWhatWouldLeaveMore) {
  std::string text = with(cellar, "salinity = \"35 ppt\"", "salinity = \"35 PSU\"");
  text = with(text, "tolerance = \"1 ppt\"", "tolerance = \"1 PSU\"");
  text = with(text,
              "measures = \"conductivity\"\nsource = { link = \"rack\", unit = 1, input = 10, as = "
              "\"float32\", order = \"CDAB\", in = \"uS/cm\" }\ntemperature_from = \"bath\"",
              "measures = \"salinity\"\nsource = { command = [\"read\"], in = \"PSU\" }");
  EXPECT_THAT(hazards(text),
              Contains(AllOf(HasSubstr("30 days after a calibration"), HasSubstr("to 0.38 ppt"),
                             HasSubstr("within 0.096 ppt of the target"),
                             HasSubstr("a second cell would leave"))));
  text = with(text, "tolerance = \"1 PSU\"", "tolerance = \"0.5 PSU\"");
  EXPECT_THAT(hazards(text), Contains(AllOf(HasSubstr("NOTHING is left of the tolerance"),
                                            HasSubstr("no reading can prove a batch"),
                                            HasSubstr("a tolerance of 1.7"))));
}

}  // namespace
}  // namespace brinegate::config
