# SPDX-License-Identifier: Apache-2.0
"""The demonstration: a simulated rig on real Modbus TCP and a real broker, the daemon on it, one
good batch and one mis-mixed batch. Started by ./demo. Every name and number in it is invented."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SPEED = 200  # the rig's water, heat and pump run so many times as fast as the clock
LOT = "H-2291"  # an invented lot of an invented "Harbour blend"

CONFIGURATION = """\
# The demonstration's site: a station whose times are short because its water runs {speed} times as
# fast as the clock. Do not use such times on real water.
site = "cellar"
data = "{folder}/data"

[mqtt]
broker = "mqtt://127.0.0.1:{mqtt_port}"

[http]
listen = "127.0.0.1:{http_port}"

[link.rack]
address = "modbus-tcp://127.0.0.1:{modbus_port}"
simulated = true

[profile.reef]
salinity = "35 ppt"
tolerance = "1 ppt"
temperature = ["24 C", "26 C"]
circulate = "20 s"
slowest_part = "1 min"
still_to_dissolve = "0.3 ppt"
keep = "1 d"

[station.mixer]
profile = "reef"
capacity = "200 L"
low_level = "10 L"

[station.mixer.probe.cell_a]
measures = "conductivity"
source.link = "rack"
source.unit = 1
source.input = 0
source.as = "float32"
source.order = "ABCD"
source.in = "mS/cm"
source.every = "250 ms"
temperature_from = "bath"
flat_line_after = "never"

[station.mixer.probe.bath]
measures = "temperature"
source = {{ topic = "cellar/bath", pointer = "/temperature_c", time = "/time", in = "C" }}

[station.mixer.probe.height]
measures = "level"
source.link = "rack"
source.unit = 1
source.holding = 4
source.as = "int16"
source.scale = 0.25
source.in = "L"
source.every = "200 ms"

[station.mixer.probe.stirrer]
measures = "running"
source = {{ link = "rack", unit = 2, discrete = 1, closed_means = "running" }}

[station.mixer.probe.floor]
measures = "leak"
source = {{ link = "rack", unit = 2, discrete = 2, closed_means = "wet" }}

[station.mixer.pump]
output = {{ link = "rack", unit = 2, coil = 0, timed = {{ holding = 16, step = "100 ms" }} }}
readback = {{ link = "rack", unit = 2, discrete = 0 }}
lease = "3 s"
dwell = "3 s"
max_volume = "60 L"
max_run = "2 min"
no_flow_after = "15 s"
"""


def free_port(wish=0):
    """This one, or another where it is taken."""
    with socket.socket() as probe:
        try:
            probe.bind(("127.0.0.1", wish))
        except OSError:
            return free_port()
        return probe.getsockname()[1]


def ask(path, line):
    """One line to a Unix socket, one line of JSON back."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.settimeout(10)
        connection.connect(str(path))
        connection.sendall(line.encode() + b"\n")
        answer = b""
        while not answer.endswith(b"\n"):
            part = connection.recv(65536)
            if not part:
                break
            answer += part
    return json.loads(answer)


class Screen:
    """On a terminal the station's sheet is drawn again in place; elsewhere only news is printed."""

    ROWS, COLUMNS, ROW_G_KG = 10, 64, 4.0

    def __init__(self):
        self.is_terminal = sys.stdout.isatty()
        self.salinities = []
        self.title = ""
        self.drawn_lines = 0
        self.gist = None

    def say(self, text):
        self.title = text
        if not self.is_terminal:
            print(f"\n== {text}", flush=True)

    def course(self):
        """The whole course so far, squeezed into the columns."""
        count = len(self.salinities)
        if count <= self.COLUMNS:
            return self.salinities
        return [self.salinities[(column + 1) * count // self.COLUMNS - 1]
                for column in range(self.COLUMNS)]

    def chart(self, low, high):
        """Salinity from 0 to 40 g/kg as bars; the shaded row is where it is wanted."""
        lines = []
        for row in reversed(range(self.ROWS)):
            bottom, top = row * self.ROW_G_KG, (row + 1) * self.ROW_G_KG
            empty = "░" if bottom < high and top > low else " "
            cells = ""
            for value in self.course():
                filled = max(0.0, min((value or 0.0) - bottom, self.ROW_G_KG)) / self.ROW_G_KG
                eighths = round(8 * filled)
                cells += " ▁▂▃▄▅▆▇█"[eighths] if eighths else empty
            lines.append(f"  {bottom:4.0f} ┤{cells}{empty * (self.COLUMNS - len(cells))}")
        return lines

    def draw(self, station):
        salinity = station["salinity"]["reference_salinity_g_kg"] if station["salinity"] else None
        self.salinities.append(salinity)
        if not self.is_terminal:
            gist = re.sub(r"[0-9.,]+", "", station["headline"])
            if gist != self.gist:
                self.gist = gist
                print(f"   {station['headline']}", flush=True)
            return
        batch = station["batch"] or {}
        target, tolerance = batch.get("target_g_kg", 35.0), batch.get("tolerance_g_kg", 1.0)
        now = [f"{salinity:.2f} ppt" if salinity is not None else "no salinity"]
        if station["temperature_c"] is not None:
            now.append(f"{station['temperature_c']:.1f} °C")
        if station["volume_l"] is not None:
            now.append(f"{station['volume_l']:.0f} L")
        lines = [f"\033[1m{self.title}\033[0m", "", station["headline"], ""]
        lines += self.chart(target - tolerance, target + tolerance)
        lines += [f"   g/kg  now {', '.join(now)}; wanted {target:.1f} ± {tolerance:.1f} ppt", ""]
        mark = {"met": "met     ", "waiting": "waiting ", "violated": "violated"}
        for check in station["checks"]:
            if check["verdict"] != "not asked":
                lines.append(f"  {mark[check['verdict']]}  {check['sentence']}"[:100])
        for alarm in station["alarms"]:
            lines.append(f"  alarm     {alarm['id']} ({alarm['state']})")
        out = f"\033[{self.drawn_lines}A" if self.drawn_lines else ""
        height = max(len(lines), self.drawn_lines)
        lines += [""] * (height - len(lines))
        print(out + "\n".join(f"\033[2K{line}" for line in lines), flush=True)
        self.drawn_lines = height


class Demonstration:
    def __init__(self, brinegate, simulator, folder):
        self.brinegate, self.simulator, self.folder = brinegate, simulator, Path(folder)
        self.configuration = self.folder / "cellar.toml"
        self.control = self.folder / "rig.sock"
        self.processes = []
        self.screen = Screen()

    def start(self):
        mqtt_port, modbus_port, http_port = free_port(), free_port(), free_port(8480)
        broker = self.folder / "mosquitto.conf"
        broker.write_text(
            f"listener {mqtt_port} 127.0.0.1\nallow_anonymous true\npersistence false\n"
            "set_tcp_nodelay true\n"
        )
        self.spawn("broker", ["/usr/sbin/mosquitto", "-c", str(broker)])
        self.wait_for_port(mqtt_port)
        self.spawn(
            "rig",
            [self.simulator, "serve", "--modbus-tcp", f"127.0.0.1:{modbus_port}",
             "--mqtt", f"mqtt://127.0.0.1:{mqtt_port}", "--control", str(self.control),
             "--speed", str(SPEED), "--volume", "150 L", "--temperature", "25 C",
             "--pump-flow", "0.6 L/min"],
        )
        self.wait_for_port(modbus_port)
        self.rig("heater 25 C")
        self.configuration.write_text(
            CONFIGURATION.format(folder=self.folder, mqtt_port=mqtt_port, modbus_port=modbus_port,
                                 http_port=http_port, speed=SPEED)
        )
        self.spawn("daemon", [self.brinegate, "run", "--config", str(self.configuration)])
        socket_path = self.folder / "data" / "brinegate.sock"
        self.until(socket_path.exists, 10, "the daemon did not start")
        print("A rig with real Modbus TCP and a real MQTT broker runs, and the daemon on it.")
        print(f"Everything is invented; the water runs {SPEED} times as fast as the clock.")
        self.dashboard = f"http://127.0.0.1:{http_port}/"
        print(f"Its dashboard: {self.dashboard}\n")

    def spawn(self, name, command):
        log = open(self.folder / f"{name}.log", "wb")
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
                                   start_new_session=True)
        self.processes.append((name, process))

    def stop(self):
        for _, process in reversed(self.processes):
            if process.poll() is None:
                process.terminate()
        for _, process in reversed(self.processes):
            try:
                process.wait(5)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()

    def until(self, condition, seconds, otherwise):
        end = time.monotonic() + seconds
        while not condition():
            for name, process in self.processes:
                if process.poll() is not None:
                    raise RuntimeError(f"the {name} ended:\n{self.log(name)}")
            if time.monotonic() > end:
                raise RuntimeError(otherwise)
            time.sleep(0.1)

    def log(self, name):
        return (self.folder / f"{name}.log").read_text(errors="replace")[-2000:]

    def wait_for_port(self, port):
        def answers():
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", port)) == 0

        self.until(answers, 10, f"nothing listens on port {port}")

    def rig(self, command):
        answer = ask(self.control, command)
        if "error" in answer:
            raise RuntimeError(f"rig: {command}: {answer['error']}")
        return answer

    def command(self, *words):
        run = subprocess.run([self.brinegate, *words, "--json"], capture_output=True, text=True,
                             env={**os.environ, "BRINEGATE_CONFIG": str(self.configuration)})
        return json.loads(run.stdout) if run.stdout.strip() else {"stderr": run.stderr}

    def station(self):
        return ask(self.folder / "data" / "brinegate.sock", '{"do":"status"}')["stations"][0]

    def watch(self, condition, seconds, what):
        end = time.monotonic() + seconds
        while True:
            station = self.station()
            self.screen.draw(station)
            if condition(station):
                return station
            if time.monotonic() > end:
                last = station["headline"]
                raise RuntimeError(f"{what} did not come in {seconds} s; last: {last}")
            time.sleep(0.5)

    def good_batch(self):
        dose = self.command("dose", "--water", "150 L", "--target", "35 ppt",
                            "--temperature", "25 C")
        grams = dose["salt_g"]
        self.screen.say(f"1. A good batch: {grams / 1000:.2f} kg of lot {LOT} into 150 L")
        self.watch(lambda s: s["volume_l"] is not None, 20, "a first level")
        self.command("batch", "begin", "mixer", "--lot", LOT, "--salt", f"{grams:.0f} g")
        self.rig(f"salt {grams:.0f} g")
        proven = self.watch(lambda s: s["phase"] == "proven", 110, "the proof")
        risk = proven["batch"]["proof"]["risk"]
        self.watch(lambda s: "ready" in s["headline"] and "nothing" in s["headline"], 20, "ready")
        self.screen.say(f"2. Proven, with a stated risk of {100 * risk:.2g} %: 40 L to the tank")
        self.command("change", "mixer", "--volume", "40 L")
        self.watch(lambda s: s["gate"] == "open", 20, "the open gate")
        ended = self.watch(lambda s: s["gate"] == "shut", 60, "the end of the change")
        drawn = ended["batch"]["drawn_l"]
        self.screen.say(f"3. {drawn:.1f} L drawn, and the gate is shut again")
        self.watch(lambda s: True, 5, "")

    def bad_batch(self):
        volume = self.station()["volume_l"]
        self.command("batch", "abandon", "mixer")
        self.rig(f"remove {volume - 30:.0f} L")
        self.rig("water 120 L")
        dose = self.command("dose", "--water", "120 L", "--target", "35 ppt", "--temperature",
                            "25 C", "--rest", "30 L", "--rest-salinity", "35 ppt")
        grams = dose["salt_g"] - 400
        self.screen.salinities.clear()
        kilograms = dose["salt_g"] / 1000
        self.screen.say(f"4. A mis-mixed batch: 400 g of the {kilograms:.2f} kg are missing")
        time.sleep(2)
        self.command("batch", "begin", "mixer", "--lot", LOT, "--salt", f"{grams:.0f} g")
        self.rig(f"salt {grams:.0f} g")
        self.watch(lambda s: s["phase"] == "rejected", 110, "the rejection")
        answer = self.command("change", "mixer", "--volume", "40 L")
        refusal = (answer.get("message") or answer.get("stderr", "")).strip()
        self.screen.say(f"5. Rejected. A change asked for now: {refusal}")
        self.watch(lambda s: True, 5, "")

    def farewell(self):
        print("\nLook around while it runs (Ctrl-C ends everything):")
        print(f"  {self.dashboard}")
        print(f"  export BRINEGATE_CONFIG={self.configuration}")
        print(f"  {self.brinegate} status")
        print(f"  {self.brinegate} batch list")


def main():
    brinegate, simulator, *options = sys.argv[1:]
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    with tempfile.TemporaryDirectory(prefix="brinegate-demo-") as folder:
        os.chmod(folder, 0o755)
        demonstration = Demonstration(
            os.path.abspath(brinegate), os.path.abspath(simulator), folder)
        try:
            demonstration.start()
            demonstration.good_batch()
            demonstration.bad_batch()
            demonstration.farewell()
            while "--once" not in options:
                time.sleep(1)
        except KeyboardInterrupt:
            print("\nStopping.")
        except RuntimeError as error:
            print(f"\nThe demonstration failed: {error}", file=sys.stderr)
            return 1
        finally:
            demonstration.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
