#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""How long after a sample that is out of tolerance the broker says "shut", against the broker's own
round trip in the same run. Everything is on MQTT: this client, mosquitto, the daemon.
Usage: latency.py BRINEGATE BRINEGATE_SIM [REPETITIONS]"""

import json
import statistics
import sys
import threading
import time
from pathlib import Path

import paho.mqtt.client as mqtt

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "system"))
from rig import Bench, expect, wait_for  # noqa: E402  pylint: disable=wrong-import-position

GOOD = {"salinity": 34.85, "temperature": 25.0, "level": 150.0, "runs": 0}
BAD_SALINITY = 36.2  # out of tolerance, and no further away than a spike
EVERY_S = 0.1
GATE = "brinegate/cellar/mixer/gate"


def probe(measures, unit):
    return {"measures": measures, "source": {"topic": f"cellar/{measures}", "in": unit},
            "flat_line_after": "never", "stale_after": "2 s"}


def configuration(bench):
    return {
        "site": "cellar", "data": str(bench.folder / "data"),
        "mqtt": {"broker": f"mqtt://127.0.0.1:{bench.broker_port}"},
        "profile": {"reef": {
            "salinity": "35 ppt", "tolerance": "1 ppt", "temperature": ["24 C", "26 C"],
            "circulate": "1 s", "slowest_part": "1 min",
            "still_to_dissolve": "0.3 PSU", "keep": "1 d"}},
        "station": {"mixer": {
            "profile": "reef", "capacity": "200 L",
            "probe": {"salinity": {**probe("salinity", "PSU"), "uncertainty": "0.1 PSU"},
                      "temperature": probe("temperature", "C"), "level": probe("level", "L")},
            "pump": {"output": {"topic": "cellar/pump/set", "on": "on {seconds}", "off": "off"},
                     "readback": {"topic": "cellar/runs"}, "permit": "while proven", "dwell": "1 s",
                     "max_volume": "60 L", "max_run": "1 h"}}},
    }


class Client:
    """Publishes good samples in turn, and keeps when what came last."""

    def __init__(self, port):
        self.seen = {}  # topic -> (payload, when)
        self.news = threading.Condition()
        self.good = threading.Event()
        self.good.set()
        self.ending = threading.Event()
        self.client = mqtt.Client(client_id="bench")
        self.client.on_message = self.take
        self.client.on_connect = lambda *_: self.client.subscribe([(GATE, 1), ("bench/echo", 1)])
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self.thread = threading.Thread(target=self.publish_good)
        self.thread.start()

    def take(self, _client, _userdata, message):
        now = time.perf_counter()
        with self.news:
            self.seen[message.topic] = (message.payload, now)
            self.news.notify_all()

    def publish_good(self):
        while not self.ending.wait(EVERY_S):
            for name, value in GOOD.items():
                if name != "salinity" or self.good.is_set():
                    self.client.publish(f"cellar/{name}", str(value), 1)

    def seconds_until(self, topic, wanted, publish_to, payload):
        with self.news:
            began = time.perf_counter()
            self.client.publish(publish_to, payload, 1)
            came = self.news.wait_for(
                lambda: self.seen.get(topic, (None, 0.0))[0] == wanted
                and self.seen[topic][1] >= began, 10)
        expect(came, f"{topic} did not become {wanted}")
        return self.seen[topic][1] - began

    def stop(self):
        self.ending.set()
        self.thread.join()
        self.client.loop_stop()


class Options:
    brinegate, simulator = sys.argv[1:3]


def measure(bench, client, repetitions):
    echoes, shuts = [], []
    for i in range(repetitions):
        wait_for(lambda: client.seen.get(GATE, (b"",))[0] == b"open", 60,
                 lambda: f"the open gate: {bench.daemon.station()['headline']}")
        time.sleep(0.35 + 0.013 * i)  # at another moment between two samples each time
        echoes.append(client.seconds_until("bench/echo", str(i).encode(), "bench/echo", str(i)))
        time.sleep(0.05)
        client.good.clear()
        shuts.append(client.seconds_until(GATE, b"shut", "cellar/salinity", str(BAD_SALINITY)))
        client.good.set()
    return echoes, shuts


def in_milliseconds(times):
    return {"median": round(1e3 * statistics.median(times), 2),
            "worst": round(1e3 * max(times), 2)}


def main():
    repetitions = int(sys.argv[3]) if len(sys.argv) > 3 else 10
    with Bench(Options) as bench:
        bench.start_broker()
        client = Client(bench.broker_port)
        try:
            bench.daemon = bench.start_daemon(configuration(bench))
            bench.daemon.wait(lambda s: s["salinity"], 10, "a salinity")
            bench.daemon.must("batch", "begin", "mixer", "--lot", "H-2291")
            echoes, shuts = measure(bench, client, repetitions)
        finally:
            client.stop()
    print(json.dumps({
        "repetitions": repetitions,
        "broker_round_trip_ms": in_milliseconds(echoes),
        "sample_to_shut_ms": in_milliseconds(shuts),
        "ratio": round(statistics.median(shuts) / statistics.median(echoes), 2)}, indent=2))


main()
