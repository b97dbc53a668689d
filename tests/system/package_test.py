#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The Debian package: lintian finds no error, its manual pages and its completion are sound, and it
is installed, run under its unit, upgraded, removed and purged on an overlay of this machine that is
booted as one of its own and goes with us."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from booted_machine import booted
from own_mounts import have_own_mounts
from rig import ask, binaries, expect, wait_for

UNIT = "brinegate.service"

CONFIGURATION = """
site = "cellar"
data = "/var/lib/brinegate"
[profile.reef]
salinity = "35 ppt"
tolerance = "1 ppt"
temperature = ["24 C", "26 C"]
[station.mixer]
profile = "reef"
capacity = "200 L"
[station.mixer.probe.refractometer]
measures = "salinity"
source = { command = ["/bin/sleep", "9"], in = "ppt" }
"""


def said(*command, **options):
    ran = subprocess.run([str(word) for word in command], capture_output=True, text=True,
                         check=False, **options)
    expect(ran.returncode == 0, f"{command}: {ran.returncode}\n{ran.stdout}{ran.stderr}")
    return ran.stdout + ran.stderr


def build_package(build, folder):
    said("cmake", "--build", build, "--target", "package_files")
    said("cpack", "--config", build / "CPackConfig.cmake", "-B", folder)
    packages = list(folder.glob("*.deb"))
    expect(len(packages) == 1, f"{packages}")
    return packages[0]


def newer(package, folder):
    """The same with a later version, to be upgraded to."""
    said("dpkg-deb", "-R", package, folder / "newer")
    control = folder / "newer/DEBIAN/control"
    control.write_text(control.read_text().replace("\nVersion: ", "\nVersion: 9."))
    said("dpkg-deb", "-b", folder / "newer", folder / "newer.deb")
    return folder / "newer.deb"


def check_contents(package, folder):
    found = said("lintian", "--fail-on", "error", package)
    expect("E: " not in found, found)
    said("dpkg-deb", "-x", package, folder / "unpacked")
    usr = folder / "unpacked/usr"
    for page in ("brinegate.1.gz", "brinegate-sim.1.gz"):
        warned = said("man", "--warnings", "-l", usr / "share/man/man1" / page,
                      env={**os.environ, "MANPAGER": "cat", "MANROFFSEQ": "", "LC_ALL": "C.UTF-8"})
        expect("brinegate" in warned and "warning" not in warned, warned[-2000:])


def completed(script, words):
    ask_bash = ('. "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _brinegate; '
                'printf "%s " "${COMPREPLY[@]}"')
    return set(said("bash", "-c", ask_bash, "bash", script, *words).split())


def check_completion(usr):
    script = usr / "share/bash-completion/completions/brinegate"
    expect(completed(script, ["brinegate", "ba"]) == {"batch"}, "batch")
    expect({"begin", "note"} <= completed(script, ["brinegate", "batch", ""]), "batch begin")
    note = completed(script, ["brinegate", "batch", "note", "mixer", "--"])
    expect({"--salt", "--water"} <= note, f"options of batch note: {note}")
    expect(completed(script, ["brinegate", "change", "mixer", "--vol"]) == {"--volume"}, "--volume")
    expect(not completed(script, ["brinegate", "change", "mixer", "--volume", ""]), "no word fits")


def overlay(folder):
    """All of this machine, on which what is written is ours and gone with us."""
    said("mount", "-t", "tmpfs", "tmpfs", folder)
    for name in ("above", "work", "root"):
        (folder / name).mkdir()
    said("mount", "-t", "overlay", "overlay", "-o",
         f"lowerdir=/,upperdir={folder}/above,workdir={folder}/work", folder / "root")
    for name in ("proc", "dev"):
        said("mount", "--rbind", f"/{name}", folder / "root" / name)
    return folder / "root"


def try_installation(package, later):
    folder = Path(tempfile.mkdtemp(prefix="brinegate-package-"))
    root = overlay(folder)
    shutil.copy(package, root / "first.deb")
    shutil.copy(later, root / "later.deb")
    (root / "usr/sbin/policy-rc.d").unlink(missing_ok=True)  # a container's "start nothing"
    machine = booted(root)
    if machine is None:
        print("no machine can be booted here: installed, but not as a service")
        changed_root = ChangedRoot(root)
        install(changed_root)
        keep_a_record(root)
        upgrade(changed_root, root)
        remove(changed_root, root)
        return
    with machine:
        install(machine)
        machine.must("systemctl", "start", UNIT)
        expect(machine.process_of(UNIT) == "0", "runs without a configuration")
        try_service(machine, root)
        process = machine.process_of(UNIT)
        upgrade(machine, root)
        machine.seconds_until_another(UNIT, process)
        remove(machine, root)
        expect(machine.runs("systemctl", "cat", UNIT).returncode != 0, "purged, and a unit is left")


def try_service(machine, root):
    """The unit's service is replaced when it dies or freezes, and refuses a bad configuration
    while it goes on."""
    configuration = root / "etc/brinegate/brinegate.toml"
    configuration.parent.mkdir(exist_ok=True)
    configuration.write_text(CONFIGURATION.replace('"200 L"', '"much"'))
    expect(machine.runs("systemctl", "start", UNIT).returncode != 0, "took a bad configuration")
    expect(machine.must("systemctl", "show", "-p", "NRestarts", "--value", UNIT) == "0",
           "tried a bad configuration again")
    configuration.write_text(CONFIGURATION)
    machine.must("systemctl", "reset-failed", UNIT)
    machine.must("systemctl", "start", UNIT)
    expect("mixer" in machine.must("brinegate", "status"), "no status")
    for signal, longest in (("KILL", 10), ("STOP", 20)):
        process = machine.process_of(UNIT)
        machine.must("kill", f"-{signal}", process)
        took = machine.seconds_until_another(UNIT, process)
        print(f"another {took:.1f} s after SIG{signal}")
        expect(took < longest, f"another only {took} s after SIG{signal}")
    process = machine.process_of(UNIT)
    configuration.write_text(CONFIGURATION.replace('"200 L"', '"much"'))
    expect(machine.runs("systemctl", "reload", UNIT).returncode != 0, "reloaded what is bad")
    configuration.write_text(CONFIGURATION.replace('"200 L"', '"250 L"'))
    machine.must("systemctl", "reload", UNIT)
    machine.must("brinegate", "status")
    expect(machine.process_of(UNIT) == process, "another process after a reload")


def install(machine):
    machine.must("dpkg", "-i", "/first.deb")
    expect("brinegate" in machine.must("getent", "passwd", "brinegate"), "no user")
    machine.must("brinegate", "help")


def upgrade(machine, root):
    machine.must("dpkg", "-i", "/later.deb")
    expect(any(record_in(root).glob("*.db")), "the upgrade lost the record")


def remove(machine, root):
    machine.must("dpkg", "-r", "brinegate")
    expect(not (root / "usr/bin/brinegate").exists(), "removed, and still there")
    expect(any(record_in(root).glob("*.db")), "removing took the record away")
    machine.must("dpkg", "-P", "brinegate")
    expect(not record_in(root).exists() and not (root / "etc/brinegate").exists(),
           "purged, and still there")


def record_in(root):
    return root / "var/lib/brinegate"


class ChangedRoot:
    """What a machine of its own would be, where none can be booted."""

    def __init__(self, root):
        self.root = root

    def must(self, *command):
        return said("chroot", self.root, *command)


def keep_a_record(root):
    """Runs the daemon as the unit does: as its user, with the folders the unit makes for it."""
    for name, mode in (("var/lib/brinegate", 0o700), ("etc/brinegate", 0o755)):
        (root / name).mkdir(exist_ok=True)
        (root / name).chmod(mode)
    said("chroot", root, "chown", "brinegate:", "/var/lib/brinegate")
    (root / "etc/brinegate/brinegate.toml").write_text(CONFIGURATION)
    daemon = subprocess.Popen(["chroot", "--userspec=brinegate:brinegate", root, "brinegate", "run",
                               "--config", "/etc/brinegate/brinegate.toml"])
    try:
        socket = record_in(root) / "brinegate.sock"
        wait_for(socket.exists, 10, "the control socket")
        answer = ask(socket, '{"do": "status"}')
        expect("stations" in answer, f"{answer}")
    finally:
        daemon.terminate()
        expect(daemon.wait(20) == 0, "did not end well")


def main():
    may_install = have_own_mounts()
    build = Path(binaries().brinegate).parent.parent
    with tempfile.TemporaryDirectory(prefix="brinegate-package-") as name:
        folder = Path(name)
        package = build_package(build, folder)
        check_contents(package, folder)
        check_completion(folder / "unpacked/usr")
        if may_install:
            try_installation(package, newer(package, folder))
        else:
            print("mounting is not allowed here: not installed")


if __name__ == "__main__":
    main()
