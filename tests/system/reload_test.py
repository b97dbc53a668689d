#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A new configuration is checked whole before any of it counts (S10): a bad one is refused in the
middle of a change, which goes on; a good one shuts the gate while it is put in place, the batch is
still there, and its proof is void because its profile was edited (S15)."""

import copy
import signal
import time

from rig import expect, mixer, run, wait_for, write_toml


def hang_up(bench, text, said):
    bench.daemon.configuration.write_text(text)
    before = bench.daemon.log().count(said)
    bench.daemon.signal(signal.SIGHUP)
    wait_for(lambda: bench.daemon.log().count(said) > before, 10,
             lambda: f"'{said}' in the log: {bench.daemon.log()[-1500:]}")


def edited_in_the_middle_of_a_change(bench):
    bench.start_all()
    watch = bench.watch_a_change(litres=55)
    before = bench.daemon.station()
    good = write_toml(bench.configured)

    bad = copy.deepcopy(bench.configured)
    mixer(bad)["capacity"] = "200 furlongs"
    mixer(bad)["pump"]["lease"] = "a while"
    hang_up(bench, write_toml(bad), "the old one stays in force")
    log = bench.daemon.log()
    expect("furlongs" in log and "a while" in log, f"not every error is told: {log[-1500:]}")
    hang_up(bench, good + "# a remark\n", "has not changed")
    drawn = bench.rig.drawn()
    bench.rig.wait_until_pumping(drawn + 1)
    station = bench.daemon.station()
    expect(station["gate"] == "open" and station["alarms"] == before["alarms"], f"{station}")
    shut = [seen for seen in list(watch.seen) if seen[2] >= 1 and not seen[1]]
    expect(not shut, f"the pump was off: {shut[:3]}")

    wider = copy.deepcopy(bench.configured)
    wider["profile"]["reef"]["tolerance"] = "1.8 ppt"
    asked = time.monotonic()
    hang_up(bench, write_toml(wider), "a new configuration is put in place")
    took = watch.seconds_until_off(asked, 5)
    print(f"pump off {took:.2f} s after the hang-up")
    expect(took < 1.5, f"the gate shut only after {took} s")
    drawn = bench.rig.drawn()
    wait_for(bench.daemon.answers, 10, "an answer")

    station = bench.daemon.wait(lambda s: s["phase"] == "mixing", 10, "the proof void")
    expect(station["gate"] == "shut", f"{station['gate']}")
    expect(station["batch"]["id"] == before["batch"]["id"], f"{station['batch']}")
    expect(not station["batch"]["proof"], f"{station['batch']}")
    expect(abs(station["batch"]["drawn_l"] - drawn) < 1.5, f"drawn {drawn}: {station['batch']}")
    told = [alarm["id"] for alarm in station["alarms"]]
    expect("change-ended-early" in told, f"not told: {told}")
    time.sleep(2)
    expect(bench.rig.drawn() == drawn and bench.daemon.station()["gate"] == "shut",
           "water flowed unasked")
    report = str(bench.daemon.must("batch", "report", before["batch"]["id"]))
    expect("interrupted" in report, f"not in the batch's report: {report}")

    # Edited back, and back to work.
    hang_up(bench, good, "a new configuration is put in place")
    wait_for(bench.daemon.answers, 10, "an answer")
    bench.daemon.wait_for_phase("proven")
    bench.daemon.wait_until_ready()
    expect(bench.daemon.terminate() == 0, bench.daemon.log())


if __name__ == "__main__":
    run(edited_in_the_middle_of_a_change)
