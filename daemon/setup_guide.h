// SPDX-License-Identifier: Apache-2.0
// The conversation of a first start. Each answer is judged by the loader of the configuration, so
// what comes of it is valid, and a wrong answer is answered as a wrong line of a file would be.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/command_line.h"
#include "daemon/found_numbers.h"
#include "daemon/setup_answers.h"

namespace brinegate::daemon {

class SetupGuide {
 public:
  // `file`: where the configuration will stand. `simulated`: what is on the line is a simulator's.
  SetupGuide(std::string file, bool simulated, Console& console)
      : file_(std::move(file)), simulated_(simulated), console_(console) {}

  // The whole conversation. None after saying why: the answers ended early, or nothing tells the
  // salinity.
  std::optional<SetupAnswers> ask_all();

 private:
  enum class Choice { Taken, None, Again };
  struct Found {
    FoundNumber number;
    std::string stale_after;  // for a probe that sends it; empty: as usual
  };

  // The answer without the blanks at its ends. Enter, and the end of all answers, is `otherwise`.
  std::string ask(std::string_view question, const std::string& otherwise);
  bool ask_yes(std::string_view question);
  void say(std::string_view text);
  // Asks until the loader has nothing against the answer in this field of the answers.
  void fill(std::string& field, std::string_view question, const std::string& otherwise);
  // The same where Enter means that there is none: false.
  bool fill_address(std::string& address, std::string_view question);

  void ask_place();
  void ask_profile();
  void ask_line();
  bool scan();
  void ask_broker();
  bool listen();
  void ask_probes();
  void ask_cells();
  Measures ask_kind_of_cell();
  void ask_pump();
  void ask_relay(SetupPump& pump);

  // Whether there is one by now.
  bool ask_probe(const std::string& name, Measures measures, std::string_view question);
  Choice choose(const std::string& name, Measures measures, std::string_view question);
  // Fills in where the probe's numbers come from; false: there is no such probe.
  bool choose_source(SetupProbe& probe, std::string_view question);
  // A level's number tells neither its unit nor its litres.
  std::string ask_level(SetupProbe& probe, const FoundNumber& number, Meaning meaning);
  // False: another source is wanted.
  bool verify_last_probe();
  [[nodiscard]] bool has_probe(Measures measures) const;

  std::string file_;
  bool simulated_;
  Console& console_;
  SetupAnswers answers_;
  std::vector<Found> found_;
  bool ended_ = false;  // there are no more answers
};

}  // namespace brinegate::daemon
