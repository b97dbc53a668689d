# SPDX-License-Identifier: Apache-2.0
"""A Modbus TCP line between the daemon and a slave that spoils the answers when it is told to: late
ones, and foreign ones that would show FOREIGN_MS_CM if anybody took them for an answer."""

import os
import socket
import struct
import threading
import time

FOREIGN_MS_CM = 71.5
LATE_S = 1.5
READ_INPUT_REGISTERS = 4


def with_foreign_value(frame):
    """Where it answers with one 32-bit float: another one."""
    if frame[7] == READ_INPUT_REGISTERS and frame[8] == 4:
        return frame[:9] + struct.pack(">f", FOREIGN_MS_CM)
    return frame


def late(frame):
    time.sleep(LATE_S)
    return with_foreign_value(frame)


def of_another_transaction(frame):
    return bytes([frame[0], frame[1] ^ 0x55]) + with_foreign_value(frame)[2:]


def of_another_unit(frame):
    foreign = with_foreign_value(frame)
    return foreign[:6] + bytes([foreign[6] + 40]) + foreign[7:]


def of_another_function(frame):
    foreign = with_foreign_value(frame)
    return foreign[:7] + bytes([foreign[7] ^ 1]) + foreign[8:]


def cut_short(frame):
    return with_foreign_value(frame)[:-1]


def garbage(frame):
    return os.urandom(len(frame))


FOREIGN = {spoil.__name__: spoil for spoil in (
    of_another_transaction, of_another_unit, of_another_function, cut_short, garbage)}


class SpoilingLine:
    def __init__(self, slave_port):
        self.slave_port = slave_port
        self.spoil = None  # a function of a frame
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"modbus-tcp://127.0.0.1:{self.listener.getsockname()[1]}"
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            client, _ = self.listener.accept()
            threading.Thread(target=self.serve, args=(client,), daemon=True).start()

    def serve(self, client):
        with client:
            try:
                with socket.create_connection(("127.0.0.1", self.slave_port)) as slave:
                    threading.Thread(target=carry, args=(client, slave), daemon=True).start()
                    self.answer(client, slave)
            except OSError:
                pass  # one end is gone, and so is the other
            hang_up(client)

    def answer(self, client, slave):
        stream = slave.makefile("rb")
        while len(head := stream.read(6)) == 6:
            frame = head + stream.read(struct.unpack(">H", head[4:])[0])
            spoil = self.spoil
            client.sendall(spoil(frame) if spoil else frame)


def carry(client, slave):
    try:
        while part := client.recv(1024):
            slave.sendall(part)
    except OSError:
        pass
    hang_up(slave)


def hang_up(connection):
    try:
        connection.shutdown(socket.SHUT_RDWR)
    except OSError:
        pass
