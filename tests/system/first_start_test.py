#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A first start on the rig: who is on the line and what is said on the broker is found, the
questions are answered by somebody who looks at the probes, and the daemon on the configuration that
is written reads them well."""

import json
import os
import re
import select
import subprocess
import time

from rig import Daemon, Process, expect, run, wait_for

SALT_G = 5850  # makes 150 L about 35 ppt
PATIENCE_S = 40
RELAY_ANSWERS = ["2", "0", "16", "", "0", "40 L", ""]  # of sim/README.md's register map


class Talk:
    """With the guide, through pipes."""

    def __init__(self, command):
        self.process = subprocess.Popen(
            ["setpriv", "--pdeathsig", "KILL", *map(str, command)], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT)

    def read_until(self, ending):
        """All that is said since the last answer."""
        end = time.monotonic() + PATIENCE_S
        said = b""
        while not said.endswith(ending):
            ready, _, _ = select.select([self.process.stdout], [], [], end - time.monotonic())
            expect(ready, f"no question within {PATIENCE_S} s: {said.decode()}")
            part = os.read(self.process.stdout.fileno(), 65536)
            if not part:
                break
            said += part
        return said.decode()

    def hear(self, question):
        """What was said before the question, and the question."""
        said = self.read_until(b"> ")
        expect(question in " ".join(said.split()), f"'{question}' is not asked in: {said}")
        return said

    def say(self, answer):
        self.process.stdin.write(answer.encode() + b"\n")
        self.process.stdin.flush()

    def answer(self, question, answer):
        said = self.hear(question)
        self.say(answer)
        return said

    def choose(self, question, row):
        """The candidate whose row ends like that."""
        said = self.hear(question)
        found = re.search(rf"^ +(\d+) .*{re.escape(row)}$", said, re.MULTILINE)
        expect(found, f"no '{row}' for '{question}': {said}")
        self.say(found.group(1))
        return said, found.group(0)

    def end(self):
        self.process.stdin.close()
        said = self.read_until(b"\0")
        return self.process.wait(10), said


class DaemonOnFile(Daemon):
    """On a configuration as it stands."""

    def __init__(self, bench, file, data):  # pylint: disable=super-init-not-called
        self.bench, self.configuration, self.data = bench, file, data
        self.socket = data / "brinegate.sock"
        Process.__init__(self, bench, "daemon", [bench.brinegate, "run", "--config", file])
        wait_for(self.answers, 20, lambda: f"the daemon: {self.log()}")


def shown(bench, probe="cell_a"):
    return bench.rig.state()["probes"][probe]["shown"]


def salt_water(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    bench.rig.tell(f"salt {SALT_G} g")
    wait_for(lambda: shown(bench) > 50.0, 30, lambda: f"sea water: {shown(bench)} mS/cm")


def verify_cell(bench, talk):
    """At two points, after one that disagrees."""
    talk.answer("own display", "20 mS/cm")
    said = talk.answer("Choose another source", "no")
    expect("they disagree" in said, said)
    talk.answer("own display", f"{shown(bench):.2f} mS/cm")
    said = talk.hear("own display")
    expect("one more point is needed" in said, said)
    bench.rig.tell("fault cell_a air")
    wait_for(lambda: shown(bench) < 1.0, 10, "the cell in air")
    talk.say(f"{shown(bench):.2f} mS/cm")


def answer_all(bench, talk, data):
    for question, answer in [
            ("name for this place", "cellar"), ("folder", str(data)), ("dashboard", "no"),
            ("mixing reservoir", ""), ("full reservoir", "200 L"), ("salinity", ""),
            ("How far", ""), ("lowest", ""), ("highest", ""),
            ("Modbus line", bench.rig.address), ("unit addresses", "1-4")]:
        talk.answer(question, answer)
    said = talk.answer("MQTT broker", f"mqtt://127.0.0.1:{bench.broker_port}")
    expect(all(f"Unit {unit}" in said for unit in (1, 2, 3)) and "Unit 4" not in said, said)
    talk.answer("log in", "")
    talk.choose("temperature of the water", "cellar/bath /temperature_c")
    talk.answer("What does the cell send", "")
    _, row = talk.choose("Which is the cell", "unit 1 input 0 float32 ABCD")
    expect(re.search(r"[0-9A-F]{4} [0-9A-F]{4} +5\d\.\d+ mS/cm", row), f"raw beside decoded: {row}")
    verify_cell(bench, talk)
    said, _ = talk.choose("A second cell", "unit 1 input 4 float32 ABCD")
    expect("the probe is verified" in said, said)
    bench.rig.tell("fault cell_a none")
    talk.answer("own display", "")
    talk.choose("Which is the level", "unit 1 holding 4 uint16")
    talk.answer("In which unit", "mm")
    talk.answer("how many litres", "0 0, 800 200")
    talk.answer("switches the water-change pump", "relay")
    for answer in RELAY_ANSWERS:
        talk.answer("", answer)


def from_nothing_to_good_readings(bench):
    salt_water(bench)
    file, data = bench.folder / "first.toml", bench.folder / "data"
    nothing = subprocess.run([bench.brinegate, "run", "--config", file], capture_output=True,
                             text=True, timeout=20, check=False)
    expect(nothing.returncode == 2 and f"brinegate setup {file}" in nothing.stderr, f"{nothing}")

    talk = Talk([bench.brinegate, "setup", file])
    answer_all(bench, talk, data)
    status, said = talk.end()
    expect(status == 0 and "not a certified safety device" in said, f"{status}: {said}")
    expect(not bench.rig.pump_is_on() and bench.rig.drawn() == 0.0, "the pump was touched")

    bench.daemon = DaemonOnFile(bench, file, data)
    station = bench.daemon.wait(
        lambda s: all(reading["quality"] == "good" for reading in s["readings"].values()), 30,
        "good readings")
    expect(set(station["readings"]) == {"bath", "cell_a", "cell_b", "height", "readback"},
           f"{station['readings']}")
    value = {name: reading["value"] for name, reading in station["readings"].items()}
    expect(abs(value["cell_a"] - shown(bench)) < 0.5, f"{value['cell_a']}, {shown(bench)}")
    litres = bench.rig.state()["reservoir"]["volume_l"]
    expect(abs(value["height"] - litres) < 2.0, f"{value['height']} L of {litres}")


def find_in_json(bench):
    salt_water(bench)

    def found(*words):
        ran = subprocess.run([bench.brinegate, "find", *words, "--json"], capture_output=True,
                             text=True, timeout=60, check=False)
        expect(ran.returncode == 0, f"{words}: {ran.stderr}")
        return json.loads(ran.stdout)

    line = found(bench.rig.address, "--units", "1-3")
    expect([unit["unit"] for unit in line["units"]] == [1, 2, 3], f"{line['units']}")
    sources = [each["source"] for number in line["units"][0]["numbers"]
               for each in number["plausible"] if each["measures"] == "conductivity"]
    expect('{ link = "line", unit = 1, input = 0, as = "float32", order = "ABCD", in = "mS/cm" }'
           in sources, f"{sources}")
    said = found(f"mqtt://127.0.0.1:{bench.broker_port}", "--topic", "cellar/#", "--for", "2 s")
    bath = next(topic for topic in said["topics"] if topic["topic"] == "cellar/bath")
    expect(2.0 < bath["per_second"] < 6.0, f"four times a second: {bath}")
    expect(bath["numbers"][0]["where"] == "cellar/bath /temperature_c", f"{bath}")


if __name__ == "__main__":
    run(from_nothing_to_good_readings, find_in_json)
