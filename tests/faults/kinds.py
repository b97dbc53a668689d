# SPDX-License-Identifier: Apache-2.0
"""The kinds of faults. Each does the worst to a session and yields since when the relay is to let
go (and how to measure that where not at the relay), then repairs what it broke."""

import contextlib
import os
import resource
import shutil
import sqlite3
import sys
import time

from session import HERE
from rig import Process, wait_for
from spoiling_line import FOREIGN, late

PAGE = 4096
FLOOD_S = 2.0


def now():
    return time.monotonic()


# --- Killed --------------------------------------------------------------------------------------


def daemon_killed(session):
    since = now()
    session.daemon.kill()
    yield since, None
    session.restart_daemon()


def broker_killed(session):
    since = now()
    session.bench.broker.kill()
    yield since, None
    session.bench.broker = session.bench.start_broker()


def transmitter_killed(session):
    since = now()
    session.transmitter.kill()
    yield since, None
    session.start_transmitter()


def relay_board_killed(session):
    """Its relay falls with it; what counts is that the daemon knows."""
    since = now()
    session.board.kill()
    session.relay.fell.append(since)

    def until_shut(since, within):
        session.daemon.wait(lambda s: s["gate"] == "shut", within, "the gate shut")
        return now() - since

    yield since, until_shut
    session.start_board()
    session.relay.begin_round()


# --- Frozen --------------------------------------------------------------------------------------


def frozen(process, session):
    since = now()
    process.freeze()
    yield since, None
    time.sleep(session.chance.uniform(0.0, 4.0))
    process.thaw()


def daemon_frozen(session):
    yield from frozen(session.daemon, session)


def broker_frozen(session):
    yield from frozen(session.bench.broker, session)


def transmitter_frozen(session):
    yield from frozen(session.transmitter, session)


def relay_board_frozen(session):
    yield from frozen(session.board, session)


# --- Lines ---------------------------------------------------------------------------------------


def cable_pulled(session):
    for end in ("slave", "master"):  # or they might soon be names of another session's line
        (session.bench.folder / end).unlink()
    since = now()
    session.socat.kill()
    yield since, None
    time.sleep(session.chance.uniform(0.0, 2.0))
    session.plug_in()


def spoilt(session, spoil):
    since = now()
    session.line.spoil = spoil
    yield since, None
    time.sleep(session.chance.uniform(0.0, 2.0))
    session.line.spoil = None


def late_answers(session):
    yield from spoilt(session, late)


def foreign_answers(session):
    yield from spoilt(session, FOREIGN[session.chance.choice(sorted(FOREIGN))])


# --- Floods: whoever asks for the end of a change gets it ----------------------------------------


def flood(session, kind, port):
    flooding = Process(session.bench, f"{kind}-flood",
                       [sys.executable, "-B", HERE / "flood.py", kind, port])
    wait_for(lambda: "flooding" in flooding.log(), 20, flooding.log)
    time.sleep(FLOOD_S)
    since = now()

    def stopped():
        answer = session.daemon.ask(station="mixer", do="stop")
        return answer["ok"] or not session.daemon.station()["change"]

    wait_for(stopped, 10, "the change stopped", every=0.2)
    yield since, None
    flooding.kill()


def http_flood(session):
    yield from flood(session, "http", session.bench.http_port)


def mqtt_flood(session):
    yield from flood(session, "mqtt", session.bench.broker_port)


# --- The disk ------------------------------------------------------------------------------------


class FullDisk:
    """The file system where it is our own, else the size of the daemon's files."""

    def __init__(self, session):
        self.pid = session.daemon.process.pid
        self.filler = session.data / "filler" if session.mounted else None

    def fill(self):
        if not self.filler:
            self.limit(PAGE)
            return
        with open(self.filler, "wb", buffering=0) as file:
            try:
                while file.write(b"\0" * PAGE):
                    pass
            except OSError:
                pass

    def limit(self, size):
        _, most = resource.prlimit(self.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(self.pid, resource.RLIMIT_FSIZE, (most if size is None else size, most))

    def make_room(self, daemon_runs):
        if self.filler:
            self.filler.unlink()
        elif daemon_runs:
            self.limit(None)


def disk_full(session):
    """What the database has set aside takes notes for a while yet. Half of the time the daemon is
    killed meanwhile."""
    disk = FullDisk(session)
    killed = session.chance.random() < 0.5
    since = now()
    disk.fill()
    yield since, session.seconds_until_off_since_last_note
    if killed:
        session.daemon.kill()
    disk.make_room(not killed)
    if killed:
        session.restart_daemon()


def disk_read_only(session):
    """It does not start on it, and says so."""
    since = now()
    session.daemon.kill()
    session.remount("ro")
    yield since, None
    try:
        session.refuses_to_start(["read-only", "readonly", "Read-only"])
    finally:
        session.remount("rw")
    session.restart_daemon()


def spoil_database(file, chance):
    """Of what the daemon decides by: a page of a table or the head of the file."""
    with contextlib.closing(sqlite3.connect(file)) as database:
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        roots = [page for page, in database.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name IN ('record', 'state')")]
    shutil.copyfile(file, file.with_suffix(".good"))
    page = chance.choice([1, *roots])
    with open(file, "r+b") as spoilt_file:
        spoilt_file.seek((page - 1) * PAGE)
        spoilt_file.write(chance.randbytes(chance.choice([64, 512, PAGE])))
        spoilt_file.flush()
        os.fsync(spoilt_file.fileno())


def database_corrupted(session):
    """It does not start on it, and says so; with the copy it goes on."""
    since = now()
    session.daemon.kill()
    file = session.data / "brinegate.db"
    spoil_database(file, session.chance)
    yield since, None
    session.refuses_to_start(["brinegate.db"])
    good = file.with_suffix(".good")
    for name in (file, file.with_name(file.name + "-wal"), file.with_name(file.name + "-shm")):
        name.unlink(missing_ok=True)
    good.rename(file)
    session.restart_daemon()


EVERYWHERE = [daemon_killed, daemon_frozen, broker_killed, broker_frozen, transmitter_frozen,
              relay_board_killed, late_answers, foreign_answers, http_flood, mqtt_flood, disk_full,
              database_corrupted]
ON_OWN_FILE_SYSTEM = [disk_read_only]
SERIAL_ONLY = [relay_board_frozen, cable_pulled]  # its relay tells what happened meanwhile
NOT_SERIAL = [transmitter_killed]  # the simulator would begin with fresh water


def kinds_for(serial, may_mount):
    return (EVERYWHERE + (ON_OWN_FILE_SYSTEM if may_mount else [])
            + (SERIAL_ONLY if serial else NOT_SERIAL))


def all_kinds(may_mount):
    return list(dict.fromkeys(kinds_for(True, may_mount) + kinds_for(False, may_mount)))
