#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Each kind of fault once; run.py does as many as one likes."""

from kinds import all_kinds
from run import main, parse_options

if __name__ == "__main__":
    chosen = parse_options()
    chosen.times = len(all_kinds(chosen.own_mounts))
    main(chosen)
