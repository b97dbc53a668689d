#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A broker that knows MQTT 3.1.1 only, enough for a test: refuses other levels with return code
1, acknowledges subscriptions and publications, answers pings, and sends "25.1" to cellar/bath once
that is subscribed. Prints its loopback port."""
import socket
import struct


def read_exactly(connection, count):
    data = b""
    while len(data) < count:
        more = connection.recv(count - len(data))
        if not more:
            raise ConnectionError
        data += more
    return data


def read_packet(connection):
    head = read_exactly(connection, 1)[0]
    length, shift = 0, 0
    while True:
        byte = read_exactly(connection, 1)[0]
        length |= (byte & 0x7F) << shift
        shift += 7
        if not byte & 0x80:
            return head, read_exactly(connection, length)


def serve(connection):
    while True:
        head, body = read_packet(connection)
        kind = head >> 4
        if kind == 1:  # CONNECT: the level follows the name "MQTT"
            level = body[6]
            connection.sendall(bytes([0x20, 2, 0, 0 if level == 4 else 1]))
            if level != 4:
                return
        elif kind == 3 and head & 0x06:  # PUBLISH with an acknowledgement
            start = 2 + struct.unpack(">H", body[:2])[0]
            connection.sendall(b"\x40\x02" + body[start : start + 2])
        elif kind == 8:  # SUBSCRIBE
            connection.sendall(b"\x90\x03" + body[:2] + b"\x01")
            if b"cellar/bath" in body:
                topic = b"cellar/bath"
                packet = struct.pack(">H", len(topic)) + topic + b"25.1"
                connection.sendall(bytes([0x30, len(packet)]) + packet)
        elif kind == 12:  # PINGREQ
            connection.sendall(b"\xd0\x00")
        elif kind == 14:  # DISCONNECT
            return


listener = socket.create_server(("127.0.0.1", 0))
print(listener.getsockname()[1], flush=True)
while True:
    peer, _ = listener.accept()
    try:
        serve(peer)
    except ConnectionError:
        pass
    peer.close()
