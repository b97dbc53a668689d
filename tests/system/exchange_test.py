#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A change on a station with a drain and a hold-off, on real Modbus (S18, S19): in portions, with
the tank's top-off held off; and the daemon killed half-way, which raises the alarm after its
restart, with what the tank lacks in truth."""

import time

from rig import expect, run, wait_for, with_exchange

ASKED_L = 14.0
PORTION_L = 8.0
NEAR_L = 1.5  # what a pump moves while a level is read twice and the relay obeys


def tank(bench):
    return bench.rig.state()["tank"]


def a_change_in_portions(bench):
    bench.start_all(with_exchange)
    bench.prove()
    full = tank(bench)["level_l"]
    bench.change(ASKED_L)
    lowest, held, both = full, False, False
    while bench.daemon.station()["change"]:
        state = bench.rig.state()
        lowest = min(lowest, state["tank"]["level_l"])
        held = held or state["tank"]["held_off"]
        both = both or (state["tank"]["drain_on"] and state["devices"]["pump_on"])
        expect(not state["tank"]["drain_on"] or state["tank"]["held_off"], "drained unheld")
        time.sleep(0.05)
    after, station = tank(bench), bench.daemon.station()
    print(f"drained {after['drained_l']:.2f} L, returned {bench.rig.drawn():.2f} L of {ASKED_L}; "
          f"lowest {full - lowest:.2f} L down")
    expect(abs(after["drained_l"] - ASKED_L) < NEAR_L, f"drained {after}")
    expect(abs(bench.rig.drawn() - ASKED_L) < NEAR_L, f"returned {bench.rig.drawn()}")
    expect(full - lowest < PORTION_L + NEAR_L, f"down by {full - lowest} L")
    expect(held and not both, f"held off: {held}, both pumps at once: {both}")
    expect(after["topped_off_l"] == 0.0, f"fresh water in the tank: {after}")
    expect(station["alarms"] == [], f"alarms: {station['alarms']}")
    wait_for(lambda: not tank(bench)["held_off"], 40, "the top-off let go")


def killed_half_way(bench):
    bench.start_all(with_exchange)
    bench.prove()
    full = tank(bench)["level_l"]
    bench.change(ASKED_L)
    wait_for(lambda: tank(bench)["level_l"] < full - 5, 40, "some litres drained")
    bench.daemon.kill()
    wait_for(lambda: not tank(bench)["drain_on"], 4, "the drain off by its lease")

    bench.daemon = bench.start_daemon(bench.configured)
    station = bench.daemon.wait(lambda s: s["unfinished"] and s["unfinished"]["known"], 20,
                                "what is missing")
    lacks = full - tank(bench)["level_l"]
    print(f"lacks {lacks:.2f} L in truth, told {station['unfinished']['missing_l']} L")
    expect(lacks > 4 and abs(station["unfinished"]["missing_l"] - lacks) < NEAR_L, f"{station}")
    alarm = next(a for a in station["alarms"] if a["id"] == "exchange-unfinished")
    expect(alarm["priority"] == "highest" and "of this batch by hand" in alarm["action"],
           f"{alarm}")
    expect(tank(bench)["held_off"] and tank(bench)["topped_off_l"] < 0.05, f"{tank(bench)}")
    status, answer, _ = bench.daemon.command("change", "mixer", "--volume", "5 L")
    expect(status == 1, f"a change before a person has seen to it: {answer}")
    bench.daemon.must("alarm", "acknowledge", "mixer", "exchange-unfinished")
    wait_for(lambda: not tank(bench)["held_off"], 40, "the top-off let go")


if __name__ == "__main__":
    run(a_change_in_portions, killed_half_way)
