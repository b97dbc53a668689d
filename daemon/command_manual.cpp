// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_manual.h"

#include <fmt/format.h>

#include "daemon/command_help.h"

namespace brinegate::daemon {
namespace {

// What troff would take for a command or for typography: backslashes, hyphens that a person copies,
// and a dot or an apostrophe that begins a line.
std::string roff_text(std::string_view text) {
  std::string shown;
  for (const char letter : text) {
    if ((letter == '.' || letter == '\'') && (shown.empty() || shown.back() == '\n'))
      shown += "\\&";
    if (letter == '\\')
      shown += "\\e";
    else if (letter == '-')
      shown += "\\-";
    else
      shown += letter;
  }
  return shown;
}

std::string described(std::string_view form, std::string_view what) {
  return fmt::format(".TP\n.B {}\n{}\n", roff_text(form), roff_text(what));
}

std::string section_of(const Command& command) {
  std::string text = fmt::format(".SS brinegate {}\n{}.\n.PP\n.B {}\n", roff_text(command.words),
                                 roff_text(command.summary), roff_text(usage_line(command)));
  for (const Operand& operand : command.operands)
    text += described(operand.name, operand.what);
  for (const Option& option : command.options)
    text += described(option_form(option), option.what);
  if (!command.notes.empty())
    text += fmt::format(".PP\n{}\n", roff_text(command.notes));
  return text;
}

constexpr std::string_view beginning =
    R"(.TH BRINEGATE 1 "" "Brinegate {version}" "User Commands"
.SH NAME
brinegate \- prove a batch of mixed sea water and guard the water\-change pump
.SH SYNOPSIS
.B brinegate
.I COMMAND
.RI [ OPERAND \|.\|.\|.]
.RI [ OPTION \|.\|.\|.]
.SH DESCRIPTION
Reads conductivity, temperature and level probes, follows a batch of artificial sea water while the
salt dissolves, and keeps the water\-change pump blocked until the batch is proven to be what it
should be, and whenever anything is in doubt.
.PP
It is not a certified safety device. Mains electricity and water do not mix: use residual\-current
protection and drip loops, follow the local electrical code, and keep an independent cut\-off for
whatever must never overflow.
.PP
Quantities are written with their unit, in quotes where there is a space: \-\-target "35 ppt".
.SH COMMANDS
)";

constexpr std::string_view ending = R"(.SH EXIT STATUS
.TP
.B 0
done
.TP
.B 1
refused or not met; the reasons are on the error stream
.TP
.B 2
wrong usage or invalid input
.TP
.B 3
could not reach the daemon
.SH ENVIRONMENT
.TP
.B BRINEGATE_CONFIG
the configuration, where no \-\-config names one
.SH FILES
.TP
.I /etc/brinegate/brinegate.toml
the configuration; every key is explained in
.I /usr/share/doc/brinegate/config.md
.TP
.I /var/lib/brinegate
the record
.SH SEE ALSO
.BR brinegate\-sim (1),
.BR systemctl (1)
)";

}  // namespace

std::string manual_page(const CommandTable& table) {
  std::string text(beginning);
  constexpr std::string_view version = "{version}";
  text.replace(text.find(version), version.size(), BRINEGATE_VERSION);
  for (const Command& command : table)
    text += section_of(command);
  return text + std::string(ending);
}

}  // namespace brinegate::daemon
