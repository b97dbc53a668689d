#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A well-mixed batch, from the salt to the end of a water change, on real lines."""

from rig import HERE, cellar, conductivity, expect, mixer, run

CHANGE_L = 12.0
NEAR_L = 1.2  # what the pump moves while a level is read twice and the relay obeys


def with_a_script(bench, configuration):
    mixer(configuration)["probe"]["cell_b"] = conductivity(
        {"command": ["/usr/bin/python3", str(HERE / "read_rig.py"), str(bench.rig.control),
                     "cell_b"], "in": "mS/cm"})


def mix_prove_and_change(bench):
    daemon, rig = bench.daemon, bench.rig
    status, answer, errors = daemon.command("change", "mixer", "--volume", "10 L")
    expect(status == 1 and answer["ok"] is False and answer["reasons"],
           f"a change without a batch: {status}, {answer}, {errors}")
    expect(not rig.pump_is_on(), "the pump runs without a batch")

    proven = bench.prove()
    proof = proven["batch"]["proof"]
    expect(abs(proof["salinity_g_kg"] - rig.salinity()) < 0.5,
           f"proven at {proof['salinity_g_kg']}, in truth {rig.salinity()}")
    expect(0.0 <= proof["risk"] <= 0.01, f"stated risk {proof['risk']}")
    expect(proven["gate"] == "shut" and rig.drawn() == 0.0, "drawn before anybody asked")

    bench.change(CHANGE_L)
    opened = daemon.wait_for_gate("open")
    expect(opened["permit"]["lot"] == "H-2291" and opened["permit"]["volume_l"] == CHANGE_L,
           f"permit {opened['permit']}")
    rig.wait_until_pumping()
    status, answer, _ = daemon.command("change", "mixer", "--volume", "10 L")
    expect(status == 1, f"a second change during the first: {answer}")
    ended = daemon.wait_for_gate("shut", 60)
    drawn = rig.drawn()
    print(f"asked {CHANGE_L} L, drawn in truth {drawn:.2f} L, "
          f"recorded {ended['batch']['drawn_l']:.2f} L")
    expect(abs(drawn - CHANGE_L) < NEAR_L, f"drawn {drawn} L, asked {CHANGE_L} L")
    expect(abs(ended["batch"]["drawn_l"] - drawn) < NEAR_L, f"recorded {ended['batch']}")
    expect(ended["phase"] == "proven" and ended["change"] is None, f"after it: {ended}")
    expect(not rig.pump_is_on(), "the pump runs on")
    expect([a["id"] for a in ended["alarms"]] == [], f"alarms: {ended['alarms']}")
    expect(daemon.terminate() == 0, "did not end well on SIGTERM")


def on_modbus_tcp_mqtt_and_a_script(bench):
    bench.start_all(lambda configuration: with_a_script(bench, configuration))
    mix_prove_and_change(bench)


def on_modbus_rtu_and_mqtt(bench):
    bench.start_broker()
    bench.rig = bench.start_rig(rtu=str(bench.folder / "tty"))
    bench.daemon = bench.start_daemon(
        cellar(bench.folder / "data", bench.broker_port, bench.rig.address))
    mix_prove_and_change(bench)


if __name__ == "__main__":
    run(on_modbus_tcp_mqtt_and_a_script, on_modbus_rtu_and_mqtt)
