#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""S13, on a broker as it should be at home: TLS, passwords, and the access list of
config/mosquitto.acl.example. A user without rights can neither ask, nor lie about the water, nor
drive the pump, nor listen; and no password is seen in what the daemon says."""

import json
import subprocess
import time

import paho.mqtt.client as mqtt

from rig import HERE, Process, expect, free_port, listens, run, wait_for

ACCESS = HERE.parent.parent / "config" / "mosquitto.acl.example"
SECRET = "invented-{}-secret"
USERS = ("brinegate", "room", "socket", "keeper", "home", "display", "stranger")
MIXER = "brinegate/cellar/mixer/"
ANNOUNCED = "homeassistant/device/brinegate-cellar/mixer/config"
WARMTH = json.dumps({"temperature_c": 25.0})


def make_certificate(folder):
    """One that vouches for itself is its own authority."""
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
         "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=DNS:localhost",
         "-keyout", folder / "broker.key", "-out", folder / "broker.pem"],
        check=True, capture_output=True)
    (folder / "broker.key").chmod(0o644)  # the broker gives up root's rights


def start_broker(bench):
    folder = bench.folder
    make_certificate(folder)
    passwords = folder / "users"
    passwords.touch()
    for user in USERS:
        subprocess.run(["mosquitto_passwd", "-b", passwords, user, SECRET.format(user)], check=True)
    access = folder / "access"
    access.write_bytes(ACCESS.read_bytes())
    for file in (passwords, access):
        file.chmod(0o644)
    bench.broker_port = free_port()
    file = folder / "mosquitto.conf"
    file.write_text(f"listener {bench.broker_port} 127.0.0.1\nallow_anonymous false\n"
                    f"persistence false\nset_tcp_nodelay true\nper_listener_settings false\n"
                    f"password_file {passwords}\nacl_file {access}\n"
                    f"certfile {folder}/broker.pem\nkeyfile {folder}/broker.key\n")
    broker = Process(bench, "broker", ["/usr/sbin/mosquitto", "-c", file])
    wait_for(lambda: listens(bench.broker_port), 10, lambda: f"the broker: {broker.log()}")
    return broker


def configuration(bench):
    """Read and driven by MQTT alone."""
    password = bench.folder / "password"
    password.write_text(SECRET.format("brinegate") + "\n")
    password.chmod(0o600)
    cell = {"measures": "salinity", "source": {"command": ["sleep", "1000"], "in": "PSU"}}
    room = {"measures": "temperature", "stale_after": "1 min",
            "source": {"topic": "cellar/room", "pointer": "/temperature_c", "in": "C"}}
    level = {"measures": "level", "source": {"command": ["sleep", "1001"], "in": "L"}}
    return {
        "site": "cellar", "data": str(bench.folder / "data"),
        "mqtt": {"broker": f"mqtts://localhost:{bench.broker_port}", "username": "brinegate",
                 "password_file": "password", "ca_file": "broker.pem", "discovery": True},
        "profile": {"reef": {"salinity": "35 ppt", "tolerance": "1 ppt",
                             "temperature": ["24 C", "26 C"]}},
        "station": {"mixer": {
            "profile": "reef", "capacity": "200 L",
            "probe": {"cell": cell, "room": room, "height": level},
            "pump": {"output": {"topic": "cellar/socket/set", "on": "on {seconds}", "off": "off"},
                     "max_volume": "60 L", "max_run": "15 min"}}},
    }


class User:
    """One of the broker's users, with everything that it is told."""

    def __init__(self, bench, name, password=None):
        self.received = []
        self.answer = None
        self.client = mqtt.Client(client_id=f"{name}-client", protocol=mqtt.MQTTv5)
        self.client.username_pw_set(name, password or SECRET.format(name))
        self.client.tls_set(bench.folder / "broker.pem")
        self.client.on_connect = self.connected
        self.client.on_message = lambda _c, _u, m: self.received.append((m.topic, m.payload))
        self.client.connect("localhost", bench.broker_port)
        self.client.loop_start()
        wait_for(lambda: self.answer is not None, 10, f"an answer to {name}")

    def connected(self, _client, _userdata, _flags, reason, _properties):
        self.answer = reason
        self.client.subscribe("#", 1)  # the broker leaves out what one may not read

    def publish(self, topic, payload, retain=False):
        self.client.publish(topic, payload, 1, retain).wait_for_publish(10)

    def of(self, topic):
        return [payload for t, payload in list(self.received) if t == topic]

    def stop(self):
        self.client.loop_stop()
        self.client.disconnect()


def temperature(bench):
    return bench.daemon.station()["readings"]["room"].get("value")


def what_the_list_allows_works(bench, keeper, home, room, socket):
    wait_for(lambda: home.of(ANNOUNCED), 10, "the announcement")
    home.publish("homeassistant/status", "online")
    wait_for(lambda: len(home.of(ANNOUNCED)) > 1, 10, "the announcement again")
    room.publish("cellar/room", WARMTH)
    wait_for(lambda: temperature(bench) == 25.0, 10, "the thermometer's value")
    keeper.publish(MIXER + "request", json.dumps({"id": "k1", "do": "change", "volume": "1 L"}))
    wait_for(lambda: keeper.of(MIXER + "reply"), 10, "an answer to the keeper")
    expect(json.loads(keeper.of(MIXER + "reply")[0])["id"] == "k1", "another's answer")
    wait_for(lambda: socket.of("cellar/socket/set"), 10, "the switch is told")
    expect(set(socket.of("cellar/socket/set")) == {b"off"}, f"{socket.received}")


def a_stranger_can_do_nothing(bench, stranger, keeper, home, socket):
    state = json.dumps({"gate": "open"})
    for topic, payload in ((MIXER + "request", '{"id": "s1", "do": "stop"}'),
                           ("cellar/room", '{"temperature_c": 12.5}'),
                           ("cellar/socket/set", "on 60"), (MIXER + "gate", "open"),
                           (MIXER + "state", state), ("brinegate/cellar/status", "offline"),
                           (ANNOUNCED, "{}"), ("homeassistant/status", "online")):
        for retain in (False, True):
            stranger.publish(topic, payload, retain)
    time.sleep(1.5)
    answers = keeper.of(MIXER + "reply")
    expect(len(answers) == 1, f"answers to a stranger: {answers}")
    expect(temperature(bench) == 25.0, f"a stranger's sample counts: {temperature(bench)}")
    expect(set(socket.of("cellar/socket/set")) == {b"off"}, "a stranger drives the pump")
    expect(b"open" not in keeper.of(MIXER + "gate"), "a stranger speaks for the gate")
    expect(not stranger.received, f"a stranger hears {stranger.received}")
    expect(b"{}" not in home.of(ANNOUNCED), "a stranger announces something as ours")


def the_others_have_no_more_than_they_need(keeper, room, display):
    """Who may do something may do only that."""
    before = len(keeper.of(MIXER + "reply"))
    room.publish(MIXER + "request", '{"id": "r1", "do": "stop"}')
    display.publish(MIXER + "request", '{"id": "d1", "do": "stop"}')
    keeper.publish("cellar/room", '{"temperature_c": 12.5}')
    keeper.publish("cellar/socket/set", "on 60")
    time.sleep(1.0)
    expect(len(keeper.of(MIXER + "reply")) == before, "an answer to whom may not ask")
    expect(not room.received, f"the thermometer hears {room.received}")
    expect(display.of(MIXER + "gate") and not display.of(MIXER + "reply"), f"{display.received}")


def no_password_is_told(bench):
    secret = SECRET.format("brinegate")
    said = bench.daemon.log() + json.dumps(bench.daemon.ask(do="status"))
    printed = subprocess.run(
        [bench.brinegate, "config", "check", bench.daemon.configuration, "--json"],
        capture_output=True, text=True, check=True)
    said += printed.stdout + printed.stderr
    for file in bench.daemon.data.iterdir():
        if file.is_file():
            said += file.read_bytes().decode(errors="replace")
    expect("mixer" in said, "nothing was looked at")
    expect(secret not in said, "the password is told")


def strangers_are_kept_out(bench):
    start_broker(bench)
    users = {name: User(bench, name) for name in USERS if name != "brinegate"}
    bench.daemon = bench.start_daemon(configuration(bench))
    keeper, home, socket = users["keeper"], users["home"], users["socket"]
    stranger = users["stranger"]
    wait_for(lambda: b"online" in keeper.of("brinegate/cellar/status"), 20,
             lambda: f"online: {bench.daemon.log()}")
    what_the_list_allows_works(bench, keeper, home, users["room"], socket)
    a_stranger_can_do_nothing(bench, stranger, keeper, home, socket)
    the_others_have_no_more_than_they_need(keeper, users["room"], users["display"])
    expect(temperature(bench) == 25.0, "the keeper speaks for the thermometer")
    expect(set(socket.of("cellar/socket/set")) == {b"off"}, "the keeper drives the pump")
    intruder = User(bench, "brinegate", "guessed")
    expect(intruder.answer != 0, "a guessed password is taken")
    no_password_is_told(bench)
    for user in (*users.values(), intruder):
        user.stop()


def a_refusal_is_told_once_with_its_reason(bench):
    start_broker(bench)
    wrong = configuration(bench)
    (bench.folder / "password").write_text("guessed-secret\n")
    bench.daemon = bench.start_daemon(wrong)
    wait_for(lambda: "refuses the user" in bench.daemon.log(), 20, lambda: bench.daemon.log())
    time.sleep(4.0)  # several attempts more
    expect(bench.daemon.log().count("refuses the user") == 1, bench.daemon.log())
    expect("guessed-secret" not in bench.daemon.log(), "the password is told")
    expect(bench.daemon.terminate() == 0, "it does not end")

    (bench.folder / "password").chmod(0o644)
    refused = subprocess.run([bench.brinegate, "run", "--config", bench.daemon.configuration],
                             capture_output=True, text=True, timeout=20, check=False)
    expect(refused.returncode == 2 and "chmod 600" in refused.stderr, f"{refused}")


if __name__ == "__main__":
    run(strangers_are_kept_out, a_refusal_is_told_once_with_its_reason)
