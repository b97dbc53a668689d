#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A hostile client in a process of its own, until it is killed. Over HTTP: two hundred heads that
never end, and questions as fast as they are answered. Over MQTT: requests as fast as the broker
takes them, most of them nonsense. Usage: flood.py http|mqtt PORT
"""

import http.client
import json
import socket
import sys
import threading
import time

import paho.mqtt.client as mqtt

SILENT_HEADS = 200
ASKERS = 4
BURST = 200  # messages, then the client may send


def trickle(port):
    heads = []
    while True:
        while len(heads) < SILENT_HEADS:
            try:
                heads.append(socket.create_connection(("127.0.0.1", port), timeout=1))
                heads[-1].sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX: ")
            except OSError:
                break
        for head in list(heads):
            try:
                head.sendall(b"x")
            except OSError:
                heads.remove(head)
        time.sleep(0.3)


def ask_on_and_on(port):
    while True:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
        try:
            while True:
                for target in ("/api/v1/stations", "/metrics", "/api/v1/record", "/nothing"):
                    connection.request("GET", target)
                    connection.getresponse().read()
        except (OSError, http.client.HTTPException):
            time.sleep(0.05)


def publish_on_and_on(port):
    client = mqtt.Client(client_id="hostile")
    client.connect("127.0.0.1", port)
    client.loop_start()
    print("flooding", flush=True)
    count = 0
    while True:
        for _ in range(BURST):
            count += 1
            change = {"id": f"hostile-{count}", "do": "change", "volume": "9999 L"}
            payload = ("[" * 1000, "x" * 15000, json.dumps(change))[count % 3]
            client.publish("brinegate/cellar/mixer/request", payload, 0)
        time.sleep(0.02)


def main():
    kind, port = sys.argv[1], int(sys.argv[2])
    if kind == "mqtt":
        publish_on_and_on(port)
    for work in [trickle] + [ask_on_and_on] * ASKERS:
        threading.Thread(target=work, args=(port,), daemon=True).start()
    print("flooding", flush=True)
    threading.Event().wait()


if __name__ == "__main__":
    main()
