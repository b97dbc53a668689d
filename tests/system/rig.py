# SPDX-License-Identifier: Apache-2.0
"""What the system tests stand on: a broker, a rig and the daemon as real processes on free ports of
loopback and in folders of their own, ended by their process id whatever happens. Every name and
number is invented. The rig's water runs SPEED times as fast as the clock, so that a batch is proven
in half a minute; its pump moves LITRES_PER_SECOND on the clock.
"""

import argparse
import concurrent.futures
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import traceback
from pathlib import Path

SPEED = 1000
LITRES_PER_SECOND = 0.5
PUMP_FLOW_L_MIN = 60.0 * LITRES_PER_SECOND / SPEED
LOT = "H-2291"  # an invented lot of an invented "Harbour blend"
HERE = Path(__file__).resolve().parent

# Shorter than anybody would have them at home, for water in haste.
LEASE_S = 2.0
STALE_AFTER_S = 1.5
NOTICE_S = 1.0  # for a turn, a line's time-out, the relay's answer and a busy machine


def binaries():
    parser = argparse.ArgumentParser()
    parser.add_argument("brinegate", type=os.path.abspath)
    parser.add_argument("simulator", type=os.path.abspath)
    return parser.parse_args()


class Failed(Exception):
    """What a scenario expected did not come."""


def expect(condition, otherwise):
    if not condition:
        raise Failed(otherwise)


def wait_for(condition, seconds, otherwise, every=0.05):
    """What `condition` answers once it is true; `otherwise` may be a function."""
    end = time.monotonic() + seconds
    while True:
        answer = condition()
        if answer:
            return answer
        if time.monotonic() > end:
            what = otherwise() if callable(otherwise) else otherwise
            raise Failed(f"not within {seconds} s: {what}")
        time.sleep(every)


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


def listens(port):
    with socket.socket() as connection:
        return connection.connect_ex(("127.0.0.1", port)) == 0


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
                raise Failed(f"{path} hung up after {answer!r}")
            answer += part
    return json.loads(answer)


# --- The configuration, as dictionaries that a test may alter ------------------------------------


def toml(value):
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(each)}" for key, each in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(toml(each) for each in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def write_toml(configuration):
    """Dictionaries of the first levels become tables; those within a probe or pump stay inline."""
    lines = []

    def table(name, content, depth):
        is_leaf = depth == 0
        for key, value in content.items():
            if is_leaf or not isinstance(value, dict):
                lines.append(f"{key} = {toml(value)}")
        if not is_leaf:
            for key, value in content.items():
                if isinstance(value, dict):
                    lines.append(f"\n[{name}{key}]")
                    above = name.split(".")
                    leaf = (key in ("mqtt", "http", "pump", "hold_off", "drain")
                            or above[0] in ("link", "profile") or above[-2:-1] == ["probe"])
                    table(f"{name}{key}.", value, 0 if leaf else 1)

    table("", configuration, 1)
    return "\n".join(lines) + "\n"


def conductivity(source):
    return {"measures": "conductivity", "source": source, "temperature_from": "bath",
            "flat_line_after": "never", "stale_after": f"{STALE_AFTER_S} s"}


def on_modbus(link, unit, **where):
    return {"link": link, "unit": unit, **where, "every": "200 ms"}


def cellar(data, broker_port, rack, board=None):
    """A station on the rig's register map: its probes on the link `rack`, but for the thermometer
    on MQTT; its relay on the link `board`, the same device unless told otherwise."""
    stale = f"{STALE_AFTER_S} s"
    links = {"rack": {"address": rack, "timeout": "200 ms", "simulated": True}}
    if board:
        links["board"] = {"address": board, "timeout": "200 ms", "simulated": True}
    relay = "board" if board else "rack"
    thermometer = {"topic": "cellar/bath", "pointer": "/temperature_c", "time": "/time", "in": "C"}
    configuration = {
        "site": "cellar", "data": str(data),
        "mqtt": {"broker": f"mqtt://127.0.0.1:{broker_port}"},
        "link": links,
        "profile": {"reef": {
            "salinity": "35 ppt", "tolerance": "1.5 ppt", "temperature": ["24 C", "26 C"],
            "circulate": "5 s", "slowest_part": "1 min",
            "still_to_dissolve": "0.3 PSU", "keep": "1 d"}},
        "station": {"mixer": {
            "profile": "reef", "capacity": "200 L", "low_level": "10 L",
            "probe": {
                "cell_a": conductivity({**on_modbus("rack", 1, input=0), "as": "float32",
                                        "order": "ABCD", "in": "mS/cm"}),
                "bath": {"measures": "temperature", "source": thermometer, "stale_after": stale},
                "height": {"measures": "level", "stale_after": stale,
                           "source": {**on_modbus("rack", 1, holding=4), "as": "int16",
                                      "scale": 0.25, "in": "L"}},
                "stirrer": {"measures": "running", "stale_after": stale,
                            "source": {**on_modbus("rack", 2, discrete=1),
                                       "closed_means": "running"}},
                "floor": {"measures": "leak", "stale_after": stale,
                          "source": {**on_modbus("rack", 2, discrete=2), "closed_means": "wet"}},
            },
            "pump": {
                "output": {"link": relay, "unit": 2, "coil": 0,
                           "timed": {"holding": 16, "step": "100 ms"}},
                "readback": on_modbus(relay, 2, discrete=0),
                "lease": f"{LEASE_S} s", "dwell": "1 s", "max_volume": "60 L",
                "max_run": "3 min", "no_flow_after": "1 min"},
        }},
    }
    return configuration


def with_exchange(configuration):
    """The rig's tank: a drain, and a top-off that is held off (S18, S19)."""
    stale = f"{STALE_AFTER_S} s"
    station = mixer(configuration)
    station["probe"]["tank"] = {
        "measures": "tank-level", "stale_after": stale,
        "source": {**on_modbus("rack", 3, holding=0), "as": "uint16", "scale": 0.1, "in": "L"}}
    station["probe"]["top_off"] = {
        "measures": "held-off", "stale_after": stale,
        "source": {**on_modbus("rack", 3, discrete=1), "closed_means": "held"}}
    station["hold_off"] = {
        "output": {"link": "rack", "unit": 3, "coil": 1,
                   "timed": {"holding": 17, "step": "100 ms"}},
        "lease": "60 s", "confirm_within": "5 s", "rest": "2 s"}
    station["drain"] = {
        "output": {"link": "rack", "unit": 3, "coil": 0,
                   "timed": {"holding": 16, "step": "100 ms"}},
        "readback": on_modbus("rack", 3, discrete=0),
        "max_run": "2 min", "portion": "8 L", "tolerance": "4 L", "readback_within": "1 s"}


def mixer(configuration):
    return configuration["station"]["mixer"]


# --- The processes -------------------------------------------------------------------------------


class Process:
    """One that dies with this script, even when the script is killed, and is ended by its id."""

    def __init__(self, bench, name, command, **options):
        self.name = name
        self.log_file = bench.folder / f"{name}-{time.monotonic_ns()}.log"
        with open(self.log_file, "wb") as log:
            self.process = subprocess.Popen(
                ["setpriv", "--pdeathsig", "KILL", *map(str, command)], stdin=subprocess.DEVNULL,
                stdout=log, stderr=log, **options)
        bench.processes.append(self)

    def log(self):
        return self.log_file.read_text(errors="replace")

    def runs(self):
        return self.process.poll() is None

    def signal(self, number):
        self.process.send_signal(number)

    def kill(self):
        self.signal(signal.SIGKILL)
        self.process.wait()

    def terminate(self, seconds=10):
        """Its exit status."""
        self.signal(signal.SIGTERM)
        return self.process.wait(seconds)

    def freeze(self):
        self.signal(signal.SIGSTOP)

    def thaw(self):
        self.signal(signal.SIGCONT)


class Rig(Process):
    def __init__(self, bench, name, broker_port, rtu=None, site="cellar"):
        self.control = bench.folder / f"{name}.sock"
        self.port = None if rtu else free_port()
        line = ["--modbus-rtu", rtu] if rtu else ["--modbus-tcp", f"127.0.0.1:{self.port}"]
        self.address = (f"modbus-rtu://{rtu}?baud=19200&parity=even&stop=1" if rtu
                        else f"modbus-tcp://127.0.0.1:{self.port}")
        super().__init__(bench, name, [
            bench.simulator, "serve", *line, "--mqtt", f"mqtt://127.0.0.1:{broker_port}",
            "--site", site, "--control", self.control, "--speed", SPEED, "--volume", "150 L",
            "--temperature", "25 C", "--pump-flow", f"{PUMP_FLOW_L_MIN:.6f} L/min",
            "--bubbles", "0"])  # one may shut the gate where a test wants it open
        wait_for(lambda: '"serving"' in self.log(), 20, lambda: f"the rig: {self.log()}")
        self.tell("heater 25 C")

    def tell(self, command):
        answer = ask(self.control, command)
        expect("error" not in answer, f"rig: {command}: {answer}")
        return answer

    def state(self):
        return self.tell("state")

    def pump_is_on(self):
        return self.state()["devices"]["pump_on"]

    def drawn(self):
        return self.state()["tank"]["drawn_l"]

    def salinity(self):
        """Of all salt dissolved and mixed, g/kg."""
        return self.state()["reservoir"]["final_salinity_psu"] * 35.16504 / 35.0

    def wait_until_pumping(self, litres=1.0):
        wait_for(lambda: self.drawn() >= litres and self.pump_is_on(), 30, "the pump on")


class Daemon(Process):
    def __init__(self, bench, configuration, **options):
        self.bench = bench
        self.configuration = bench.folder / "cellar.toml"
        self.configuration.write_text(write_toml(configuration))
        self.data = Path(configuration["data"])
        self.socket = self.data / "brinegate.sock"
        super().__init__(bench, "daemon",
                         [bench.brinegate, "run", "--config", self.configuration], **options)
        wait_for(self.answers, 20, lambda: f"the daemon: {self.log()}")

    def answers(self):
        expect(self.runs(), f"the daemon ended: {self.log()[-1500:]}")
        try:
            return self.ask(do="status")["ok"]
        except OSError:
            return False

    def ask(self, **request):
        return ask(self.socket, json.dumps(request))

    def station(self):
        return self.ask(do="status")["stations"][0]

    def command(self, *words):
        """Exit status, what was printed as JSON, and what was said on stderr."""
        ran = subprocess.run(
            [self.bench.brinegate, *words, "--json"], capture_output=True, text=True, timeout=30,
            env={**os.environ, "BRINEGATE_CONFIG": str(self.configuration)}, check=False)
        return ran.returncode, json.loads(ran.stdout) if ran.stdout.strip() else None, ran.stderr

    def must(self, *words):
        status, answer, errors = self.command(*words)
        expect(status == 0, f"{' '.join(words)}: exit status {status}: {errors} {answer}")
        return answer

    def wait(self, condition, seconds, what):
        def found():
            station = self.station()
            return station if condition(station) else None

        return wait_for(found, seconds, lambda: f"{what}; last: {summary(self.station())}", 0.1)

    def wait_for_phase(self, phase, seconds=90):
        return self.wait(lambda s: s["phase"] == phase, seconds, f"phase {phase}")

    def wait_for_gate(self, gate, seconds=30):
        return self.wait(lambda s: s["gate"] == gate, seconds, f"gate {gate}")

    def wait_until_ready(self, seconds=60):
        return self.wait(lambda s: "proven and ready" in s["headline"], seconds,
                         "ready for a change")


def summary(station):
    unmet = [c["sentence"] for c in station["checks"] if c["verdict"] not in ("met", "not asked")]
    return f"{station['phase']}, {station['gate']}: {station['headline']} {unmet}"


class PumpWatch:
    """Looks at the rig's pump twenty times a second, by the monotonic clock. While the rig itself
    is frozen it sees nothing."""

    def __init__(self, rig):
        self.rig = rig
        self.seen = []  # (when, on, litres drawn)
        self.ending = threading.Event()
        self.thread = threading.Thread(target=self.look, daemon=True)
        self.thread.start()

    def look(self):
        while not self.ending.is_set():
            try:
                state = self.rig.state()
            except (OSError, Failed):
                return  # the rig has ended
            self.seen.append((time.monotonic(), state["devices"]["pump_on"],
                              state["tank"]["drawn_l"]))
            time.sleep(0.05)

    def seconds_until_off(self, since, within):
        """From `since` until the pump was first seen off."""
        def off():
            return next((at for at, on, _ in list(self.seen) if at >= since and not on), None)

        return wait_for(off, within, lambda: f"pump off: {self.seen[-1]}") - since

    def was_on_after(self, moment):
        return any(on for at, on, _ in list(self.seen) if at > moment)

    def stop(self):
        self.ending.set()
        self.thread.join()


class Bench:
    """Of one scenario: a folder and the processes in it."""

    def __init__(self, options):
        self.brinegate, self.simulator = options.brinegate, options.simulator
        self.processes = []
        self.daemon = self.rig = self.broker_port = None

    def __enter__(self):
        self.temporary = tempfile.TemporaryDirectory(prefix="brinegate-")
        self.folder = Path(self.temporary.name)
        self.folder.chmod(0o755)
        return self

    def __exit__(self, kind, error, _):
        if error is not None:
            for process in self.processes:
                print(f"--- log of {process.name}:\n{process.log()[-2500:]}", flush=True)
        for process in reversed(self.processes):
            if process.runs():
                process.kill()
        self.temporary.cleanup()

    def start_broker(self, remembers=False):
        """One that remembers keeps what is retained over its own restart."""
        self.broker_port = self.broker_port or free_port()
        file = self.folder / "mosquitto.conf"
        kept = self.folder / "broker"
        kept.mkdir(exist_ok=True)
        kept.chmod(0o777)  # the broker gives up root's rights
        file.write_text(f"listener {self.broker_port} 127.0.0.1\nallow_anonymous true\n"
                        f"persistence {toml(remembers)}\npersistence_location {kept}/\n"
                        "set_tcp_nodelay true\n")
        broker = Process(self, "broker", ["/usr/sbin/mosquitto", "-c", file])
        wait_for(lambda: listens(self.broker_port), 10, lambda: f"the broker: {broker.log()}")
        return broker

    def start_rig(self, name="rig", **options):
        return Rig(self, name, self.broker_port, **options)

    def start_daemon(self, configuration, **options):
        return Daemon(self, configuration, **options)

    def start_all(self, alter=lambda configuration: None, remembers=False):
        """The usual: a broker, a rig and the daemon on it."""
        self.broker = self.start_broker(remembers)
        self.rig = self.start_rig()
        self.configured = cellar(self.folder / "data", self.broker_port, self.rig.address)
        alter(self.configured)
        self.daemon = self.start_daemon(self.configured)

    def dose(self, *more):
        return self.daemon.must("dose", "--water", "150 L", "--target", "35 ppt", "--temperature",
                                "25 C", *more)["salt_g"]

    def begin(self, salt_g, noted_g=None):
        """Salt goes in, and what of it is noted."""
        self.daemon.wait(lambda s: s["volume_l"] is not None, 20, "a first level")
        self.daemon.must("batch", "begin", "mixer", "--lot", LOT, "--salt",
                         f"{noted_g or salt_g:.0f} g")
        self.rig.tell(f"salt {salt_g:.0f} g")

    def prove(self):
        self.begin(self.dose())
        proven = self.daemon.wait_for_phase("proven")
        self.daemon.wait_until_ready()
        return proven

    def change(self, litres):
        self.daemon.must("change", "mixer", "--volume", f"{litres} L")

    def watch_a_change(self, rig=None, litres=50):
        """In the middle of it."""
        self.prove()
        watch = PumpWatch(rig or self.rig)
        self.change(litres)
        (rig or self.rig).wait_until_pumping()
        return watch


def run(*scenarios, at_once=None):
    """Runs them side by side, because they mostly wait, or so many at once; the exit status says
    whether all held."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    options = binaries()
    printing = threading.Lock()

    def one(scenario):
        began = time.monotonic()
        try:
            with Bench(options) as bench:
                scenario(bench)
            error = ""
        except Exception:  # pylint: disable=broad-except
            error = traceback.format_exc()
        with printing:
            print(f"{'FAILED' if error else 'passed'} {scenario.__name__} "
                  f"({time.monotonic() - began:.1f} s)\n{error}", end="", flush=True)
        return not error

    with concurrent.futures.ThreadPoolExecutor(at_once or len(scenarios)) as pool:
        held = list(pool.map(one, scenarios))
    sys.exit(0 if all(held) else 1)
