#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The contract on MQTT, seen by an independent client through an independent broker: what is
retained and right, that a request acts once and never when retained, that every malformed one is
answered, and the last will."""

import json
import threading
import time

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from rig import cellar, expect, run, wait_for

BASE = "brinegate/cellar/"
MIXER = BASE + "mixer/"


class Client:
    """Keeps all that it has received: (topic, payload, retained, properties)."""

    def __init__(self, port, name, *topics, protocol=mqtt.MQTTv5):
        self.received = []
        self.ready = threading.Event()
        self.client = mqtt.Client(client_id=name, protocol=protocol)
        self.client.on_connect = lambda *_: self.client.subscribe([(t, 1) for t in topics])
        self.client.on_subscribe = lambda *_: self.ready.set()
        self.client.on_message = self.take
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        expect(self.ready.wait(10), "no subscription")

    def take(self, _client, _userdata, message):
        properties = getattr(message, "properties", None)
        self.received.append((message.topic, message.payload, bool(message.retain), properties))

    def of(self, topic):
        return [payload for t, payload, _, _ in list(self.received) if t == topic]

    def publish(self, topic, payload, retain=False, properties=None):
        if isinstance(payload, dict):
            payload = json.dumps(payload)
        self.client.publish(topic, payload, 1, retain, properties).wait_for_publish()

    def reply(self, payload, topic=MIXER + "reply", **options):
        """The next answer after publishing this request."""
        before = len(self.of(topic))
        self.publish(MIXER + "request", payload, **options)
        wait_for(lambda: len(self.of(topic)) > before, 10, f"an answer to {str(payload)[:80]}")
        return json.loads(self.of(topic)[before])

    def stop(self):
        self.client.loop_stop()
        self.client.disconnect()


def retained_values(port):
    """What a newcomer is told at once."""
    newcomer = Client(port, "newcomer", BASE + "#")
    wait_for(lambda: newcomer.of(BASE + "status"), 5, "the retained status")
    time.sleep(0.3)
    newcomer.stop()
    return {topic: payload.decode()
            for topic, payload, retained, _ in newcomer.received if retained}


def check_values(bench):
    told = retained_values(bench.broker_port)
    truth = bench.rig.state()["reservoir"]
    state = json.loads(told[MIXER + "state"])
    expect(told[BASE + "status"] == "online" and told[MIXER + "gate"] == "shut", f"{told}")
    expect(state["phase"] == "proven" and state["gate"] == "shut", f"{state}")
    near = {"salinity": (truth["salinity_psu"] * 35.16504 / 35.0, 0.5),
            "temperature": (truth["temperature_c"], 0.3), "volume": (truth["volume_l"], 1.0)}
    for name, (value, off) in near.items():
        said = float(told[MIXER + name])
        expect(abs(said - value) < off, f"{name}: {said}, in truth {value}")


def malformed_requests_are_answered(client):
    deep = "[" * 40 + "]" * 40
    for payload in ["", "not json", "[]", "{}", "\x00\xff\xfe", deep, "{" + " " * 20000 + "}",
                    {"do": "change", "volume": "10 L"}, {"id": "m1"}, {"id": "m2", "do": "open"},
                    {"id": "m3", "do": "change"}, {"id": "m4", "do": "change", "volume": 10},
                    {"id": "m5", "do": "change", "volume": "10"},
                    {"id": "m6", "do": "change", "volume": "-10 L"},
                    {"id": "m7", "do": "change", "volume": "10 L", "force": True},
                    {"id": "m8", "do": "change", "volume": "9999 L"},
                    {"id": "m9", "do": "begin", "lot": "H-2291"},
                    {"id": "m10", "do": "calibrate", "probe": "cell_a", "standard": "53 mS/cm"},
                    {"id": "m11", "do": "acknowledge", "alarm": "record-failing"},
                    {"id": 12, "do": "stop"}, {"id": "x" * 500, "do": "stop"}]:
        answer = client.reply(payload)
        expect(answer["ok"] is False and len(answer["message"]) > 10, f"{payload}: {answer}")


def a_request_acts_once(bench):
    bench.start_all(remembers=True)
    client = Client(bench.broker_port, "asker", BASE + "#", "asker/answers")
    bench.prove()
    check_values(bench)
    malformed_requests_are_answered(client)
    expect(bench.daemon.station()["gate"] == "shut", "a malformed request did something")

    request = {"id": "tuesday-1", "do": "change", "volume": "3 L"}
    first = client.reply(request)
    expect(first["ok"] and first["id"] == "tuesday-1", f"{first}")
    wait_for(lambda: b"open" in client.of(MIXER + "gate"), 10, "the open gate on the broker")
    bench.daemon.wait_for_gate("shut")
    drawn = bench.rig.drawn()
    expect(abs(drawn - 3.0) < 1.2, f"drawn {drawn} L of 3 L")
    bench.daemon.wait_until_ready()
    expect(client.reply(request) == first, "the answer to a repeated id is another one")

    # With MQTT 5 also where the asker wants it, and by MQTT 3.1.1 at all.
    wanted = Properties(PacketTypes.PUBLISH)
    wanted.ResponseTopic = "asker/answers"
    wanted.CorrelationData = b"\x00tuesday"
    answer = client.reply(request, "asker/answers", properties=wanted)
    expect(answer == first, f"on the response topic: {answer}")
    sent_along = next(p for t, _, _, p in client.received if t == "asker/answers")
    expect(sent_along.CorrelationData == b"\x00tuesday", "the correlation data are not the asker's")
    older = Client(bench.broker_port, "older", MIXER + "reply", protocol=mqtt.MQTTv311)
    expect(older.reply(request) == first, "by MQTT 3.1.1")
    refused = older.reply({"id": "older-1", "do": "change", "volume": "100 L"})
    expect(not refused["ok"] and "60" in refused["message"], f"above the maximum: {refused}")
    older.stop()

    bench.daemon.kill()
    bench.daemon = bench.start_daemon(bench.configured)
    bench.daemon.wait_until_ready()
    expect(client.reply(request) == first, "after a restart the repeated id is taken for a new one")
    time.sleep(2.0)
    expect(bench.rig.drawn() == drawn, f"the repeated id drew {bench.rig.drawn() - drawn} L")
    expect(not bench.daemon.station()["change"], "the repeated id started a change")
    client.stop()


def a_retained_request_never_acts(bench):
    def outlast_the_broker(configuration):
        configuration["station"]["mixer"]["probe"]["bath"]["stale_after"] = "1 min"

    bench.start_all(outlast_the_broker, remembers=True)
    bench.prove()
    # Retained while the daemon is there, then told again by a broker that came back.
    client = Client(bench.broker_port, "asker", MIXER + "reply")
    answer = client.reply({"id": "old-1", "do": "change", "volume": "3 L"}, retain=True)
    expect(not answer["ok"] and "retained" in answer["message"], f"as it was published: {answer}")
    client.stop()
    bench.broker.terminate()
    bench.broker = bench.start_broker(remembers=True)
    told = Client(bench.broker_port, "newcomer", MIXER + "request")
    wait_for(lambda: told.of(MIXER + "request"), 5, "the request that the broker remembers")
    told.stop()
    wait_for(lambda: "as brinegate-cellar" in bench.broker.log(), 20, "the daemon back")
    bench.daemon.wait_until_ready()
    time.sleep(1.5)
    expect(bench.rig.drawn() == 0.0 and not bench.daemon.station()["change"], "it acted")


def the_last_will(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    configuration = cellar(bench.folder / "data", bench.broker_port, bench.rig.address)
    client = Client(bench.broker_port, "watcher", BASE + "#")

    def status():
        return (client.of(BASE + "status") or [b""])[-1]

    for end in ("kill", "terminate"):
        daemon = bench.start_daemon(configuration)
        wait_for(lambda: status() == b"online", 10, "online")
        getattr(daemon, end)()
        wait_for(lambda: status() == b"offline", 10, f"offline after {end}")
    expect(retained_values(bench.broker_port)[BASE + "status"] == "offline", "it is not retained")

    bench.daemon = bench.start_daemon(configuration)
    wait_for(lambda: client.of(MIXER + "temperature")[-1:] not in ([], [b""]), 10, "a temperature")
    bench.rig.tell("fault temperature silent")
    wait_for(lambda: client.of(MIXER + "temperature")[-1] == b"", 10, "a temperature of nothing")
    client.stop()


if __name__ == "__main__":
    run(a_request_acts_once, a_retained_request_never_acts, the_last_will)
