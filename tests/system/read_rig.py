#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A probe that a script reads: prints what one of the rig's probes shows, one JSON reading a line.
Usage: read_rig.py CONTROL_SOCKET PROBE"""

import json
import sys
import time

from rig import ask

while True:
    shown = ask(sys.argv[1], "state")["probes"][sys.argv[2]]["shown"]
    if shown is not None:
        print(json.dumps({"value": shown, "simulated": True}), flush=True)
    time.sleep(0.2)
