#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Batches that came out wrong are refused, and the daemon's own advice brings them on target."""

from rig import expect, run

TARGET = 35.0  # g/kg
NEAR = 0.5  # a cell's own error included


def verdict(station, check):
    return next(c["verdict"] for c in station["checks"] if c["id"] == check)


def refuse(bench, reason):
    """A change is refused with that among its reasons, and nothing flows."""
    status, answer, errors = bench.daemon.command("change", "mixer", "--volume", "20 L")
    expect(status == 1 and not answer["ok"], f"not refused: {status} {answer}")
    expect(any(reason in each for each in answer["reasons"]), f"reasons: {answer['reasons']}")
    expect(reason in errors or reason in str(answer), f"said on stderr: {errors}")
    expect(bench.rig.drawn() == 0.0 and not bench.rig.pump_is_on(), "water flowed")


def follow(bench, advice):
    """Does with the water what the advice says, and notes it."""
    words = []
    if advice["remove_l"] > 0:
        bench.rig.tell(f"remove {advice['remove_l']} L")
        words += ["--removed", f"{advice['remove_l']} L"]
    if advice["water_l"] > 0:
        bench.rig.tell(f"water {advice['water_l']} L")
        words += ["--water", f"{advice['water_l']} L"]
    if advice["salt_g"] > 0:
        bench.rig.tell(f"salt {advice['salt_g']} g")
        words += ["--salt", f"{advice['salt_g']} g"]
    bench.daemon.must("batch", "note", "mixer", *words)


def correct(bench, share, action, reason):
    bench.start_all()
    bench.begin(share * bench.dose())
    bench.daemon.wait_for_phase("rejected")
    refuse(bench, reason)
    _, answer, _ = bench.daemon.command("status", "mixer")
    advice = next(a for a in answer["stations"][0]["advice"] if a["fits"] and a["action"] == action)
    before = bench.rig.salinity()
    follow(bench, advice)
    proven = bench.daemon.wait_for_phase("proven")
    after = bench.rig.salinity()
    print(f"{advice['sentence']} In truth {before:.2f} became {after:.2f} g/kg.")
    expect(abs(after - TARGET) < NEAR < abs(before - TARGET), f"{before} became {after}")
    expect(abs(proven["batch"]["proof"]["salinity_g_kg"] - after) < NEAR, f"{proven['batch']}")
    bench.daemon.wait_until_ready()
    bench.change(5)
    bench.rig.wait_until_pumping()


def a_weak_batch(bench):
    correct(bench, 0.90, "add-salt", "Too weak")


def a_strong_batch(bench):
    correct(bench, 1.10, "replace-with-water", "Too strong")


def a_batch_that_is_not_as_dosed(bench):
    bench.start_all()
    salt = bench.dose()
    bench.begin(salt, noted_g=0.85 * salt)
    rejected = bench.daemon.wait_for_phase("rejected")
    expect(verdict(rejected, "as-dosed") == "violated", f"{rejected['checks']}")
    expect(verdict(rejected, "on-target") == "met", f"{rejected['checks']}")
    refuse(bench, "Not as dosed")
    bench.daemon.must("batch", "note", "mixer", "--salt-total", f"{salt:.0f} g")
    bench.daemon.wait_for_phase("proven")


if __name__ == "__main__":
    run(a_weak_batch, a_strong_batch, a_batch_that_is_not_as_dosed)
