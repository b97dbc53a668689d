#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Do the tests notice? Puts each deliberate defect into a copy of the sources, builds, runs the
tests until one fails, and prints what caught it, or that it survived.

run.py [--build FOLDER] [--tests test_rules,test_explore] [words of the defects to try]
"""

import argparse
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

from defects import DEFECTS

ROOT = pathlib.Path(__file__).resolve().parents[2]
TESTS = ("test_rules", "test_safety", "test_daemon", "test_explore")  # the slowest last
LONGEST = 600  # s, of one test executable


def copy_sources(to):
    listed = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
                            cwd=ROOT, capture_output=True, check=True).stdout
    for path in filter(None, listed.decode().split("\0")):
        if not (ROOT / path).is_file():
            continue
        target = to / path
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists() or target.read_bytes() != (ROOT / path).read_bytes():
            shutil.copyfile(ROOT / path, target)
            shutil.copymode(ROOT / path, target)


def build(folder, target):
    return subprocess.run(["cmake", "--build", folder / "build/dev", "--target", target, "-j2"],
                          capture_output=True, text=True, check=False)


def fails(folder, test):
    """What of it fails first; None where nothing does."""
    # What breaks many tests need not break them all before it is believed.
    environment = {**os.environ, "GTEST_FAIL_FAST": "1", "GTEST_BRIEF": "1"}
    try:
        ran = subprocess.run([folder / "build/dev/tests" / test], cwd=folder, env=environment,
                             capture_output=True, text=True, errors="replace", timeout=LONGEST,
                             check=False)
    except subprocess.TimeoutExpired:
        return "does not end"
    if ran.returncode == 0:
        return None
    failed = [line for line in ran.stdout.splitlines() if line.startswith("[  FAILED  ]")]
    return failed[0][13:].split(",")[0].split(" (")[0] if failed else "ends with an error"


def try_defect(folder, tests, file, text, instead):
    """(whether it was caught, by what)"""
    path = folder / file
    sound = path.read_text(encoding="utf-8")
    if sound.count(text) != 1:
        return None, f"its text stands {sound.count(text)} times in {file}"
    path.write_text(sound.replace(text, instead), encoding="utf-8")
    try:
        for test in tests:
            built = build(folder, test)
            if built.returncode != 0:
                return None, "does not compile: " + " ".join(
                    line for line in built.stdout.splitlines() if "error" in line)[:300]
            what = fails(folder, test)
            if what:
                return True, f"{test}: {what}"
        return False, "survived"
    finally:
        path.write_text(sound, encoding="utf-8")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--build", type=pathlib.Path, help="keep the copy here for the next time")
    parser.add_argument("--tests", type=lambda names: names.split(","), default=TESTS)
    parser.add_argument("words", nargs="*")
    arguments = parser.parse_args()
    folder = arguments.build or pathlib.Path(tempfile.mkdtemp(prefix="brinegate-mutants-"))
    folder.mkdir(parents=True, exist_ok=True)
    copy_sources(folder)
    subprocess.run(["cmake", "--preset", "dev"], cwd=folder, stdout=subprocess.DEVNULL, check=True)
    for test in arguments.tests:
        built = build(folder, test)
        broken = built.stdout[-2000:] if built.returncode != 0 else fails(folder, test)
        if broken:
            sys.exit(f"{test} fails without any defect: {broken}")

    caught, survived, void = 0, [], []
    for what, file, text, instead in DEFECTS:
        if arguments.words and not any(word in what + file for word in arguments.words):
            continue
        began = time.monotonic()
        result, by = try_defect(folder, arguments.tests, file, text, instead)
        caught += result is True
        if result is False:
            survived.append(what)
        elif result is None:
            void.append(what)
        print(f"{what} ({file}): {by} ({time.monotonic() - began:.0f} s)", flush=True)
    print(f"\n{caught} caught, {len(survived)} survived, {len(void)} could not be tried")
    for what in survived + void:
        print(f"  {what}")
    if not arguments.build:
        shutil.rmtree(folder)
    sys.exit(1 if survived or void else 0)


if __name__ == "__main__":
    main()
