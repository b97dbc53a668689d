#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""What is simulated never moves a real pump (S17): a batch as good as any other, whose probes, or
only the thermometer's messages, say that they are simulated, before an output that does not."""

import time

from rig import cellar, expect, run

LONG_ENOUGH_S = 45  # an honest batch is proven in less


def never_open(bench, configuration, simulated_probe):
    bench.daemon = bench.start_daemon(configuration)
    bench.begin(bench.dose())
    end = time.monotonic() + LONG_ENOUGH_S
    while time.monotonic() < end:
        station = bench.daemon.station()
        expect(station["gate"] == "shut" and station["phase"] != "proven", f"{station}")
        time.sleep(0.1)
    status, answer, _ = bench.daemon.command("change", "mixer", "--volume", "10 L")
    expect(status == 1, f"accepted: {answer}")
    expect(any(simulated_probe in reason and "is simulated, and the pump is real" in reason
               for reason in answer["reasons"]), f"{answer['reasons']}")
    expect(bench.rig.drawn() == 0.0, "water flowed")


def probes_on_a_simulated_link(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    board = bench.start_rig("board", site="board")
    configuration = cellar(bench.folder / "data", bench.broker_port, bench.rig.address,
                           board.address)
    del configuration["link"]["board"]["simulated"]
    never_open(bench, configuration, "cell_a")
    expect(board.drawn() == 0.0 and not board.pump_is_on(), "the real pump ran")


def messages_that_say_so(bench):
    bench.start_broker()
    bench.rig = bench.start_rig()
    configuration = cellar(bench.folder / "data", bench.broker_port, bench.rig.address)
    del configuration["link"]["rack"]["simulated"]
    never_open(bench, configuration, "bath")


if __name__ == "__main__":
    run(probes_on_a_simulated_link, messages_that_say_so)
