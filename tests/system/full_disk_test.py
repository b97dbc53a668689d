#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""No record, no permit (S11): a disk that is full in the middle of a change shuts the gate, and all
is well again once there is space. By a small file system of its own where mounting is allowed, and
by a limit of the size of files everywhere."""

import resource
import subprocess
import time

from own_mounts import have_own_mounts
from rig import PumpWatch, cellar, expect, run

# The readings are written every 5 s, and a page that is free already hides the full disk for a few.
SHUT_WITHIN_S = 30


def fill_in_the_middle_of_a_change(bench, fill, make_room):
    bench.prove()
    watch = PumpWatch(bench.rig)
    bench.change(40)
    bench.rig.wait_until_pumping()
    since = time.monotonic()
    fill()
    took = watch.seconds_until_off(since, SHUT_WITHIN_S)
    station = bench.daemon.wait_for_gate("shut")
    print(f"disk full: the pump was off after {took:.2f} s")
    expect(station["first_out"] == "record-kept", f"first out {station['first_out']}: {station}")
    expect(bench.rig.drawn() < 38.0, "the change had ended by itself")
    status, answer, _ = bench.daemon.command("change", "mixer", "--volume", "5 L")
    expect(status == 1 and "record" in str(answer["reasons"]), f"{answer}")
    bench.daemon.wait(lambda s: "record-failing" in [a["id"] for a in s["alarms"]], 20,
                      "the record's alarm")

    make_room()
    bench.daemon.wait_until_ready(30)
    drawn = bench.rig.drawn()
    bench.change(5)
    bench.rig.wait_until_pumping(drawn + 1)
    bench.daemon.wait_for_gate("shut")
    expect(abs(bench.rig.drawn() - drawn - 5) < 1.2, f"drawn {bench.rig.drawn() - drawn} of 5 L")
    batch = bench.daemon.station()["batch"]["id"]
    kinds = [e["kind"] for e in bench.daemon.must("batch", "report", batch)["events"]]
    expect(kinds.count("change-ended") == 2, f"the record lacks what happened meanwhile: {kinds}")


def on_a_small_file_system(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    data = bench.folder / "data"
    data.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m,mode=700", "tmpfs", data], check=True)
    bench.daemon = bench.start_daemon(cellar(data, bench.broker_port, bench.rig.address))
    filler = data / "filler"

    def fill():
        with open(filler, "wb", buffering=0) as file:
            try:
                while file.write(b"\0" * 4096):
                    pass
            except OSError:
                pass

    try:
        fill_in_the_middle_of_a_change(bench, fill, filler.unlink)
    finally:
        bench.daemon.kill()
        subprocess.run(["umount", data], check=True)


def by_a_limit_of_the_size_of_files(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    # Python ignores the signal of this limit; the daemon is left to inherit that.
    bench.daemon = bench.start_daemon(
        cellar(bench.folder / "data", bench.broker_port, bench.rig.address), restore_signals=False)
    pid = bench.daemon.process.pid
    _, most = resource.prlimit(pid, resource.RLIMIT_FSIZE)

    def limit(size):
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (size, most))

    fill_in_the_middle_of_a_change(bench, lambda: limit(4096), lambda: limit(most))


if __name__ == "__main__":
    if have_own_mounts():
        run(on_a_small_file_system, by_a_limit_of_the_size_of_files)
    print("mounting is not allowed here: only the limit of the size of files is tried")
    run(by_a_limit_of_the_size_of_files)
