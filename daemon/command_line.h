// SPDX-License-Identifier: Apache-2.0
// The command line as a table: every command states its words, operands and options once, and
// parsing, help and the "did you mean" hints all come from there.
#pragma once

#include <istream>
#include <map>
#include <ostream>
#include <string>
#include <string_view>
#include <vector>

#include "rules/result.h"

namespace brinegate::daemon {

enum class ExitStatus {
  Done = 0,
  Refused = 1,      // refused or not met; the reasons are on the error stream
  Usage = 2,        // wrong usage or invalid input
  Unreachable = 3,  // could not reach the daemon
};

// Where a command speaks: what was asked for, and what went wrong; and where it is answered.
struct Console {
  std::ostream& out;
  std::ostream& err;
  std::istream& in;
};

struct Option {
  std::string_view name;     // without the dashes
  std::string_view example;  // of its value, as it is written; empty: a switch without value
  std::string_view what;
  bool required = false;
  bool repeatable = false;
};

struct Operand {
  std::string_view name;
  std::string_view what;
  bool required = true;
};

// What was given to one command, already held against its table.
class Arguments {
 public:
  void add_option(std::string_view name, std::string_view value) {
    options_[name].push_back(value);
  }
  void add_operand(std::string_view value) { operands_.push_back(value); }

  [[nodiscard]] bool has(std::string_view option) const { return options_.contains(option); }
  // Empty where it was not given.
  [[nodiscard]] std::string_view option(std::string_view name) const;
  // Every value of a repeatable one, in the order given.
  [[nodiscard]] std::vector<std::string_view> all(std::string_view name) const;
  [[nodiscard]] std::string_view operand(std::size_t index) const;
  [[nodiscard]] const std::vector<std::string_view>& operands() const { return operands_; }

 private:
  std::map<std::string_view, std::vector<std::string_view>> options_;
  std::vector<std::string_view> operands_;
};

struct Command {
  std::string_view words;  // "batch begin"
  std::string_view summary;
  std::vector<Operand> operands;
  std::vector<Option> options;
  std::string_view notes;  // what else its help says
  ExitStatus (*run)(const Arguments& arguments, Console& console) = nullptr;
  bool any_operands = false;  // takes as many words as there are
};

using CommandTable = std::vector<Command>;

// The command these words begin with; the error names what was probably meant.
Result<const Command*> find_command(const CommandTable& table,
                                    const std::vector<std::string_view>& words);

struct Invocation {
  const Command* command = nullptr;
  Arguments arguments;
  bool help_asked = false;
};

// The views in the answer live as long as `table` and what `words` refers to. The error says what
// was wrong and what to write instead.
Result<Invocation> parse_command_line(const CommandTable& table,
                                      const std::vector<std::string_view>& words);

// Parses, runs, and says on the error stream what was wrong.
ExitStatus run_command_line(const CommandTable& table, const std::vector<std::string_view>& words,
                            Console& console);

}  // namespace brinegate::daemon
