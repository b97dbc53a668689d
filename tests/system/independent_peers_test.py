#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A proven batch and a change where nothing but the daemon is ours: python3-pymodbus stands in for
the transmitter and for a relay board with a timed "on", on TCP and, through socat, on a serial
line; paho publishes the thermometer; mosquitto is the broker."""

import json
import os
import random
import socket
import struct
import sys
import threading
import time
from datetime import datetime, timezone

import paho.mqtt.client as mqtt
from pymodbus.datastore import ModbusServerContext, ModbusSlaveContext
from pymodbus.factory import ServerDecoder
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

from rig import HERE, Process, cellar, expect, mixer, run, wait_for

sys.path.insert(0, str(HERE.parent / "peers"))
from modbus_slave import answer_all  # noqa: E402  pylint: disable=wrong-import-position

# PSS-78: practical salinity 35 conducts 42.914 mS/cm at 15 °C and C(35, 25 °C) is 53.065 mS/cm.
CONDUCTIVITY_OF_35_AT_25 = 53.065
FLOW_L_S = 0.5


class Vessel:
    """Water of salinity 35 at 25 °C, and the board that pumps it out until its "on" lapses."""

    def __init__(self):
        self.lock = threading.Lock()
        self.litres = 150.0
        self.conductivity = CONDUCTIVITY_OF_35_AT_25
        self.circulates = True
        self.leaks = False
        self.on_until = 0.0
        self.stepped = time.monotonic()

    def step(self):
        with self.lock:
            now = time.monotonic()
            self.litres -= FLOW_L_S * max(0.0, min(now, self.on_until) - self.stepped)
            self.stepped = now
            return now < self.on_until

    def hold_on(self, tenths):
        self.step()
        self.on_until = self.stepped + tenths / 10.0

    def drawn(self):
        self.step()
        return 150.0 - self.litres


class Table:
    """One of a pymodbus unit's four tables: read by a function of the address."""

    def __init__(self, read, write=None, addresses=range(32)):
        self.read, self.write, self.addresses = read, write, addresses

    def validate(self, address, count=1):
        return address in self.addresses and address + count - 1 in self.addresses

    def getValues(self, address, count=1):  # pylint: disable=invalid-name
        return [self.read(at) for at in range(address, address + count)]

    def setValues(self, address, values):  # pylint: disable=invalid-name
        for at, value in enumerate(values if isinstance(values, list) else [values], address):
            self.write(at, value)


def context_of(vessel):
    def input_register(address):
        if address % 2 == 0:
            noisy = vessel.conductivity + random.gauss(0.0, 0.005)
            input_register.words = struct.unpack(">HH", struct.pack(">f", noisy))
        return input_register.words[address % 2]

    def holding_register(address):
        if address == 4:
            vessel.step()
            return round(vessel.litres * 4)
        return max(0, round((vessel.on_until - time.monotonic()) * 10)) if address == 16 else 0

    def write_register(address, value):
        if address == 16:
            vessel.hold_on(value)

    def write_coil(address, on):
        if address == 0:
            vessel.hold_on(6000 if on else 0)

    def contact(address):
        return {0: vessel.step(), 1: vessel.circulates, 2: vessel.leaks}.get(address, False)

    nothing = Table(lambda address: 0, lambda address, value: None)
    transmitter = ModbusSlaveContext(
        di=nothing, co=nothing, ir=Table(input_register),
        hr=Table(holding_register, write_register), zero_mode=True)
    board = ModbusSlaveContext(
        di=Table(contact), co=Table(lambda address: address == 0 and vessel.step(), write_coil),
        ir=nothing, hr=Table(holding_register, write_register), zero_mode=True)
    return ModbusServerContext(slaves={1: transmitter, 2: board}, single=False)


def serve_tcp(vessel):
    listener = socket.create_server(("127.0.0.1", 0))

    def serve():
        while True:
            connection, _ = listener.accept()
            try:
                answer_all(context_of(vessel), ModbusSocketFramer(ServerDecoder(), None),
                           lambda: connection.recv(1024), connection.sendall)
            except ConnectionError:
                pass

    threading.Thread(target=serve, daemon=True).start()
    return f"modbus-tcp://127.0.0.1:{listener.getsockname()[1]}"


def serve_rtu(vessel, bench):
    ours, theirs = bench.folder / "slave", bench.folder / "master"
    Process(bench, "socat", ["socat", f"pty,rawer,echo=0,link={ours}",
                             f"pty,rawer,echo=0,link={theirs}"])
    wait_for(lambda: ours.exists() and theirs.exists(), 10, "a pair of serial lines")
    line = os.open(ours, os.O_RDWR | os.O_NOCTTY)

    def serve():
        try:
            answer_all(context_of(vessel), ModbusRtuFramer(ServerDecoder(), None),
                       lambda: os.read(line, 256), lambda data: os.write(line, data))
        except OSError:
            pass  # the other end is gone

    threading.Thread(target=serve, daemon=True).start()
    return f"modbus-rtu://{theirs}?baud=19200&parity=none&stop=1"


def publish_temperature(port, ending):
    client = mqtt.Client(client_id="thermometer")
    client.connect("127.0.0.1", port)
    client.loop_start()
    while not ending.wait(0.25):
        reading = {"temperature_c": round(25.0 + random.gauss(0.0, 0.01), 3),
                   "time": datetime.now(timezone.utc).isoformat()}
        client.publish("cellar/bath", json.dumps(reading), 1)
    client.loop_stop()
    client.disconnect()


def verify(daemon, vessel):
    """Every register map is held against what the devices show, at two points (S22)."""
    def points(probe, attribute, *values_and_words):
        before = getattr(vessel, attribute)
        for value, shows in values_and_words:
            setattr(vessel, attribute, value)
            time.sleep(1)
            daemon.must("probe", "verify", "mixer", probe, "--shows", shows)
        setattr(vessel, attribute, before)

    expect("Verify cell_a" in daemon.station()["headline"], f"{daemon.station()['headline']}")
    points("cell_a", "conductivity", (0.1, "0.10 mS/cm"), (53.065, "53.1 mS/cm"))
    points("height", "litres", (60.0, "60 L"), (150.0, "150 L"))
    points("stirrer", "circulates", (False, "stopped"), (True, "running"))
    points("floor", "leaks", (True, "wet"), (False, "dry"))
    verdict = next(c for c in daemon.station()["checks"] if c["id"] == "probes-verified")
    expect(verdict["verdict"] == "met", f"{verdict}")


def prove_and_change(bench, vessel, address):
    ending = threading.Event()
    thermometer = threading.Thread(target=publish_temperature, args=(bench.broker_port, ending))
    thermometer.start()
    try:
        configuration = cellar(bench.folder / "data", bench.broker_port, address)
        # Real by all it knows: neither the line nor the messages say that they are simulated.
        del configuration["link"]["rack"]["simulated"]
        mixer(configuration)["pump"]["readback_within"] = "2 s"
        bench.daemon = daemon = bench.start_daemon(configuration)
        daemon.wait(lambda s: s["salinity"], 20, "a salinity")
        verify(daemon, vessel)
        daemon.must("batch", "begin", "mixer", "--lot", "H-2291")
        proven = daemon.wait_for_phase("proven")
        salinity = proven["salinity"]["practical_salinity"]
        expect(abs(salinity - 35.0) < 0.03, f"practical salinity {salinity} of 35")
        daemon.wait_until_ready()
        expect(vessel.drawn() == 0.0, "water flowed unasked")
        bench.change(8)
        wait_for(vessel.step, 20, "the pump on")
        daemon.wait_for_gate("shut", 60)
        time.sleep(0.5)
        print(f"asked 8 L, drawn {vessel.drawn():.2f} L")
        expect(abs(vessel.drawn() - 8.0) < 1.2, f"drawn {vessel.drawn()} of 8 L")
        expect(not vessel.step(), "the pump runs on")

        drawn = vessel.drawn()
        daemon.wait_until_ready()
        bench.change(30)
        wait_for(lambda: vessel.drawn() > drawn + 1 and vessel.step(), 20, "the pump on again")
        killed = time.monotonic()
        daemon.kill()
        wait_for(lambda: not vessel.step(), 10, "the timed on lapsed")
        took = vessel.on_until - killed
        print(f"daemon killed: the pump was off after {took:.2f} s")
        expect(took <= 2.1, f"{took} s with a lease of 2 s")
    finally:
        ending.set()
        thermometer.join()


def a_slave_on_tcp(bench):
    bench.start_broker()
    vessel = Vessel()
    prove_and_change(bench, vessel, serve_tcp(vessel))


def a_slave_on_a_serial_line(bench):
    bench.start_broker()
    vessel = Vessel()
    prove_and_change(bench, vessel, serve_rtu(vessel, bench))


if __name__ == "__main__":
    run(a_slave_on_tcp, a_slave_on_a_serial_line)
