#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The independent Modbus slave as a process of its own, to be killed and frozen: pymodbus with the
water and the timed relay of independent_peers_test.py. Each time that the relay is told something
it prints when (CLOCK_MONOTONIC, which all processes share) and until when it holds. Outlives a
serial line that comes and goes. Usage: slave.py tcp PORT | rtu DEVICE
"""

import os
import sys
import termios
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in ("peers", "system"):
    sys.path.insert(0, str(HERE.parent / folder))
# pylint: disable=wrong-import-position
from independent_peers_test import Vessel, context_of  # noqa: E402
from modbus_slave import serve_rtu, serve_tcp  # noqa: E402


class ToldVessel(Vessel):
    def hold_on(self, tenths):
        super().hold_on(tenths)
        print(f"told {self.stepped:.4f} until {self.on_until:.4f}", flush=True)


def forget_what_waits(device):
    """What was sent to a board without power is not in its buffer when it has power again."""
    line = os.open(device, os.O_RDWR | os.O_NOCTTY)
    termios.tcflush(line, termios.TCIFLUSH)
    os.close(line)


def main():
    context = context_of(ToldVessel())
    medium, where = sys.argv[1:]
    if medium == "tcp":
        serve_tcp(context, int(where))
    while True:
        try:
            forget_what_waits(where)
            serve_rtu(context, where)
        except OSError:
            time.sleep(0.05)


if __name__ == "__main__":
    main()
