#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Faults on real peers: the daemon, its broker, its Modbus slaves, its lines and its disk are
killed, frozen, cut, spoilt, flooded and filled at random moments of a change that runs. Each time
the pump's relay is off within the lease, nothing that was acknowledged is lost, and all goes on
after or is refused loudly. The seed decides what is done when; the machine decides what it meets.

run.py --times 200 --seed 1 [--only daemon_killed,...] [BRINEGATE SIMULATOR]
"""

import argparse
import concurrent.futures
import os
import random
import signal
import sys
import threading
import time
import traceback
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "system"))
# pylint: disable=wrong-import-position
import kinds as fault_kinds  # noqa: E402
from own_mounts import have_own_mounts  # noqa: E402
from rig import Bench  # noqa: E402
from session import LEASE_S, SEEN_LATE_S, Session, unmount  # noqa: E402

LATEST_MOMENT_S = 2.0  # after the pump was seen on


@dataclass
class Task:
    number: int
    kind: object
    moment: float
    seed: int


@dataclass
class Found:
    kind: str
    took: float = 0.0
    lost: list = field(default_factory=list)
    error: str = ""


def draw_tasks(options):
    """For each session what it does; every kind equally often, each where it is possible."""
    chance = random.Random(options.seed)
    plans = [[] for _ in range(options.side_by_side)]
    pool = []
    for number in range(1, options.times + 1):
        if not pool:
            pool = [kind for kind in fault_kinds.all_kinds(options.own_mounts)
                    if not options.only or kind.__name__ in options.only]
            chance.shuffle(pool)
        kind = pool.pop()
        fitting = [plan for index, plan in enumerate(plans)
                   if kind in fault_kinds.kinds_for(is_serial(index), options.own_mounts)]
        plan = min(fitting, key=len)
        moment = chance.uniform(0.0, LATEST_MOMENT_S)
        plan.append(Task(number, kind, moment, chance.getrandbits(32)))
    return plans


def is_serial(index):
    return index % 2 == 0


class Campaign:
    def __init__(self, options):
        self.options = options
        self.found = []
        self.acknowledged = 0
        self.printing = threading.Lock()
        self.times = options.times

    def say(self, text):
        with self.printing:
            print(text, flush=True)

    def one(self, session, task):
        session.chance = random.Random(task.seed)
        name = task.kind.__name__
        try:
            took, lost = session.disrupt(task.kind, task.moment)
            found = Found(name, took, lost)
            if took > LEASE_S + SEEN_LATE_S:
                found.error = f"the relay was off after {took:.2f} s, the lease is {LEASE_S} s"
            elif lost:
                found.error = f"acknowledged and not on record once: {lost[:5]}"
        except Exception:  # pylint: disable=broad-except
            found = Found(name, error=traceback.format_exc())
        self.found.append(found)
        self.say(f"{len(self.found)}/{self.times} {name} {task.moment:.2f} s into a change: " + (
            f"FAILED (number {task.number})\n{found.error}" if found.error else
            f"off after {found.took:.2f} s ({found.took / LEASE_S:.2f} of the lease)"))
        return not found.error

    def sessions(self, plan, serial):
        """One that failed is begun afresh with what is left of the plan."""
        while plan:
            bench = Bench(self.options)
            with bench:
                session = None
                try:
                    session = Session(bench, serial, self.options.own_mounts)
                    held = True
                    while plan and held:
                        held = self.one(session, plan.pop(0))
                    if held:
                        self.acknowledged += session.end()
                    else:
                        self.tell_logs(bench)
                except Exception:  # pylint: disable=broad-except
                    self.found.append(Found("session", error=traceback.format_exc()))
                    self.say(f"FAILED outside of a fault\n{self.found[-1].error}")
                    self.tell_logs(bench)
                    if session is None:
                        return
                finally:
                    if session:
                        session.notes.ending.set()
                    unmount(bench.folder / "data")

    def tell_logs(self, bench):
        for process in bench.processes:
            self.say(f"--- log of {process.name}:\n{process.log()[-1500:]}")

    def run(self):
        plans = draw_tasks(self.options)
        with concurrent.futures.ThreadPoolExecutor(len(plans)) as pool:
            list(pool.map(self.sessions, plans, map(is_serial, range(len(plans)))))
        self.tell_table()
        return all(not found.error for found in self.found) and len(self.found) >= self.times

    def tell_table(self):
        print(f"\n{'kind':24}{'times':>6}{'failed':>8}{'longest/lease':>15}{'lost records':>14}")
        for name in sorted({found.kind for found in self.found}):
            of_kind = [found for found in self.found if found.kind == name]
            longest = max(found.took for found in of_kind) / LEASE_S
            print(f"{name:24}{len(of_kind):6}{sum(bool(f.error) for f in of_kind):8}"
                  f"{longest:15.2f}{sum(len(found.lost) for found in of_kind):14}")
        print(f"{self.acknowledged} notes were acknowledged in sessions that ended in order")


def parse_options():
    """After which the program runs in a name space of its own for mounts, where that is allowed."""
    own_mounts = have_own_mounts()
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=lambda names: names.split(","), default=[])
    parser.add_argument("--side-by-side", type=int, default=4)
    root = HERE.parent.parent / "build/release"
    parser.add_argument("brinegate", nargs="?", type=os.path.abspath,
                        default=root / "daemon/brinegate")
    parser.add_argument("simulator", nargs="?", type=os.path.abspath,
                        default=root / "sim/brinegate-sim")
    return argparse.Namespace(own_mounts=own_mounts, **vars(parser.parse_args()))


def main(chosen):
    if not chosen.own_mounts:
        print("mounting is not allowed here: no read-only file system, and a full disk is a limit")
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    began = time.monotonic()
    held = Campaign(chosen).run()
    print(f"{time.monotonic() - began:.0f} s")
    sys.exit(0 if held else 1)


if __name__ == "__main__":
    main(parse_options())
