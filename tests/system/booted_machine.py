# SPDX-License-Identifier: Apache-2.0
"""A folder booted as a machine of its own: its systemd is process 1 of name spaces of its own, sees
no network but loopback, and goes with whoever booted it."""

import os
import subprocess
import time
from pathlib import Path

from rig import expect, wait_for

NAME_SPACES = ("--mount", "--pid", "--uts", "--ipc", "--net", "--cgroup")
DEVICES = ("null", "zero", "full", "random", "urandom", "tty")
BOOT = """
set -e
root=$1
mount --make-rprivate /
mount -t proc proc "$root/proc"
mount -t sysfs sysfs "$root/sys"
if grep -q :name=systemd: /proc/self/cgroup; then
  mount -t tmpfs tmpfs "$root/sys/fs/cgroup"
  mkdir "$root/sys/fs/cgroup/systemd" "$root/sys/fs/cgroup/unified"
  mount -t cgroup -o none,name=systemd cgroup "$root/sys/fs/cgroup/systemd"
  mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup/unified"
else
  mount -t cgroup2 cgroup2 "$root/sys/fs/cgroup"
fi
mount -t tmpfs -o mode=755 tmpfs "$root/dev"
mkdir "$root/dev/pts" "$root/dev/shm"
for device in DEVICES; do
  touch "$root/dev/$device"
  mount --bind "/dev/$device" "$root/dev/$device"
done
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$root/dev/pts"
ln -s pts/ptmx "$root/dev/ptmx"
mount -t tmpfs -o mode=755 tmpfs "$root/run"
mount -t tmpfs tmpfs "$root/tmp"
exec chroot "$root" env -i container=other PATH=/usr/sbin:/usr/bin:/sbin:/bin \
  /lib/systemd/systemd --system --log-target=null --unit=basic.target
""".replace("DEVICES", " ".join(DEVICES))


class ControlGroups:
    """One in each hierarchy, in which the machine makes its own."""

    def __init__(self):
        self.folders = []
        for line in Path("/proc/self/cgroup").read_text().splitlines():
            _, controllers, path = line.split(":", 2)
            top = Path("/sys/fs/cgroup", {"name=systemd": "systemd", "": "unified"}.get(
                controllers, controllers))
            if not top.is_dir():  # the only hierarchy
                top = Path("/sys/fs/cgroup")
            if controllers != "cpuset":  # has to be filled before it can be entered
                self.folders.append(top / path.lstrip("/") / f"brinegate-test-{os.getpid()}")

    def enter(self):
        for folder in self.folders:
            folder.mkdir()
            (folder / "cgroup.procs").write_text(str(os.getpid()))

    def leave(self):
        for folder in filter(Path.is_dir, self.folders):
            (folder.parent / "cgroup.procs").write_text(str(os.getpid()))

    def are_empty(self):
        return not any(processes.read_text() for folder in self.folders
                       for processes in folder.rglob("cgroup.procs"))

    def remove(self):
        for folder in self.folders:
            for below, _, _ in os.walk(folder, topdown=False):
                os.rmdir(below)


def booted(root):
    """None where no machine can be booted here."""
    try:
        machine = BootedMachine(root)
    except OSError as why:
        print(why)
        return None
    if machine.comes_up():
        return machine
    machine.end()
    return None


class BootedMachine:
    """`root` must be a folder of ours to write to. As a context: booted in, gone behind."""

    def __init__(self, root):
        self.groups = ControlGroups()
        try:
            self.groups.enter()
            # However we end, it does not go on.
            self.process = subprocess.Popen(
                ["setpriv", "--pdeathsig", "KILL", "unshare", *NAME_SPACES, "--fork",
                 "--kill-child=KILL", "sh", "-c", BOOT, "sh", str(root)],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        except OSError:
            self.groups.leave()
            self.groups.remove()
            raise
        self.groups.leave()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.end()

    def end(self):
        self.process.kill()
        self.process.wait()
        wait_for(self.groups.are_empty, 10, "the end of all that was in it")
        self.groups.remove()

    def comes_up(self, seconds=30):
        end = time.monotonic() + seconds
        while time.monotonic() < end and self.process.poll() is None:
            if self.init() and self.is_active("basic.target"):
                return True
            time.sleep(0.2)
        return False

    def init(self):
        """The process id, as it is outside, of its process 1."""
        children = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        return children.split()[0] if children else None

    def runs(self, *command, seconds=60):
        init = self.init()
        return subprocess.run(
            ["nsenter", "-t", init, "-m", "-p", "-n", "-u", "-i", "-C", f"-r/proc/{init}/root",
             f"-w/proc/{init}/root", *(str(word) for word in command)],
            capture_output=True, text=True, timeout=seconds, check=False)

    def must(self, *command):
        ran = self.runs(*command)
        expect(ran.returncode == 0, f"{command}: {ran.returncode}\n{ran.stdout}{ran.stderr}")
        return ran.stdout.strip()

    def is_active(self, unit):
        return self.runs("systemctl", "is-active", unit).stdout == "active\n"

    def process_of(self, unit):
        """Its process id as it is inside; "0": none."""
        return self.must("systemctl", "show", "-p", "MainPID", "--value", unit)

    def seconds_until_another(self, unit, process):
        """Until another process than this one is the unit's, and ready."""
        began = time.monotonic()
        wait_for(lambda: self.process_of(unit) not in ("0", process) and self.is_active(unit), 30,
                 lambda: self.runs("systemctl", "--no-pager", "status", unit).stdout)
        return time.monotonic() - began
