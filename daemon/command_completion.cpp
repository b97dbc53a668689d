// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_completion.h"

#include <map>
#include <set>

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace brinegate::daemon {
namespace {

// What may follow the words so far, which are empty at first.
std::map<std::string, std::set<std::string>> next_words(const CommandTable& table) {
  std::map<std::string, std::set<std::string>> next;
  for (const Command& command : table) {
    std::string before;
    std::string_view rest = command.words;
    while (!rest.empty()) {
      const std::string word(rest.substr(0, rest.find(' ')));
      next[before].insert(word);
      before += before.empty() ? word : " " + word;
      rest.remove_prefix(std::min(rest.size(), word.size() + 1));
    }
  }
  return next;
}

std::string options_of(const Command& command) {
  std::vector<std::string> names{"--help"};
  for (const Option& option : command.options)
    names.push_back(fmt::format("--{}", option.name));
  return fmt::format("{}", fmt::join(names, " "));
}

constexpr std::string_view function = R"(
_brinegate() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command="" given
  for given in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do
    [[ " ${_brinegate_next[${command:-.}]-} " == *" $given "* ]] || break
    command=${command:+$command }$given
  done
  COMPREPLY=()
  if [[ $word == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "${_brinegate_options[${command:-.}]---help}" -- "$word")
  elif [[ " $_brinegate_switches " == *" $before "* || $before != --* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "${_brinegate_next[${command:-.}]-}" -- "$word")
  fi
}
complete -o default -F _brinegate brinegate
)";

}  // namespace

std::string bash_completion(const CommandTable& table) {
  std::string text = "# bash completion for brinegate\n";
  text += "declare -A _brinegate_next=(\n";
  for (const auto& [before, words] : next_words(table))
    text +=
        fmt::format("  [\"{}\"]=\"{}\"\n", before.empty() ? "." : before, fmt::join(words, " "));
  text += ")\ndeclare -A _brinegate_options=(\n";
  std::set<std::string> switches{"--help"};
  for (const Command& command : table) {
    text += fmt::format("  [\"{}\"]=\"{}\"\n", command.words, options_of(command));
    for (const Option& option : command.options)
      if (option.example.empty())
        switches.insert(fmt::format("--{}", option.name));
  }
  text += fmt::format(")\n_brinegate_switches=\"{}\"\n", fmt::join(switches, " "));
  return text + std::string(function.substr(1));
}

}  // namespace brinegate::daemon
