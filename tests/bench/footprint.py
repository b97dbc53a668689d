#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""What the daemon with one station on a rig takes: resident memory after it has settled, with and
without dashboards open, and the time from its start to its first decision, which is the first state
on the broker.
Usage: footprint.py BRINEGATE BRINEGATE_SIM [REPETITIONS]"""

import http.client
import json
import statistics
import sys
import threading
import time
from pathlib import Path

import paho.mqtt.client as mqtt

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "system"))
# pylint: disable-next=wrong-import-position
from rig import Bench, cellar, expect, free_port  # noqa: E402

SETTLED_S = 10
DASHBOARDS = 10
ASKED_BY_A_PAGE = ("/", "/style.css", "/api/v1/stations", "/api/v1/batches", "/api/v1/lots",
                   "/api/v1/readings?station=mixer&probe=cell_a")


class Options:
    brinegate, simulator = sys.argv[1:3]


def kilobytes(pid, name):
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith(f"{name}:"):
            return int(line.split()[1])
    raise ValueError(name)


def start_timed(bench, configuration):
    """The daemon, and the seconds from its start to its first state on the broker."""
    came = threading.Event()
    when, ready = [], threading.Event()
    client = mqtt.Client(client_id="bench", clean_session=True)

    def take(_client, _userdata, message):
        if not message.retain:
            when.append(time.perf_counter())
            came.set()

    client.on_connect = lambda *_: client.subscribe("brinegate/cellar/mixer/state", 1)
    client.on_subscribe = lambda *_: ready.set()
    client.on_message = take
    client.connect("127.0.0.1", bench.broker_port)
    client.loop_start()
    expect(ready.wait(5), "no subscription")
    began = time.perf_counter()
    daemon = bench.start_daemon(configuration)
    expect(came.wait(10), "no state on the broker")
    client.loop_stop()
    client.disconnect()
    return daemon, when[0] - began


def read_stream(port):
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request("GET", "/api/v1/stream")
    answer = connection.getresponse()
    expect(answer.status == 200, f"the stream: {answer.status}")
    while answer.read1(4096):
        pass


def open_dashboards(port):
    """As many as people may leave open: what a page asks for, then its stream, read to its end."""
    for _ in range(DASHBOARDS):
        for path in ASKED_BY_A_PAGE:
            connection = http.client.HTTPConnection("127.0.0.1", port)
            connection.request("GET", path)
            answer = connection.getresponse()
            expect(answer.status == 200, f"{path}: {answer.status}")
            answer.read()
            connection.close()
        threading.Thread(target=read_stream, args=(port,), daemon=True).start()


def memory_mb(pid):
    return {"resident": round(kilobytes(pid, "VmRSS") / 1024, 1),
            "of_it_own": round(kilobytes(pid, "RssAnon") / 1024, 1)}


def main():
    repetitions = int(sys.argv[3]) if len(sys.argv) > 3 else 5
    with Bench(Options) as bench:
        bench.start_broker()
        rig = bench.start_rig()
        configuration = cellar(bench.folder / "data", bench.broker_port, rig.address)
        port = free_port()
        configuration["http"] = {"listen": f"127.0.0.1:{port}"}
        starts = []
        for _ in range(repetitions):
            daemon, took = start_timed(bench, configuration)
            starts.append(took)
            daemon.terminate()
        daemon, took = start_timed(bench, configuration)
        time.sleep(SETTLED_S)
        pid = daemon.process.pid
        alone = memory_mb(pid)
        open_dashboards(port)
        time.sleep(SETTLED_S)
        print(json.dumps({
            "memory_mb": alone, f"memory_mb_with_{DASHBOARDS}_dashboards": memory_mb(pid),
            "first_decision_s": {"median": round(statistics.median(starts), 3),
                                 "worst": round(max(starts), 3)}}, indent=2))


main()
