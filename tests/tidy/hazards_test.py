#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""HAZARDS.md and SECURITY.md cannot drift from the tests: every requirement names tests that exist
and speak of it, every hazard a requirement, a test or hardware. Run: hazards_test.py [-v]"""

import pathlib
import re
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
REQUIREMENTS = [f"S{number}" for number in range(1, 24)]
HAZARDS = [f"H{number}" for number in range(1, 30)]
NOT_YET = set()  # requirements that nothing answers yet


def rows_of(text, first_cell):
    """The cells of each row of a table whose first cell looks like that."""
    rows = [[cell.strip() for cell in line.strip("|").split(" | ")]
            for line in text.splitlines() if re.match(rf"\| {first_cell}", line)]
    return {re.match(r"\w+", row[0].strip("| ")).group(): row for row in rows}


def paths_in(text):
    return re.findall(r"`(tests/[\w/.]+)`", text)


def complaints_of_requirement(name, shown_by, read, not_yet=frozenset(NOT_YET)):
    """What is wrong with the last cell of its row; `read` gives a file's text or None."""
    if name in not_yet:
        return [] if shown_by == "*not yet*" else [f"{name} is answered: take it out of NOT_YET"]
    found = []
    paths = paths_in(shown_by)
    if not paths:
        found.append(f"{name} names no test")
    texts = {path: read(path) or "" for path in paths}
    found += [f"{name}: there is no {path}" for path, text in texts.items() if not text]
    for suite, test in re.findall(r"`(\w+)\.(\w+)`", shown_by):
        if not any(re.search(rf"TEST\w*\(\s*{suite},\s*{test}\)", text) for text in texts.values()):
            found.append(f"{name}: there is no test {suite}.{test}")
    speaks_of_it = any(re.search(rf"\b{name}\b", text) for text in texts.values())
    if not speaks_of_it and not re.search(r"`\w+\.[A-Z]\w+`", shown_by):
        found.append(f"{name}: none of its tests names it")
    return found


def complaints_of_hazard(name, row, read, not_yet=frozenset(NOT_YET)):
    answer, hardware = row[2], row[3]
    requirements = re.findall(r"\bS\d+\b", answer)
    paths = paths_in(answer)
    found = [f"{name}: there is no {path}" for path in paths if not read(path)]
    found += [f"{name}: {each} is no requirement" for each in requirements
              if each not in REQUIREMENTS]
    if not requirements and not paths and hardware == "–":
        found.append(f"{name} is answered by nothing")
    if requirements and set(requirements) <= not_yet and "*not yet*" not in answer:
        found.append(f"{name} passes for answered, but {requirements} are not")
    return found


def read_file(path):
    file = ROOT / path
    return file.read_text(encoding="utf-8") if file.is_file() else None


class Hazards(unittest.TestCase):
    maxDiff = None

    @classmethod
    def setUpClass(cls):
        text = read_file("HAZARDS.md")
        cls.requirements = rows_of(text, r"S\d+ ")
        cls.hazards = rows_of(text, r"H\d+ ")

    def test_every_requirement_and_every_hazard_has_one_row_in_order(self):
        self.assertEqual(REQUIREMENTS, list(self.requirements))
        self.assertEqual(HAZARDS, list(self.hazards))

    def test_every_requirement_is_shown_by_tests_that_exist(self):
        self.assertEqual([], [complaint for name, row in self.requirements.items()
                              for complaint in complaints_of_requirement(name, row[-1], read_file)])

    def test_every_hazard_is_answered(self):
        self.assertEqual([], [complaint for name, row in self.hazards.items()
                              for complaint in complaints_of_hazard(name, row, read_file)])

    def test_every_safety_test_belongs_to_a_requirement(self):
        tests = (ROOT / "tests/safety").glob("s[0-9][0-9]_*.cpp")
        numbers = {int(path.name[1:3]) for path in tests}
        self.assertTrue(numbers)
        self.assertLessEqual({f"S{number}" for number in numbers}, set(REQUIREMENTS) - NOT_YET)

    def test_what_is_defended_is_shown_by_tests_that_exist(self):
        paths = paths_in(read_file("SECURITY.md"))
        self.assertGreater(len(paths), 5)
        self.assertEqual([], [path for path in paths if not read_file(path)])

    def test_a_missing_test_is_seen(self):
        def read(path):
            return "TEST(S1, A) {}" if path == "tests/a.cpp" else None

        seen = lambda name, cell: complaints_of_requirement(name, cell, read)
        self.assertEqual([], seen("S1", "`tests/a.cpp`"))
        self.assertTrue(seen("S2", "`tests/a.cpp`"))
        self.assertTrue(seen("S1", "`tests/b.cpp`"))
        self.assertTrue(seen("S1", "`tests/a.cpp`: `S1.B`"))
        self.assertTrue(seen("S1", "*not yet*"))
        self.assertTrue(complaints_of_requirement("S18", "`tests/a.cpp`", read, {"S18"}))
        unanswered = ["H1", "runs", "–", "–"]
        self.assertTrue(complaints_of_hazard("H1", unanswered, read))
        self.assertTrue(complaints_of_hazard("H1", ["H1", "runs", "S18", "–"], read, {"S18"}))
        self.assertTrue(complaints_of_hazard("H1", ["H1", "runs", "S77", "–"], read))


if __name__ == "__main__":
    unittest.main()
