#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""What stands around the daemon: the rights on what it writes, whatever umask it was started with,
and the sandbox of its service unit."""

import os
import re
import stat
import subprocess

from rig import HERE, cellar, expect, run, wait_for

UNIT = HERE.parent.parent / "daemon" / "brinegate.service"
MOST_EXPOSED = 15  # tenths, of 100; "0.1" would be a unit that does nothing


def others_see_nothing_of_what_it_writes(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    configuration = cellar(bench.folder / "data", bench.broker_port, bench.rig.address)
    bench.daemon = bench.start_daemon(configuration, preexec_fn=lambda: os.umask(0))
    wait_for(lambda: any(bench.daemon.data.glob("*.db*")) or len(list(
        bench.daemon.data.iterdir())) >= 3, 10, "the record")
    paths = [bench.daemon.data, *bench.daemon.data.rglob("*")]
    expect(len(paths) >= 4, f"too few files: {paths}")
    for path in paths:
        rights = stat.S_IMODE(path.lstat().st_mode)
        expect(rights & 0o077 == 0, f"{path} has {rights:o}")
    expect(stat.S_ISSOCK(bench.daemon.socket.lstat().st_mode), "no control socket")


def a_record_that_everybody_may_write_is_refused(bench):
    bench.start_broker()
    data = bench.folder / "data"
    data.mkdir()
    data.chmod(0o777)
    file = bench.folder / "cellar.toml"
    file.write_text((HERE.parent.parent / "config" / "example.toml").read_text()
                    .replace("/var/lib/brinegate", str(data)))
    ran = subprocess.run([bench.brinegate, "run", "--config", file], capture_output=True, text=True,
                         timeout=20, check=False)
    expect(ran.returncode == 1 and "chmod 700" in ran.stderr, f"{ran}")


def the_unit_is_sound_and_its_sandbox_tight(bench):
    unit = bench.folder / "brinegate.service"
    unit.write_text(UNIT.read_text().replace("/usr/bin/brinegate", str(bench.brinegate)))
    for command in (["verify", unit],
                    ["security", "--offline=true", f"--threshold={MOST_EXPOSED}", unit]):
        ran = subprocess.run(["systemd-analyze", "--no-pager", *command], capture_output=True,
                             text=True, check=False)
        said = ran.stdout + ran.stderr
        expect(ran.returncode == 0, said)
        ours = [line for line in said.splitlines() if re.match(r".*brinegate\.service:\d+:", line)]
        expect(not ours, ours)


if __name__ == "__main__":
    run(others_see_nothing_of_what_it_writes, a_record_that_everybody_may_write_is_refused,
        the_unit_is_sound_and_its_sandbox_tight)
