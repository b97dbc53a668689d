#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""An independent Modbus slave for tests: pymodbus 3.0 decodes, executes and encodes; only the
reading and writing of bytes is done here, because its own servers need more packages.

Unit 1 holds, in its input registers from 0: a 32-bit float 53.065 (ABCD), the same CDAB, then the
16-bit numbers 252 and 0xFFFE; discrete input 0 is 1; coil 0 is on at the start. It answers no other
unit. Prints the port, or "ready", once it serves. Usage: modbus_slave.py tcp PORT | rtu DEVICE
"""
import os
import socket
import sys

from pymodbus.datastore import (
    ModbusSequentialDataBlock,
    ModbusServerContext,
    ModbusSlaveContext,
)
from pymodbus.factory import ServerDecoder
from pymodbus.transaction import ModbusRtuFramer, ModbusSocketFramer

UNIT = 1


def make_context():
    inputs = [0x4254, 0x428F, 0x428F, 0x4254, 252, 0xFFFE]
    # Without zero_mode every address would be off by one.
    unit = ModbusSlaveContext(
        di=ModbusSequentialDataBlock(0, [1, 0]),
        co=ModbusSequentialDataBlock(0, [1] + [0] * 15),
        hr=ModbusSequentialDataBlock(0, [0] * 32),
        ir=ModbusSequentialDataBlock(0, inputs),
        zero_mode=True,
    )
    return ModbusServerContext(slaves={UNIT: unit}, single=False)


def answer_all(context, framer, receive, send):
    """Until the other side is gone."""

    def execute(request):
        answer = request.execute(context[request.unit_id])
        answer.transaction_id = request.transaction_id
        answer.unit_id = request.unit_id
        send(framer.buildPacket(answer))

    while True:
        received = receive()
        if not received:
            return
        framer.processIncomingPacket(received, execute, context.slaves())


def serve_tcp(context, port):
    listener = socket.create_server(("127.0.0.1", port))
    print(listener.getsockname()[1], flush=True)
    while True:
        connection, _ = listener.accept()
        try:
            framer = ModbusSocketFramer(ServerDecoder(), None)
            answer_all(context, framer, lambda: connection.recv(1024), connection.sendall)
        except ConnectionError:
            pass
        connection.close()


def serve_rtu(context, device):
    descriptor = os.open(device, os.O_RDWR | os.O_NOCTTY)
    print("ready", flush=True)
    framer = ModbusRtuFramer(ServerDecoder(), None)
    answer_all(
        context, framer, lambda: os.read(descriptor, 256), lambda data: os.write(descriptor, data)
    )


if __name__ == "__main__":
    if sys.argv[1] == "tcp":
        serve_tcp(make_context(), int(sys.argv[2]))
    else:
        serve_rtu(make_context(), sys.argv[2])
