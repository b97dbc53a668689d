// SPDX-License-Identifier: Apache-2.0
#include "daemon/command_table.h"

#include "daemon/command_alarm.h"
#include "daemon/command_ask.h"
#include "daemon/command_batch.h"
#include "daemon/command_change.h"
#include "daemon/command_config.h"
#include "daemon/command_correct.h"
#include "daemon/command_dose.h"
#include "daemon/command_find.h"
#include "daemon/command_help.h"
#include "daemon/command_history.h"
#include "daemon/command_lot.h"
#include "daemon/command_options.h"
#include "daemon/command_probe.h"
#include "daemon/command_record.h"
#include "daemon/command_run.h"
#include "daemon/command_salinity.h"
#include "daemon/command_setup.h"
#include "daemon/command_status.h"
#include "daemon/command_tank.h"

namespace brinegate::daemon {
namespace {

ExitStatus run(const Arguments& arguments, Console& /*console*/) {
  return static_cast<ExitStatus>(run_daemon(configuration_path(arguments)));
}

Command run_command() {
  return {.words = "run",
          .summary = "the daemon, in the foreground",
          .operands = {},
          .options = {config_option},
          .notes =
              "Ends on SIGINT or SIGTERM with every gate shut. On SIGHUP the configuration is read "
              "again: a new one is put in place, with every gate shut, and one with an error is "
              "refused. Status 2 where the configuration cannot be used.",
          .run = run};
}

void append(CommandTable& table, CommandTable more) {
  table.insert(table.end(), more.begin(), more.end());
}

}  // namespace

CommandTable commands() {
  CommandTable table{run_command(),          setup_command(),  find_devices_command(),
                     config_check_command(), status_command(), salinity_command(),
                     dose_command(),         correct_command()};
  append(table, lot_commands());
  append(table, tank_commands());
  append(table, batch_commands());
  table.push_back(change_command());
  append(table, probe_commands());
  table.push_back(history_command());
  table.push_back(record_verify_command());
  append(table, alarm_commands());
  table.push_back(help_command());
  return table;
}

}  // namespace brinegate::daemon
