#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""brinegate-sim campaign as a process: its statuses, and files that other programs can read."""

import argparse
import json
import subprocess
import tempfile
import unittest
import xml.etree.ElementTree
from pathlib import Path

SIMULATOR = None


def campaign(*words):
    return subprocess.run([SIMULATOR, "campaign", *words], capture_output=True, text=True,
                          timeout=120, check=False)


class Campaign(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = Path(folder.name)

    def read(self, *words):
        """What it said, its JSON and its HTML read as XML."""
        done = campaign(*words, "--json", self.folder / "found.json",
                        "--html", self.folder / "found.html")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        xml.etree.ElementTree.parse(self.folder / "found.html")
        return done.stdout, json.loads((self.folder / "found.json").read_text())

    def test_good_batches_are_proven(self):
        table, found = self.read("--kind", "good", "--batches", "3", "--seed", "5")
        self.assertRegex(table, r"proven +3 +100\.0 %")
        self.assertEqual(found["proven"], 3)
        self.assertEqual(found["plan"]["first_seed"], 5)

    def test_the_number_of_threads_changes_nothing(self):
        findings = []
        for threads in ("1", "3"):
            _, found = self.read("--batches", "4", "--threads", threads)
            del found["cpu_seconds"], found["million_station_seconds_per_cpu_second"]
            findings.append(found)
        self.assertEqual(findings[0], findings[1])

    def test_a_replay_tells_and_draws_one_batch(self):
        done = campaign("--replay", "5", "--kind", "good", "--html", self.folder / "course.html")
        self.assertEqual((done.returncode, done.stderr), (0, ""))
        self.assertIn("seed 5, kind good", done.stdout)
        self.assertIn("found: proven", done.stdout)
        xml.etree.ElementTree.parse(self.folder / "course.html")

    def test_says_what_it_could_not_do(self):
        unwritten = campaign("--replay", "5", "--kind", "good", "--html", self.folder / "no/a.html")
        self.assertEqual(unwritten.returncode, 2)
        self.assertIn("no/a.html", unwritten.stderr)
        misused = campaign("--batches", "none")
        self.assertEqual(misused.returncode, 2)
        self.assertIn("--batches", misused.stderr)
        self.assertEqual(campaign("--help").returncode, 0)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("brinegate")
    parser.add_argument("simulator")
    arguments, others = parser.parse_known_args()
    SIMULATOR = arguments.simulator
    unittest.main(argv=[__file__, *others])
