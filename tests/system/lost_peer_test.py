#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""What a change rests on is taken away in the middle of it, each time another thing: the pump must
stand still within the lease, or the probe's deadline, as seen at the pump's relay."""

import time

from rig import LEASE_S, NOTICE_S, STALE_AFTER_S, cellar, expect, run


def check(bench, watch, what, since, bound, daemon_says=True):
    took = watch.seconds_until_off(since, bound + 10)
    print(f"{what}: the pump was off after {took:.2f} s (bound {bound:.1f} s)")
    expect(took <= bound, f"{what}: {took:.2f} s, at most {bound} s")
    if daemon_says:
        station = bench.daemon.wait_for_gate("shut", 5)
        expect(station["phase"] == "proven" and station["change"] is None, f"after it: {station}")
        expect("change-ended-early" in [a["id"] for a in station["alarms"]], f"{station['alarms']}")
        return station
    return None


def a_probe_is_unplugged(bench):
    bench.start_all()
    watch = bench.watch_a_change()
    since = time.monotonic()
    bench.rig.tell("fault cell_a silent")
    station = check(bench, watch, "probe unplugged", since, STALE_AFTER_S + NOTICE_S)
    # The course over this short window misses a sample sooner than the probe's deadline does.
    expect(station["first_out"] in ("probes-good", "on-target"), f"{station['first_out']}")
    bench.daemon.wait(lambda s: s["readings"]["cell_a"]["quality"] == "bad", 5, "a bad cell_a")


def the_transmitter_freezes(bench):
    """Its level, too: nothing but the deadline can tell."""
    bench.start_broker()
    bench.rig = bench.start_rig()
    board = bench.start_rig("board", site="board")
    bench.daemon = bench.start_daemon(
        cellar(bench.folder / "data", bench.broker_port, bench.rig.address, board.address))
    watch = bench.watch_a_change(board)
    since = time.monotonic()
    bench.rig.freeze()
    check(bench, watch, "transmitter frozen", since, STALE_AFTER_S + NOTICE_S)


def the_relay_board_freezes(bench):
    """Nobody can tell it anything any more; it must have let go by itself."""
    bench.start_broker()
    bench.rig = bench.start_rig()
    board = bench.start_rig("board", site="board")
    bench.daemon = bench.start_daemon(
        cellar(bench.folder / "data", bench.broker_port, bench.rig.address, board.address))
    watch = bench.watch_a_change(board)
    watch.stop()
    drawn = board.drawn()
    board.freeze()
    bench.daemon.wait_for_gate("shut", 10)
    time.sleep(3 * LEASE_S)
    board.thaw()
    more = board.drawn() - drawn
    print(f"relay board frozen: {more:.2f} L flowed of the {0.5 * LEASE_S:.1f} L of one lease")
    expect(not board.pump_is_on(), "the relay board still holds the pump on")
    expect(more <= 0.5 * (LEASE_S + 0.3), f"{more} L flowed while the board was frozen")
    time.sleep(1.0)
    expect(not board.pump_is_on(), "the pump started again by itself")


def the_broker_is_killed(bench):
    bench.start_all()
    watch = bench.watch_a_change()
    since = time.monotonic()
    bench.broker.kill()
    check(bench, watch, "broker killed", since, STALE_AFTER_S + NOTICE_S)
    bench.start_broker()
    bench.daemon.wait_until_ready()


def the_daemon_is_killed(bench):
    bench.start_all()
    watch = bench.watch_a_change()
    since = time.monotonic()
    bench.daemon.kill()
    check(bench, watch, "daemon killed", since, LEASE_S + 0.5, daemon_says=False)


def the_daemon_is_frozen(bench):
    bench.start_all()
    watch = bench.watch_a_change()
    since = time.monotonic()
    bench.daemon.freeze()
    check(bench, watch, "daemon frozen", since, LEASE_S + 0.5, daemon_says=False)
    time.sleep(max(0.0, since + LEASE_S + 3.0 - time.monotonic()))
    bench.daemon.thaw()
    thawed = time.monotonic()
    station = bench.daemon.station()
    time.sleep(2.0)
    expect(not watch.was_on_after(thawed),
           f"the pump ran again after {thawed - since:.1f} s without a daemon: {station}")


if __name__ == "__main__":
    run(a_probe_is_unplugged, the_transmitter_freezes, the_relay_board_freezes,
        the_broker_is_killed, the_daemon_is_killed, the_daemon_is_frozen)
