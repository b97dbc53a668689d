#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The README's way from three analyses to a batch's record, command by command as it stands there:
what it prints is what the README shows, and a batch of two lots is proven and told of after."""

import os
import shlex
import subprocess

from rig import HERE, expect, run

REPOSITORY = HERE.parent.parent
HEADING = "## Which lot, from three analyses to the batch's record"
EXAMPLES = REPOSITORY / "config/examples"


def examples():
    """Pairs of a command's words and what the README shows of its output."""
    text = (REPOSITORY / "README.md").read_text()
    section = text.split(HEADING + "\n")[1].split("\n## ")[0]
    found = []
    for block in section.split("```\n")[1::2]:
        for line in block.splitlines():
            if line.startswith("$ "):
                found.append((shlex.split(line[2:]), []))
            else:
                found[-1][1].append(line)
    return [(words[1:], shown) for words, shown in found if words[0] == "brinegate"]


def say(bench, words):
    """Exit status and output, in the folder of the examples."""
    ran = subprocess.run(
        [bench.brinegate, *words], capture_output=True, text=True, timeout=30, cwd=EXAMPLES,
        env={**os.environ, "LC_ALL": "C.UTF-8",
             "BRINEGATE_CONFIG": str(bench.daemon.configuration)}, check=False)
    expect(ran.returncode == 0, f"{words}: {ran.returncode}: {ran.stderr}{ran.stdout}")
    return ran.stdout


def mix(bench):
    """What `batch begin` says was weighed in goes into the water, until it is proven."""
    bench.rig.tell("salt 5850 g")
    bench.daemon.wait_for_phase("proven")
    return bench.daemon.station()["batch"]["id"]


def the_example_of_the_readme(bench):
    bench.start_all()
    bench.daemon.wait(lambda s: s["volume_l"] is not None, 20, "a first level")
    batch = "none"
    said = {}
    for words, shown in examples():
        output = say(bench, [batch if word == "ID" else word for word in words])
        said[" ".join(words[:2])] = output
        lines = [line.rstrip() for line in output.rstrip("\n").split("\n")]
        expect(not shown or lines == shown, f"{words} prints\n{output}")
        if words[:2] == ["batch", "begin"]:
            batch = mix(bench)
    expect("H-2291" in said["batch report"] and "H-2304" in said["batch report"],
           f"the lots in the record: {said['batch report']}")
    expect("Potassium" in said["tank forecast"], said["tank forecast"])


def the_daemon_answers_what_the_command_line_shows(bench):
    bench.start_all()
    for words in (["lot", "add", "h-2291.json"], ["lot", "add", "h-2304.csv"],
                  ["tank", "add", "reef.json"], ["tank", "test", "reef", "reef-test.json"]):
        say(bench, words)
    plan = {"change": "20 %", "times": 4, "every": "7 d"}
    for request, words in (
            ({"do": "lot list"}, ["lot", "list"]),
            ({"do": "lot show", "lot": "H-2291/1"}, ["lot", "show", "H-2291"]),
            ({"do": "lot compare", "lots": ["H-2291", "H-2304"], "tank": "reef"},
             ["lot", "compare", "H-2291", "H-2304", "--tank", "reef"]),
            ({"do": "lot rank", "tank": "reef", **plan},
             ["lot", "rank", "--tank", "reef", "--change", "20 %", "--times", "4"]),
            ({"do": "tank list"}, ["tank", "list"]),
            ({"do": "tank show", "tank": "reef"}, ["tank", "show", "reef"]),
            ({"do": "tank forecast", "tank": "reef", "lot": "H-2291", **plan},
             ["tank", "forecast", "reef", "--lot", "H-2291", "--change", "20 %", "--times", "4"]),
            ({"do": "tank review", "tank": "reef"}, ["tank", "review", "reef"])):
        answer = bench.daemon.ask(**request)
        shown = bench.daemon.must(*words)
        expect(answer["ok"], f"{request}: {answer}")
        for view in (answer, shown):
            for key in ("id", "ok", "at"):  # "at" is the time in some
                view.pop(key, None)
        expect(answer == shown, f"{request} answers\n{answer}\nbut {words} shows\n{shown}")
    refused = bench.daemon.ask(do="lot show", lot="H-2219")
    expect(not refused["ok"] and "did you mean 'H-2291'" in refused["message"], str(refused))


if __name__ == "__main__":
    run(the_example_of_the_readme, the_daemon_answers_what_the_command_line_shows)
