#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Lots and tanks entered by the command line while the daemon runs: what was said to be on record
outlives the daemon's death right after, versions count on, what cannot be read stores nothing, and
a new analysis of what is in the reservoir voids its proof."""

from pathlib import Path

from rig import HERE, expect, run


def example(name):
    return str(HERE.parent.parent / "config/examples" / name)


def copy_of(bench, name, *changes):
    text = Path(example(name)).read_text()
    for before, after in changes:
        expect(text.count(before) == 1, f"{before} stands {text.count(before)} times in {name}")
        text = text.replace(before, after)
    file = bench.folder / name
    file.write_text(text)
    return str(file)


def names(answer, key):
    return [each["lot" if key == "lots" else "tank"] for each in answer[key]]


def killed_right_after(bench):
    """Each entry is followed by SIGKILL, as soon as the command says that it was done."""
    bench.start_all()
    for words in (["lot", "add", example("h-2291.json")], ["lot", "add", example("h-2304.csv")],
                  ["tank", "add", example("reef.json")],
                  ["tank", "test", "reef", example("reef-test.json")],
                  ["tank", "change", "reef", "--volume", "40 L", "--lot", "H-2291"]):
        bench.daemon.must(*words)
        bench.daemon.kill()
        bench.daemon = bench.start_daemon(bench.configured)
    expect(names(bench.daemon.must("lot", "list"), "lots") == ["H-2291", "H-2304"], "the lots")
    tank = bench.daemon.must("tank", "show", "reef")
    expect(tank["tests"] == 1 and tank["changes"] == 1, f"{tank}")
    ranked = bench.daemon.must("lot", "rank", "--tank", "reef", "--change", "20 %")
    expect(len(ranked["lots"]) == 2, f"{ranked}")


def a_new_analysis_of_what_is_in_the_reservoir(bench):
    bench.start_all()
    bench.daemon.must("lot", "add", example("h-2291.json"))
    status, answer, _ = bench.daemon.command("lot", "add", example("h-2291.json"))
    expect(status == 1 and "says the same" in answer["message"], f"{status} {answer}")
    bench.prove()
    edited = copy_of(bench, "h-2291.json", ('"421 mg/L"', '"395 mg/L"'))
    bench.daemon.must("lot", "add", edited)
    batch = bench.daemon.station()["batch"]
    report = bench.daemon.must("batch", "report", batch["id"])
    expect("lot edited" in str(report), f"the proof was kept: {report}")
    bench.daemon.wait_for_phase("proven")
    batch = bench.daemon.station()["batch"]
    expect([lot["version"] for lot in batch["lots"]] == [1], f"{batch['lots']}")
    shown = bench.daemon.must("lot", "show", "H-2291")
    expect(shown["version"] == 2, f"{shown}")


def what_cannot_be_read(bench):
    bench.start_all()
    bad = copy_of(bench, "h-2291.json", ('"421 mg/L"', '"421 mg/pint"'))
    status, _, errors = bench.daemon.command("lot", "add", bad)
    expect(status != 0 and "pint" in errors + str(_), f"{status}: {errors}")
    status, _, errors = bench.daemon.command("lot", "show", "H-2291")
    expect(status != 0 and "no lot is on record" in errors + str(_), f"{status}: {errors} {_}")
    status, answer, errors = bench.daemon.command(
        "tank", "test", "reef", example("reef-test.json"))
    expect(status != 0 and "no tank" in errors + str(answer), f"{status}: {errors} {answer}")
    expect(bench.daemon.must("lot", "list")["lots"] == [], "something was stored")


if __name__ == "__main__":
    run(killed_right_after, a_new_analysis_of_what_is_in_the_reservoir, what_cannot_be_read)
