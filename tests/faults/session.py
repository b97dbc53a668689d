# SPDX-License-Identifier: Apache-2.0
"""The daemon between real peers, a change of it under way again and again, and what is watched all
the while: when the pump's relay is on, and that whatever was acknowledged is on record."""

import contextlib
import http.client
import json
import os
import re
import sqlite3
import subprocess
import sys
import threading
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "system"))
# pylint: disable=wrong-import-position
from http_test import TOKEN, with_http  # noqa: E402
from rig import (  # noqa: E402
    Daemon, Failed, Process, PumpWatch, cellar, expect, free_port, listens, mixer, summary,
    wait_for)
from spoiling_line import FOREIGN_MS_CM, SpoilingLine  # noqa: E402

# Longer than the deadline of a probe and all that it takes to notice, so that the lease bounds all.
LEASE_S = 3.0
SEEN_LATE_S = 0.15  # the rig's relay is looked at twenty times a second
VOLUME_L = 50.0
READY_WITHIN_S = 120.0
FILE_SYSTEM_MB = 48


# --- The relay -----------------------------------------------------------------------------------


class SlaveRelay:
    """Of slave.py, by what it prints; what it was told last holds while it is frozen."""

    def __init__(self):
        self.boards = []
        self.fell = []  # when a board lost its power, and the relay with it

    def now_of(self, board):
        self.boards.append(board)

    def holds(self):
        """[(on from, on until)], each ended by the next."""
        told = [(float(at), float(until)) for board in self.boards for at, until in
                re.findall(r"told (\S+) until (\S+)\n", board.log())]
        told = sorted(told + [(at, at) for at in self.fell])
        nexts = [at for at, _ in told[1:]] + [float("inf")]
        return [(at, min(until, following)) for (at, until), following in zip(told, nexts)]

    def off_since(self, since):
        """The moment from `since` on at which it let go; None while it holds."""
        off = since
        for begin, end in self.holds():
            if begin <= off < end:
                off = end
        return off if off < time.monotonic() else None

    def is_on(self):
        return self.off_since(time.monotonic() - 0.001) is None

    def seconds_on_between(self, begin, end):
        return sum(max(0.0, min(off, end) - max(on, begin)) for on, off in self.holds())

    def begin_round(self):
        pass

    def seconds_until_off(self, since, within):
        return wait_for(lambda: self.off_since(since), within, "the relay off") - since


class RigRelay:
    """Of brinegate-sim, by its state."""

    def __init__(self):
        self.board = self.watch = None
        self.fell = []

    def now_of(self, board):
        self.board = board

    def begin_round(self):
        if self.watch:
            self.watch.stop()
        if self.board.drawn() > 100:
            self.board.tell("water 100 L")
        self.watch = PumpWatch(self.board)

    def is_on(self):
        return self.board.pump_is_on()

    def seconds_on_between(self, begin, end):
        seen = [(at, on) for at, on, _ in list(self.watch.seen) if begin < at < end]
        return sum(later - at for (at, on), (later, _) in zip(seen, seen[1:]) if on)

    def seconds_until_off(self, since, within):
        return self.watch.seconds_until_off(since, within)


# --- What was acknowledged -----------------------------------------------------------------------


class Notes:
    """Notes on the batch, one after the other by each of two ways in, and which were acknowledged.
    Whoever is not answered goes on with another one."""

    def __init__(self, session):
        self.session = session
        self.acknowledged = []  # (when, id, text)
        self.ending = threading.Event()
        self.threads = [threading.Thread(target=self.note_on_and_on, args=(way,), daemon=True)
                        for way in (self.by_socket, self.by_http)]
        for thread in self.threads:
            thread.start()

    def note_on_and_on(self, way):
        count = 0
        while not self.ending.wait(0.05):
            count += 1
            text = f"note {count} {way.__name__}"
            request = {"id": text, "station": "mixer", "do": "note", "text": text}
            try:
                if way(request).get("ok"):
                    self.acknowledged.append((time.monotonic(), text))
            except (OSError, ValueError, Failed, http.client.HTTPException):
                time.sleep(0.1)

    def by_socket(self, request):
        return self.session.daemon.ask(**request)

    def by_http(self, request):
        connection = http.client.HTTPConnection("127.0.0.1", self.session.bench.http_port,
                                                timeout=10)
        try:
            connection.request("POST", "/api/v1/requests", json.dumps(request), {
                "Content-Type": "application/json", "Authorization": f"Bearer {TOKEN}"})
            return json.loads(connection.getresponse().read())
        finally:
            connection.close()

    def before(self, moment):
        return [text for at, text in list(self.acknowledged) if at < moment]

    def stop(self):
        self.ending.set()
        for thread in self.threads:
            thread.join()


# --- The session ---------------------------------------------------------------------------------


class Session:
    """Two arrangements. Serial: the simulator transmits, pymodbus is the relay board on a serial
    line. Otherwise pymodbus transmits, the simulator is the relay board. The transmitter's line can
    be spoilt; its water never moves, so that there may be as many changes as one likes."""

    def __init__(self, bench, serial, may_mount):
        self.bench, self.serial = bench, serial
        self.relay = SlaveRelay() if serial else RigRelay()
        self.data = bench.folder / "data"
        self.mounted = may_mount
        if may_mount:
            mount(self.data)
        bench.broker = bench.start_broker()
        self.socat = None
        self.start_transmitter()
        self.start_board()
        self.configure()
        self.daemon = bench.daemon = self.start_daemon()
        self.begin_batch()
        self.changes_asked = 0
        self.notes = Notes(self)

    def remount(self, how):
        subprocess.run(["mount", "-o", f"remount,{how}", self.data], check=True)

    def start_slave(self, name, *where):
        return Process(self.bench, name, [sys.executable, "-B", HERE / "slave.py", *where])

    def start_transmitter(self):
        if self.serial:
            self.transmitter = self.bench.rig = self.bench.start_rig("transmitter")
            self.line = SpoilingLine(self.transmitter.port)
            return
        if not hasattr(self, "line"):
            self.line = SpoilingLine(free_port())
        port = self.line.slave_port
        self.transmitter = self.start_slave("transmitter", "tcp", port)
        wait_for(lambda: listens(port), 20, lambda: f"the slave: {self.transmitter.log()}")

    def start_board(self):
        if not self.serial:
            self.board = self.bench.start_rig("board")
            # Where it was before, for the daemon.
            self.board_line = getattr(self, "board_line", None) or SpoilingLine(0)
            self.board_line.slave_port = self.board.port
            self.board_address = self.board_line.address
        else:
            if not self.socat:
                self.plug_in()
            self.board = self.start_slave("board", "rtu", self.bench.folder / "slave")
            wait_for(lambda: "ready" in self.board.log(), 20, lambda: self.board.log())
            self.board_address = (f"modbus-rtu://{self.bench.folder / 'master'}"
                                  "?baud=19200&parity=none&stop=1")
        self.relay.now_of(self.board)

    def plug_in(self):
        ends = [self.bench.folder / name for name in ("slave", "master")]
        self.socat = Process(self.bench, "socat", [
            "socat", *(f"pty,rawer,echo=0,link={end}" for end in ends)])
        wait_for(lambda: all(end.exists() for end in ends), 10, "a pair of serial lines")

    def configure(self):
        configuration = cellar(self.data, self.bench.broker_port, self.line.address,
                               self.board_address)
        mixer(configuration)["pump"]["lease"] = f"{LEASE_S} s"
        with_http(self.bench)(configuration)
        self.configuration = configuration

    def start_daemon(self):
        # Python ignores the signal of a file's size limit; the daemon inherits that.
        return Daemon(self.bench, self.configuration, restore_signals=False)

    def begin_batch(self):
        if self.serial:
            self.bench.begin(self.bench.dose())
        else:
            self.daemon.wait(lambda s: s["volume_l"] is not None, 20, "a first level")
            self.daemon.must("batch", "begin", "mixer", "--lot", "H-2291")
        self.batch = self.daemon.wait_for_phase("proven")["batch"]["id"]

    def wait_until_ready(self):
        """As a person would, who reads what each alarm says and acknowledges it."""
        def ready():
            station = self.daemon.station()
            for alarm in station["alarms"]:
                self.daemon.ask(station="mixer", do="acknowledge", alarm=alarm["id"])
            return "proven and ready" in station["headline"]

        wait_for(ready, READY_WITHIN_S, lambda: f"ready: {summary(self.daemon.station())}", 0.5)

    def start_change(self):
        """In the middle of one, once all is well again. A busy machine that keeps a sample back may
        end it at once."""
        self.wait_until_ready()
        self.relay.begin_round()

        answer = {}

        def accepted():
            # Refused where a note came at the same moment, or a sample late.
            answer.update(self.daemon.ask(id=f"change {time.monotonic_ns()}", station="mixer",
                                          do="change", volume=f"{VOLUME_L} L"))
            return answer["ok"]

        wait_for(accepted, READY_WITHIN_S, lambda: f"a change accepted: {answer}", 0.2)
        self.changes_asked += 1
        wait_for(lambda: self.relay.is_on() or not self.daemon.station()["change"], 20,
                 lambda: f"the pump on: {summary(self.daemon.station())}")

    def restart_daemon(self):
        """The gate is shut at once, whatever was before, and the batch the same."""
        before = list(self.notes.acknowledged)
        self.daemon = self.bench.daemon = self.start_daemon()
        station = self.daemon.station()
        expect(station["gate"] == "shut" and not station["change"], f"at once: {station}")
        expect(station["batch"] and station["batch"]["id"] == self.batch, f"{station['batch']}")
        if before:
            text = before[-1][1]
            again = self.daemon.ask(id=text, station="mixer", do="note", text=text)
            expect(again["ok"], f"asked again: {again}")

    def refuses_to_start(self, because):
        process = Process(self.bench, "daemon", [
            self.bench.brinegate, "run", "--config", self.daemon.configuration])
        wait_for(lambda: not process.runs(), 20, lambda: f"it runs: {process.log()}")
        expect(process.process.returncode not in (0, -6, -11), f"{process.process.returncode}")
        expect(any(word in process.log() for word in because), f"why: {process.log()}")

    def on_record(self, *columns, where="1"):
        file = f"file:{self.data / 'brinegate.db'}?mode=ro"
        with contextlib.closing(sqlite3.connect(file, uri=True)) as database:
            return database.execute(f"SELECT {', '.join(columns)} FROM {where}").fetchall()

    def lost_notes(self, before):
        """Of those acknowledged before that moment, which are not there exactly once."""
        kept = [json.loads(body)["text"]
                for body, in self.on_record("body", where="record WHERE kind = 'noted'")]
        count = {text: 0 for text in kept}
        for text in kept:
            count[text] += 1
        return [text for text in self.notes.before(before) if count.get(text, 0) != 1]

    def seconds_until_off_since_last_note(self, since, within):
        """As long as notes are taken, the disk is as good as any."""
        off = since + self.relay.seconds_until_off(since, within)
        taken = [at for at, _ in list(self.notes.acknowledged) if since < at < off]
        return off - max([since, *taken])

    def foreign_values_taken(self):
        (count,), = self.on_record("count(*)", where=(
            "reading JOIN series ON series = id WHERE probe = 'cell_a' AND quality > 0 "
            f"AND abs(value - {FOREIGN_MS_CM}) < 1"))
        return count

    def disrupt(self, kind, moment):
        """One fault in a change; (seconds until off, lost notes)."""
        self.start_change()
        time.sleep(moment)
        while not self.relay.is_on():
            self.start_change()
        steps = kind(self)
        since, measured = next(steps)
        took = (measured or self.relay.seconds_until_off)(since, LEASE_S + 30)
        off_at = time.monotonic()
        next(steps, None)
        self.daemon.wait_for_gate("shut", 10)
        back = time.monotonic()
        lost = self.lost_notes(back - 1.0)
        self.wait_until_ready()
        # A board that was frozen does first what it was told before it froze, then what came after.
        again = self.relay.seconds_on_between(off_at + SEEN_LATE_S, time.monotonic())
        expect(again < SEEN_LATE_S, f"the pump ran again unasked, for {again:.2f} s")
        ended = len(self.on_record("seq", where="record WHERE kind = 'change-ended'"))
        expect(ended == self.changes_asked, f"{ended} of {self.changes_asked} changes on record")
        return took, lost

    def end(self):
        """Ended in order, everything is on record."""
        expect(self.daemon.terminate() == 0, f"it ended badly: {self.daemon.log()[-1000:]}")
        self.notes.stop()
        lost = self.lost_notes(time.monotonic())
        expect(not lost, f"at the end there lack {lost[:5]}")
        expect(self.foreign_values_taken() == 0, "a foreign answer was taken")
        return len(self.notes.acknowledged)


def mount(folder):
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={FILE_SYSTEM_MB}m,mode=700", "tmpfs",
                    folder], check=True)


def unmount(folder):
    if os.path.ismount(folder):
        subprocess.run(["umount", "-l", folder], check=True)
