#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Home automation's side, played through an independent broker: it finds a station, is told all
again after its own start, presses a button and is refused with the reason, sees a station go that
left the configuration, and everything become unavailable when the daemon is killed."""

import copy
import json
import signal
import time

from mqtt_contract_test import BASE, MIXER, Client
from rig import expect, mixer, run, wait_for, write_toml

PREFIX = "homeassistant/device/brinegate-cellar/"
BIRTH = "homeassistant/status"
LONGEST_DELAY_S = 5.0


def announcement(station):
    return f"{PREFIX}{station}/config"


def discovered(configuration):
    configuration["mqtt"]["discovery"] = True
    mixer(configuration)["pump"]["change_button"] = "5 L"
    drip = {"profile": "reef", "capacity": "25 L", "probe": {
        "meter": {"measures": "salinity", "source": {"command": ["sleep", "1000"], "in": "PSU"}}}}
    configuration["station"]["drip"] = drip


class HomeAutomation(Client):
    """Shows what it is told, as its documentation says."""

    def __init__(self, bench):
        super().__init__(bench.broker_port, "home", BASE + "#", "homeassistant/#")

    def latest(self, topic):
        return (self.of(topic) or [b""])[-1].decode()

    def device(self, station="mixer"):
        return json.loads(self.latest(announcement(station)))

    def wait_for_device(self, station="mixer"):
        wait_for(lambda: self.latest(announcement(station)), 20, f"{station} announced")
        return self.device(station)

    def is_available(self, component, device):
        """Where a template is given, only an empty message is none."""
        told = [(each, self.latest(each["t"])) for each in component.get("avty", device["avty"])]
        return all(message != "" if "val_tpl" in each else message == "online"
                   for each, message in told)

    def press(self, button):
        """The next answer after that."""
        before = len(self.of(MIXER + "reply"))
        pressed = button["cmd_tpl"].replace("{{ now().timestamp() }}", f"{time.time():.6f}")
        self.client.publish(button["cmd_t"], pressed, button["qos"],
                            button["ret"]).wait_for_publish()
        wait_for(lambda: len(self.of(MIXER + "reply")) > before, 10, "an answer to the button")
        return json.loads(self.of(MIXER + "reply")[before])


def retained(bench, topic):
    """What a newcomer is told of it."""
    newcomer = Client(bench.broker_port, "newcomer", topic, BASE + "status")
    wait_for(lambda: newcomer.of(BASE + "status"), 5, "the retained status")
    time.sleep(0.3)
    newcomer.stop()
    return newcomer.of(topic)


def everything_spoken_of_is_there(home, device):
    for key, component in device["cmps"].items():
        if component["p"] == "button" or key == "answer":
            continue
        wait_for(lambda c=component: home.latest(c["stat_t"]), 20, f"a word of {key}")
        expect(home.is_available(component, device), f"{key} is not available")


def is_found_and_told_again(bench):
    bench.start_all(discovered)
    home = HomeAutomation(bench)
    device = home.wait_for_device()
    expect(retained(bench, announcement("mixer")), "the announcement is not retained")
    everything_spoken_of_is_there(home, device)
    unwatched = home.wait_for_device("drip")
    expect(not home.is_available(unwatched["cmps"]["salinity"], unwatched), "a value of nothing")

    bench.rig.tell("fault temperature silent")
    temperature = device["cmps"]["temperature"]
    wait_for(lambda: not home.is_available(temperature, device), 10, "the temperature unavailable")
    expect(home.is_available(device["cmps"]["headline"], device), "nobody hears why it is shut")
    bench.rig.tell("fault temperature none")
    wait_for(lambda: home.is_available(temperature, device), 10, "the temperature again")

    topics = [announcement("mixer"), announcement("drip"), BASE + "status", MIXER + "gate",
              MIXER + "state", MIXER + "temperature", BASE + "drip/state"]
    home.publish(BIRTH, "offline")  # it goes
    time.sleep(0.5)
    before = {topic: len(home.of(topic)) for topic in topics}
    home.publish(BIRTH, "online")
    for topic in topics:
        wait_for(lambda t=topic: len(home.of(t)) > before[t], LONGEST_DELAY_S + 2,
                 f"{topic} told again")
    expect(home.device() == device, "another device after home automation's start")

    bench.daemon.kill()
    wait_for(lambda: home.latest(BASE + "status") == "offline", 15, "offline by the last will")
    for key, component in device["cmps"].items():
        expect(not home.is_available(component, device), f"{key} outlives the daemon")
    home.stop()


def a_button_is_judged_like_any_request(bench):
    bench.start_all(discovered)
    home = HomeAutomation(bench)
    buttons = home.wait_for_device()["cmps"]
    bench.daemon.wait(lambda s: s["volume_l"] is not None, 20, "a first level")
    refused = home.press(buttons["change"])
    expect(not refused["ok"] and "Refused" in refused["message"] and refused["reasons"],
           f"{refused}")
    expect(not home.press(buttons["stop"])["ok"], "it stopped what did not run")
    time.sleep(1.5)
    expect(bench.rig.drawn() == 0.0 and not bench.daemon.station()["change"], "it acted")

    bench.prove()
    expect(home.press(buttons["change"])["ok"], "refused though all is proven")
    bench.rig.wait_until_pumping(0.5)
    expect(home.press(buttons["stop"])["ok"], "the stop was refused")
    bench.daemon.wait_for_gate("shut")
    expect(bench.rig.drawn() < 5.0, f"drawn {bench.rig.drawn()} L in spite of the stop")
    home.stop()


def what_is_gone_leaves_no_ghost(bench):
    bench.start_all(discovered)
    home = HomeAutomation(bench)
    home.wait_for_device("drip")
    home.wait_for_device("mixer")

    # Removed by a new configuration.
    without_drip = copy.deepcopy(bench.configured)
    del without_drip["station"]["drip"]
    del mixer(without_drip)["probe"]["floor"]
    bench.daemon.configuration.write_text(write_toml(without_drip))
    bench.daemon.signal(signal.SIGHUP)
    wait_for(lambda: home.latest(announcement("drip")) == "", 15, "drip taken back")
    wait_for(lambda: "leak-floor" not in home.device()["cmps"], 15, "the probe taken back")
    told = [json.loads(each)["cmps"] for each in home.of(announcement("mixer"))]
    expect({"p": "binary_sensor"} in [each.get("leak-floor") for each in told],
           "the probe was left out without being taken back")
    expect(not retained(bench, announcement("drip")), "drip stands on the broker")

    # Turned off while the daemon was down.
    bench.daemon.kill()
    without_drip["mqtt"]["discovery"] = False
    bench.daemon = bench.start_daemon(without_drip)
    wait_for(lambda: home.latest(announcement("mixer")) == "", 15, "mixer taken back")
    expect(not retained(bench, announcement("mixer")), "mixer stands on the broker")
    home.stop()


if __name__ == "__main__":
    run(is_found_and_told_again, a_button_is_judged_like_any_request, what_is_gone_leaves_no_ghost)
