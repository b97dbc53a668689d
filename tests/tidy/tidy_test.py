#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Style and layering as a test: what the house rules forbid, searched for in the sources.

Each rule is a function from a file to the complaints about it; each has a sample beside it that it
must complain about, so that no rule passes because it looks at nothing. Run: tidy_test.py [-v]
"""

import pathlib
import re
import subprocess
import unittest

ROOT = pathlib.Path(__file__).resolve().parents[2]
RINGS = ("rules", "config", "drivers", "daemon", "sim")
MOST_COLUMNS = 100
MOST_FUNCTION_LINES = 70
MOST_FILE_LINES = 600


class Source:
    """A file: its path from the root, its lines, and its lines without comments and texts."""

    def __init__(self, path, text):
        self.path = path
        self.ring = path.split("/")[0]
        self.is_engine = path.startswith("daemon/engine/")
        self.is_cpp = path.endswith((".cpp", ".h"))
        self.is_pure = self.ring in ("rules", "config") or self.is_engine
        self.text = text
        self.lines = text.splitlines()
        self.code = blank_comments_and_texts(text).splitlines() if self.is_cpp else []

    def complain(self, line_index, what):
        return f"{self.path}:{line_index + 1}: {what}"


def blank_comments_and_texts(text):
    """The same text, with the insides of comments and literals as spaces."""
    pattern = re.compile(
        r'R"(?P<mark>[^(\s]*)\(.*?\)(?P=mark)"|//[^\n]*|/\*.*?\*/'
        r'|"(?:\\.|[^"\\\n])*"|(?<![0-9a-fA-F])\'(?:\\.|[^\'\\\n])+\'',
        re.DOTALL)
    blank = lambda found: re.sub(r"[^\n]", " ", found.group())
    # Includes keep their paths.
    parts = re.split(r"(^#include[^\n]*\n)", text, flags=re.MULTILINE)
    return "".join(p if p.startswith("#include") else pattern.sub(blank, p) for p in parts)


def find(source, pattern, what):
    found = re.compile(pattern)
    return [source.complain(i, what) for i, line in enumerate(source.code) if found.search(line)]


# --- Rules on one file -----------------------------------------------------------------------


def has_licence_line(source):
    first_two = source.lines[:2]
    if any("SPDX-License-Identifier: Apache-2.0" in line for line in first_two):
        return []
    return [source.complain(0, "the first line must be the SPDX licence line")]


def says_what_it_is_for(source):
    if not source.path.endswith(".h") or source.path.startswith("tests/"):
        return []
    if len(source.lines) > 1 and re.match(r"// \S", source.lines[1]):
        return []
    return [source.complain(1, "a comment must say what the file is for")]


def has_short_plain_lines(source):
    complaints = []
    for i, line in enumerate(source.lines):
        if "\t" in line:
            complaints.append(source.complain(i, "a tab; indent with spaces"))
        # TOML does not let an inline table be broken.
        if len(line) > MOST_COLUMNS and not line.startswith("source = {"):
            complaints.append(source.complain(i, f"more than {MOST_COLUMNS} columns"))
        if line != line.rstrip():
            complaints.append(source.complain(i, "spaces at the end of the line"))
    return complaints


def is_short(source):
    if len(source.lines) <= MOST_FILE_LINES:
        return []
    return [source.complain(0, f"{len(source.lines)} lines, at most {MOST_FILE_LINES}: split it")]


def function_lengths(code):
    """(first line, lines) of each outermost block that is not a namespace, type or table."""
    not_a_function = re.compile(r"\b(namespace|class|struct|enum|union|extern)\b[^;()]*\{\s*$"
                                r"|=\s*(\w+)?\{|\w\{[^()]*$")
    stack = []
    for i, line in enumerate(code):
        for column, letter in enumerate(line):
            if letter == "{":
                head = line[:column + 1]
                before = code[i - 1] if i > 0 and not head.strip("{ ") else ""
                within = any(kind == "function" for kind, _ in stack)
                kind = "scope" if within or not_a_function.search(before + head) else "function"
                stack.append((kind, i))
            elif letter == "}" and stack:
                kind, begin = stack.pop()
                if kind == "function":
                    yield begin, i - begin + 1


def has_short_functions(source):
    return [
        source.complain(begin, f"a function of {lines} lines, at most {MOST_FUNCTION_LINES}")
        for begin, lines in function_lengths(source.code) if lines > MOST_FUNCTION_LINES
    ]


MAY_INCLUDE = {
    "rules": ("rules/",),
    "config": ("rules/", "config/"),
    "drivers": ("rules/", "config/", "drivers/"),
    "engine": ("rules/", "config/", "daemon/engine/", "drivers/driver.h",
               "drivers/station_outputs.h"),
    "daemon": ("rules/", "config/", "drivers/", "daemon/"),
    "sim": ("rules/", "config/", "daemon/engine/", "drivers/driver.h", "drivers/output_intent.h",
            "sim/"),
}


def keeps_to_its_ring(source):
    allowed = MAY_INCLUDE.get("engine" if source.is_engine else source.ring)
    if allowed is None:
        return []
    complaints = []
    for i, line in enumerate(source.code):
        included = re.match(r'#include "([^"]+)"', line)
        if included and not included.group(1).startswith(allowed):
            complaints.append(source.complain(i, f"{included.group(1)} belongs to another ring"))
        outside = re.match(r"#include <([^>]+)>", line)
        if (outside and source.ring == "rules" and "/" in outside.group(1)
                and not outside.group(1).startswith("fmt/")):
            complaints.append(
                source.complain(i, "rules may use only the standard library and fmt"))
    return complaints


def owns_no_world(source):
    if not source.is_pure:
        return []
    reads_its_file = source.path == "config/load.cpp"
    headers = r"thread|mutex|shared_mutex|condition_variable|future|iostream|unistd\.h|sys/[^>]+"
    if not reads_its_file:
        headers += r"|fstream"
    return (find(source, rf"#include <({headers})>", "no threads, files or system calls here")
            + find(source, r"::now\s*\(", "time is an argument; no clock is read here")
            + find(source, r"\bsleep(_for|_until)?\s*\(", "nothing here waits")
            + find(source, r"\b(s?rand|getenv|system)\s*\(", "no hidden input here")
            + find(source, r"\btime\s*\(\s*(nullptr|NULL|0|&)", "time is an argument")
            + find(source, r"\brandom_device\b", "no hidden input here"))


def has_no_mutable_statics(source):
    if not source.is_cpp or source.path.startswith("tests/"):
        return []
    complaints = []
    for i, line in enumerate(source.code):
        if not re.match(r"\s+static\s", line) or re.search(r"\bconst(expr)?\b", line):
            continue
        if "(" not in line or re.match(r"\s+static\s+[\w:<>, ]+\s+\w+\s*(=|;|\{)", line):
            complaints.append(source.complain(i, "a mutable static; pass the state along"))
    return complaints


def shares_no_ownership(source):
    if source.ring != "rules" and not source.is_engine:
        return []
    return find(source, r"\bshared_ptr\b", "one owner a thing: no shared_ptr here")


def uses_no_coroutines(source):
    return find(source, r"\bco_(await|return|yield)\b", "g++ 12 miscompiles coroutines")


def leaves_nothing_open(source):
    open_end = re.compile(r"\b(TO" r"DO|FIX" r"ME|XX" r"X|HA" r"CK)\b|GTEST_SK" r"IP|DISA" r"BLED_")
    return [source.complain(i, "left open: finish it or take it out")
            for i, line in enumerate(source.lines) if open_end.search(line)]


def names_only_the_project(source):
    # Paths of a machine, and words of a workplace; written in pieces so as not to find itself.
    foreign = re.compile(
        r"/(wo" r"rk|tmp/b" r"g|ro" r"ot|home/\w+)/|\bsub" r"age" r"nt|\btrans" r"cript\b"
        r"|\b(?<!user-)age" r"nts?\b|https?://regis" r"try\.", re.IGNORECASE)
    return [source.complain(i, "the project speaks of itself alone")
            for i, line in enumerate(source.lines) if foreign.search(line)]


def implements_a_header(source):
    if not source.path.endswith(".cpp") or source.path.startswith("tests/"):
        return []
    if source.path.endswith("/main.cpp"):
        return []
    if any(re.match(rf'#include "{source.ring}/', line) for line in source.code):
        return []
    return [source.complain(0, "includes no header of its ring, so it can implement none")]


# --- Rules on the tree -----------------------------------------------------------------------


def every_header_is_included(sources):
    included = set()
    for source in sources:
        for line in source.code:
            found = re.match(r'#include "([^"]+)"', line)
            if found and found.group(1) != source.path[:-4] + ".h":
                included.add(found.group(1))
    return [source.complain(0, "included by nobody but its own source")
            for source in sources if source.path.endswith(".h") and source.path not in included]


FILE_RULES = {
    # rule: (path of a sample, sample it must complain about)
    has_licence_line: ("rules/a.h", "#pragma once\n"),
    says_what_it_is_for: ("rules/a.h", "// SPDX-License-Identifier: Apache-2.0\n#pragma once\n"),
    has_short_plain_lines: ("rules/a.h", "int a;" + " " * 95 + "// b\n"),
    is_short: ("sim/a.cpp", "int a;\n" * (MOST_FILE_LINES + 1)),
    has_short_functions: ("sim/a.cpp", "namespace a {\nint f() {\n" + "++b;\n" * 69 + "}\n}\n"),
    implements_a_header: ("rules/a.cpp", "#include <string>\n"),
    keeps_to_its_ring: ("rules/a.h", '#include "config/model.h"\n'),
    owns_no_world: ("config/a.cpp", "auto t = std::chrono::steady_clock::now();\n"),
    has_no_mutable_statics: ("rules/a.cpp", "int f() {\n  static int calls = 0;\n}\n"),
    shares_no_ownership: ("rules/a.h", "std::shared_ptr<int> a;\n"),
    uses_no_coroutines: ("drivers/a.cpp", "co_await a();\n"),
    leaves_nothing_open: ("sim/a.cpp", "// TO" "DO: more\n"),
    names_only_the_project: ("sim/a.cpp", "// see /wo" "rk/main\n"),
}


def tracked_sources():
    listed = subprocess.run(["git", "ls-files", "--cached", "--others", "--exclude-standard"],
                            cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0:
        paths = listed.stdout.splitlines()
    else:  # unpacked without its history
        paths = [str(p.relative_to(ROOT)) for p in ROOT.rglob("*") if "build" not in p.parts]
    for path in sorted(set(paths)):
        file = ROOT / path
        if re.search(r"\.(cpp|h|py|sh)$", path) and file.is_file():
            yield Source(path, file.read_text(encoding="utf-8"))


class Tidy(unittest.TestCase):
    maxDiff = None

    @classmethod
    def setUpClass(cls):
        cls.sources = list(tracked_sources())
        cls.cpp = [source for source in cls.sources if source.is_cpp]

    def test_there_is_something_to_look_at(self):
        for ring in RINGS:
            self.assertTrue([s for s in self.cpp if s.ring == ring], ring)

    def test_every_header_is_used(self):
        self.assertEqual([], every_header_is_included(self.cpp))

    def test_engine_may_know_the_drivers_interface_only(self):
        bad = Source("daemon/engine/a.cpp", '#include "drivers/modbus_line.h"\n')
        good = Source("daemon/engine/a.cpp", '#include "drivers/driver.h"\n')
        self.assertEqual(1, len(keeps_to_its_ring(bad)))
        self.assertEqual([], keeps_to_its_ring(good))

    def test_comments_and_texts_are_not_code(self):
        source = Source("rules/a.cpp", '// a::now()\nconst char* b = "a::now()";\n/* a::now() */\n')
        self.assertEqual([], owns_no_world(source))

    def test_functions_are_measured_from_brace_to_brace(self):
        code = "struct A {\n  int f() {\n    return 1;\n  }\n};\nint g() {\n  if (a) {\n  }\n}\n"
        self.assertEqual([(1, 3), (5, 4)], list(function_lengths(code.splitlines())))

    def test_orphans_are_found(self):
        alone = [Source("rules/a.cpp", "int a;\n"), Source("rules/b.h", "int b;\n")]
        self.assertEqual(1, len(every_header_is_included(alone)))


def add_tests_of(rule, path, sample):
    name = rule.__name__

    def holds(self):
        self.assertEqual([], [c for source in self.sources for c in rule(source)])

    def can_fail(self):
        self.assertTrue(rule(Source(path, sample)), f"{name} does not see its own sample")

    setattr(Tidy, f"test_{name}", holds)
    setattr(Tidy, f"test_{name}_can_fail", can_fail)


for each_rule, (sample_path, sample_text) in FILE_RULES.items():
    add_tests_of(each_rule, sample_path, sample_text)

if __name__ == "__main__":
    unittest.main()
