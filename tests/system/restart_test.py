#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The daemon is killed in the middle of a change and started again: the batch is what the record
says, the gate stays shut until fresh readings meet every check, and the change is told as broken
off, with what it drew (S7)."""

import time

from rig import expect, run


def killed_in_the_middle_of_a_change(bench):
    bench.start_all()
    watch = bench.watch_a_change()
    batch = bench.daemon.station()["batch"]["id"]
    bench.daemon.kill()
    watch.seconds_until_off(time.monotonic(), 10)
    drawn = bench.rig.drawn()

    bench.daemon = bench.start_daemon(bench.configured)
    restarted = time.monotonic()
    station = bench.daemon.station()
    expect(station["phase"] == "proven" and station["gate"] == "shut", f"at once: {station}")
    expect(station["batch"]["id"] == batch and station["batch"]["proof"], f"{station['batch']}")
    status, answer, _ = bench.daemon.command("change", "mixer", "--volume", "10 L")
    expect(status == 1 and answer["reasons"], f"a change without fresh readings: {answer}")

    station = bench.daemon.wait(lambda s: s["batch"]["drawn_l"] > 0, 10, "the drawn volume")
    expect("change-interrupted" in [a["id"] for a in station["alarms"]], f"{station['alarms']}")
    print(f"drawn in truth {drawn:.2f} L, told {station['batch']['drawn_l']:.2f} L")
    expect(abs(station["batch"]["drawn_l"] - drawn) < 1.5, f"drawn {drawn}: {station['batch']}")

    bench.daemon.wait_until_ready()
    print(f"ready again {time.monotonic() - restarted:.1f} s after the restart")
    expect(not watch.was_on_after(restarted) and bench.rig.drawn() == drawn, "water flowed unasked")
    bench.daemon.must("alarm", "acknowledge", "mixer", "change-interrupted")
    bench.change(5)
    bench.rig.wait_until_pumping(drawn + 1)
    bench.daemon.wait_for_gate("shut", 30)
    expect(abs(bench.rig.drawn() - drawn - 5) < 1.2, f"drawn {bench.rig.drawn() - drawn} of 5 L")
    report = bench.daemon.must("batch", "report", batch)
    expect("interrupted" in str(report), f"not in the batch's report: {report}")


if __name__ == "__main__":
    run(killed_in_the_middle_of_a_change)
