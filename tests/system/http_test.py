#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""HTTP on the running daemon, asked by independent clients: that every address answers as it is
described, who gets in, that a request acts once, what hostile clients get, and the metrics."""

import http.client
import json
import os
import socket
import threading
import time
import urllib.parse

import jsonschema
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from rig import cellar, expect, free_port, mixer, run, wait_for

TOKEN = "an-invented-token-of-the-cellar"


def with_http(bench):
    bench.http_port = free_port()
    token = bench.folder / "http.token"
    token.touch(0o600)
    token.write_text(TOKEN + "\n")

    def alter(configuration):
        configuration["http"] = {"listen": f"127.0.0.1:{bench.http_port}",
                                 "token_file": str(token), "hosts": ["cellar.example"]}

    return alter


class Answer:
    def __init__(self, response):
        self.status = response.status
        self.headers = response.headers
        self.type = response.headers.get_content_type()
        self.text = response.read().decode()

    def json(self):
        return json.loads(self.text)


def ask(bench, method, target, body=None, **headers):
    connection = http.client.HTTPConnection("127.0.0.1", bench.http_port, timeout=20)
    names = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, target, body, names)
    answer = Answer(connection.getresponse())
    connection.close()
    return answer


def get(bench, target, **headers):
    return ask(bench, "GET", target, **headers)


def post(bench, request, token=TOKEN):
    return ask(bench, "POST", "/api/v1/requests", json.dumps(request),
               content_type="application/json", authorization=f"Bearer {token}")


class Stream:
    """A client of the server-sent events, which keeps them."""

    def __init__(self, bench, target="/api/v1/stream"):
        self.connection = http.client.HTTPConnection("127.0.0.1", bench.http_port, timeout=40)
        self.connection.request("GET", target, headers={"Last-Event-ID": "17"})
        self.socket = self.connection.sock
        self.response = self.connection.getresponse()
        expect(self.response.status == 200, f"the stream: {self.response.status}")
        self.stations = []
        self.comments = 0
        threading.Thread(target=self.read, daemon=True).start()

    def read(self):
        try:
            for line in self.response:
                if line.startswith(b"data: "):
                    self.stations.append(json.loads(line[6:]))
                self.comments += line.startswith(b":")
        except (OSError, ValueError, AttributeError):
            return

    def close(self):
        self.socket.shutdown(socket.SHUT_RDWR)
        self.connection.close()


# --- As described --------------------------------------------------------------------------------


def example_target(path, operation):
    query = []
    for parameter in operation.get("parameters", []):
        example = urllib.parse.quote(str(parameter.get("example", "")))
        if parameter["in"] == "path":
            path = path.replace("{" + parameter["name"] + "}", example)
        elif example:
            query.append(f"{parameter['name']}={example}")
    return path + ("?" + "&".join(query) if query else "")


def check_content(answer, described, components):
    content = described["content"]
    expect(answer.type in content, f"{answer.type} is none of {list(content)}")
    if answer.type.endswith("json"):
        schema = {**content[answer.type]["schema"], "components": components}
        jsonschema.Draft202012Validator(schema).validate(answer.json())


def check_operation(bench, path, method, operation, components):
    target = example_target(path, operation)
    if target.endswith("/stream"):
        return
    body = None
    headers = {}
    if "requestBody" in operation:
        body = json.dumps(operation["requestBody"]["content"]["application/json"]["example"])
        headers = {"content_type": "application/json", "authorization": f"Bearer {TOKEN}"}
    answer = ask(bench, method.upper(), target, body, **headers)
    responses = operation["responses"]
    described = responses.get(str(answer.status))
    expect(described, f"{method} {target}: {answer.status} is not described: {answer.text}")
    check_content(answer, described, components)
    expect(answer.headers["X-Content-Type-Options"] == "nosniff"
           and "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
           and answer.headers["Cache-Control"] == "no-store"
           and "Access-Control-Allow-Origin" not in answer.headers, f"{target}: {answer.headers}")
    refused = get(bench, target, host="evil.example")
    expect(refused.status == 421, f"{target} under a foreign name: {refused.status}")
    check_content(refused, components["responses"]["Problem"], components)
    for other in ("PUT", "DELETE", "OPTIONS", "POST" if method == "get" else "GET"):
        expect(ask(bench, other, target).status == 405, f"{other} {target}")


def check_metrics(bench):
    families = {family.name: family for family in
                text_string_to_metric_families(get(bench, "/metrics").text)}
    state = get(bench, "/api/v1/stations/mixer").json()
    near = {"practical_salinity": state["salinity"]["practical_salinity"],
            "water_temperature_celsius": state["temperature_c"],
            "water_volume_liters": state["volume_l"]}
    for name, value in near.items():
        said = families["brinegate_" + name].samples[0].value
        expect(abs(said - value) < 0.5, f"{name}: {said}, not {value}")
    for name in ("gate", "batch_phase", "check_met", "probe_quality", "alarm", "build",
                 "batch_risk_ratio", "record_written_timestamp_seconds"):
        expect(families["brinegate_" + name].samples, f"no sample of {name}")
    written = families["brinegate_record_written_timestamp_seconds"].samples[0].value
    expect(0 <= time.time() - written < 30, f"the record was written at {written}")
    expect(families["brinegate_alarms_shelved"].samples[0].value == 0, "an alarm is shelved")

    def counted(name, by):
        family = families["brinegate_" + name]
        expect(family.type == ("gauge" if name.endswith("waiting") else "counter"),
               f"{name} is a {family.type}")
        return next(each.value for each in family.samples if each.labels.get("by") == by)

    expect(counted("deliveries", "heartbeat") >= 1, "no heartbeat was taken")
    for name in ("deliveries", "delivery_failures", "deliveries_given_up", "deliveries_waiting"):
        expect(counted(name, "webhook") == 0, f"{name}: nothing was told")
    expect(families["brinegate_broker_connected"].samples[0].value == 1, "no broker")
    expect(families["brinegate_broker_connections"].samples[0].value == 1, "connected once")


def with_receivers(bench):
    """One that is never told anything, and a heartbeat that the daemon itself answers."""
    alter = with_http(bench)

    def alter_more(configuration):
        alter(configuration)
        daemon = f"http://127.0.0.1:{bench.http_port}"
        configuration["notify"] = {"phone": {"webhook": f"{daemon}/nothing"}}
        configuration["heartbeat"] = {"url": f"{daemon}/healthz", "every": "10 s"}

    return alter_more


def every_address_answers_as_described(bench):
    bench.start_all(with_receivers(bench))
    description = get(bench, "/api/v1/openapi.json").json()
    on_record = [path for path in description["paths"]
                 if path.startswith(("/api/v1/lots", "/api/v1/tanks", "/api/v1/comparison",
                                     "/api/v1/batches"))]
    expect(len(on_record) == 10, f"{on_record}")
    for path in on_record:
        operation = description["paths"].pop(path)["get"]
        problem = description["components"]["responses"]["Problem"]
        described = operation["responses"]["200"] if path.endswith("s") else problem
        check_content(get(bench, example_target(path, operation)), described,
                      description["components"])
    bench.prove()
    wait_for(lambda: get(bench, "/api/v1/readings?station=mixer&probe=salinity").status == 200, 20,
             "a history")
    expect(len(description["paths"]) >= 9, f"{list(description['paths'])}")
    for path, operations in description["paths"].items():
        for method, operation in operations.items():
            check_operation(bench, path, method, operation, description["components"])
    expect(get(bench, "/api/v1/nothing").status == 404, "an address that is not there")
    page = get(bench, "/")
    expect(page.type == "text/html" and "<title>" in page.text, f"the dashboard: {page.status}")
    check_metrics(bench)


# --- Who gets in, and what is done ---------------------------------------------------------------


def a_request_acts_once_and_only_with_the_token(bench):
    bench.start_all(with_http(bench))
    stream = Stream(bench)
    wait_for(lambda: stream.stations, 5, "the whole state at once")
    bench.prove()
    change = {"id": "tuesday-1", "station": "mixer", "do": "change", "volume": "3 L"}
    body = json.dumps(change)
    no_token = ask(bench, "POST", "/api/v1/requests", body, content_type="application/json")
    expect(no_token.status == 401 and no_token.headers["WWW-Authenticate"] == "Bearer", "no token")
    expect(post(bench, change, "another-token-altogether").status == 401, "a wrong token")
    foreign = ask(bench, "POST", "/api/v1/requests", body, content_type="application/json",
                  authorization=f"Bearer {TOKEN}", origin="http://evil.example")
    expect(foreign.status == 403, f"another origin: {foreign.status}")
    for host in ("cellar.example", "127.0.0.1"):
        answer = get(bench, "/api/v1/stations", host=host, x_forwarded_for="192.0.2.7")
        expect(answer.status == 401, f"through a proxy as {host} without the token")
    known = get(bench, "/api/v1/stations", host="cellar.example", authorization=f"Bearer {TOKEN}")
    expect(known.status == 200, f"through a proxy with the token: {known.status}")
    time.sleep(1.0)
    expect(bench.rig.drawn() == 0.0 and not bench.daemon.station()["change"], "it acted")

    refused = post(bench, {**change, "id": "tuesday-0", "volume": "61 L"})
    expect(refused.status == 409 and "60" in refused.json()["detail"], f"{refused.text}")
    calibration = {"id": "c", "station": "mixer", "do": "calibrate", "probe": "cell_a",
                   "standard": "53.07 mS/cm"}
    expect(post(bench, calibration).status == 409, "a probe was moved from the network")
    first = post(bench, change)
    expect(first.status == 200 and first.json()["id"] == "tuesday-1", f"{first.text}")
    wait_for(lambda: stream.stations[-1]["gate"] == "open", 10, "the open gate on the stream")
    wait_for(lambda: stream.stations[-1]["gate"] == "shut", 30, "the shut gate on the stream")
    drawn = bench.rig.drawn()
    expect(abs(drawn - 3.0) < 1.2, f"drawn {drawn} L of 3 L")
    bench.daemon.wait_until_ready()
    expect(post(bench, change).json() == first.json(), "a repeated id is answered otherwise")
    time.sleep(2.0)
    expect(bench.rig.drawn() == drawn, f"the repeated id drew {bench.rig.drawn() - drawn} L")
    kinds = [entry["kind"] for entry in get(bench, "/api/v1/record?station=mixer").json()["record"]]
    expect("proven" in kinds and "change-ended" in kinds, f"{kinds}")
    stream.close()


# --- Hostile clients -----------------------------------------------------------------------------


def raw(bench, sent, seconds=30):
    """All that comes back until the daemon hangs up, and how long that took."""
    began = time.monotonic()
    with socket.create_connection(("127.0.0.1", bench.http_port), timeout=seconds) as connection:
        got = b""
        try:
            connection.sendall(sent)
            while part := connection.recv(65536):
                got += part
        except ConnectionError:
            pass
    return got, time.monotonic() - began


def trickle(bench, seconds):
    """A head that never ends; how long it is borne."""
    began = time.monotonic()
    with socket.create_connection(("127.0.0.1", bench.http_port), timeout=1) as connection:
        connection.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n")
        connection.setblocking(False)
        while time.monotonic() - began < seconds:
            try:
                connection.sendall(b"x")
                if connection.recv(1) == b"":
                    break
            except BlockingIOError:
                time.sleep(0.2)
            except ConnectionError:
                break
    return time.monotonic() - began


def hostile_clients_get_an_error_and_hold_nobody_up(bench):
    bench.broker = bench.start_broker()
    bench.rig = bench.start_rig()
    bench.configured = cellar(bench.folder / "data", bench.broker_port, bench.rig.address)
    mixer(bench.configured)["pump"]["max_run"] = "2 min"
    with_http(bench)(bench.configured)
    bench.daemon = bench.start_daemon(bench.configured)

    host = b"Host: localhost\r\n"
    for sent, status in [
            (b"GET / HTTP/1.1\r\n" + host + b"X: " + b"x" * 10000 + b"\r\n\r\n", b"431"),
            (b"POST /api/v1/requests HTTP/1.1\r\n" + host + b"Content-Length: 9999999\r\n\r\n",
             b"413"),
            (b"POST /api/v1/requests HTTP/1.1\r\n" + host + b"Transfer-Encoding: chunked\r\n\r\n"
             b"ffff\r\n" + b"x" * 0xffff + b"\r\n0\r\n\r\n", b"413"),
            (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 40 + b"\r\n\r\n", b"400"),
            (b"GET / HTTP/1.1\r\n" + host + b"Host: evil.example\r\nConnection: close\r\n\r\n",
             b"4"),
            (b"GET / HTTP/1.1\r\nConnection: close\r\n\r\n", b"421"),
            (b"GET /%00/../x HTTP/1.1\r\n" + host + b"Connection: close\r\n\r\n", b"404"),
            (b"HEAD /metrics HTTP/1.1\r\n" + host + b"Connection: close\r\n\r\n", b"200")]:
        got, _ = raw(bench, sent)
        expect(got.startswith(b"HTTP/1.1 " + status), f"{sent[:60]}: {got[:200]}")
        expect(b"nosniff" in got, f"{sent[:60]}: no security headers")
        expect(not sent.startswith(b"HEAD") or got.endswith(b"\r\n\r\n"), "HEAD with a body")

    streams = [Stream(bench) for _ in range(50)]
    wait_for(lambda: all(len(stream.stations) >= 3 for stream in streams), 30, "news for all")
    quick = time.monotonic()
    expect(get(bench, "/healthz").status == 200, "healthz beside 50 streams")
    expect(time.monotonic() - quick < 2.0, "slow beside 50 streams")
    borne = trickle(bench, 30)
    expect(10 < borne < 25, f"a head that never ends was borne for {borne:.1f} s")
    expect(all(stream.comments for stream in streams), "no heartbeat")
    silent = [socket.create_connection(("127.0.0.1", bench.http_port)) for _ in range(200)]
    time.sleep(1.0)
    expect(bench.daemon.ask(do="status")["ok"], "200 silent connections stop the daemon")
    for each in silent:
        each.close()
    for stream in streams:
        stream.close()
    wait_for(lambda: get_or_none(bench) == 200, 20, "an answer after the flood")
    descriptors = len(os.listdir(f"/proc/{bench.daemon.process.pid}/fd"))
    expect(descriptors < 60, f"{descriptors} descriptors are open after all have gone")
    expect(bench.daemon.terminate() == 0, "it did not end in order")


def get_or_none(bench):
    try:
        return get(bench, "/healthz").status
    except (OSError, http.client.HTTPException):
        return None


if __name__ == "__main__":
    run(every_address_answers_as_described, a_request_acts_once_and_only_with_the_token,
        hostile_clients_get_an_error_and_hold_nobody_up)
