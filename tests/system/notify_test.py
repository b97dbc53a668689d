#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Alarms as they reach people elsewhere: a webhook that fails first, a mail server with TLS and a
log-in, and a heartbeat, each a real peer. Nothing secret is in what the daemon says."""

import base64
import email
import hashlib
import hmac
import http.server
import json
import ssl
import subprocess
import threading
import time

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from rig import Process, expect, free_port, listens, run, wait_for

SECRET = "invented-secret-of-the-phone"
PASSWORD = "invented-password-of-the-desk"
IN_THE_PATH = "invented-part-of-the-address"
ALARM = "pump-running-while-shut"


def keep(bench, name, text):
    file = bench.folder / name
    file.write_text(text + "\n")
    file.chmod(0o600)
    return str(file)


def start_daemon(bench, alter):
    """A pump whose read-back the test plays by a file."""
    bench.broker_port = free_port()
    file = bench.folder / "mosquitto.conf"
    file.write_text(f"listener {bench.broker_port} 127.0.0.1\nallow_anonymous true\n")
    broker = Process(bench, "broker", ["/usr/sbin/mosquitto", "-c", file])
    wait_for(lambda: listens(bench.broker_port), 10, lambda: f"the broker: {broker.log()}")
    bench.runs = bench.folder / "runs"
    let_run(bench, 0)
    show = f"while cat {bench.runs}; do sleep 0.3; done"  # ends with whoever reads it
    cell = {"measures": "salinity", "source": {"command": ["sleep", "1000"], "in": "PSU"}}
    room = {"measures": "temperature", "source": {"command": ["sleep", "1001"], "in": "C"}}
    level = {"measures": "level", "source": {"command": ["sleep", "1002"], "in": "L"}}
    configuration = {
        "site": "cellar", "data": str(bench.folder / "data"),
        "mqtt": {"broker": f"mqtt://127.0.0.1:{bench.broker_port}"},
        "profile": {"reef": {"salinity": "35 ppt", "tolerance": "1 ppt",
                             "temperature": ["24 C", "26 C"]}},
        "station": {"mixer": {
            "profile": "reef", "capacity": "200 L",
            "probe": {"cell": cell, "room": room, "height": level},
            "pump": {"output": {"topic": "cellar/socket/set", "on": "on {seconds}", "off": "off"},
                     "readback": {"command": ["sh", "-c", show]},
                     "max_volume": "60 L", "max_run": "15 min"}}},
    }
    alter(configuration)
    bench.daemon = bench.start_daemon(configuration)
    time.sleep(2)  # the first read-backs


def let_run(bench, runs):
    part = bench.folder / "runs.part"
    part.write_text(json.dumps({"value": runs}) + "\n")
    part.rename(bench.runs)


def switch_on_by_hand(bench):
    let_run(bench, 1)
    bench.daemon.wait(lambda s: any(a["id"] == ALARM for a in s["alarms"]), 60, "the alarm")


def says_nothing_secret(bench):
    for secret in (SECRET, PASSWORD, IN_THE_PATH):
        expect(secret not in bench.daemon.log(), f"{secret} in the log")


class Receiver:
    """Answers each request as `script` says, the last for ever; keeps what came."""

    def __init__(self, script):
        self.came = []
        receiver = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def answer(self):
                body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                step = script[min(len(receiver.came), len(script) - 1)]
                receiver.came.append((self.path, dict(self.headers), body))
                if step == "hang up":
                    self.close_connection = True
                    return
                if step == "slow":
                    time.sleep(2)
                self.send_response(200 if step == "slow" else step)
                self.send_header("Location", f"http://127.0.0.1:{receiver.port}/elsewhere")
                self.send_header("Content-Length", "0")
                self.end_headers()

            do_POST = do_GET = answer

            def log_message(self, *_):  # pylint: disable=arguments-differ
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()


def check_signature(headers, body):
    headers = {name.lower(): value for name, value in headers.items()}
    expect(abs(time.time() - int(headers["webhook-timestamp"])) < 60, "a timestamp of now")
    said = b".".join([headers["webhook-id"].encode(), headers["webhook-timestamp"].encode(), body])
    code = base64.b64encode(hmac.new(SECRET.encode(), said, hashlib.sha256).digest()).decode()
    expect(headers["webhook-signature"] == f"v1,{code}", "a signature of id, time and body")
    return headers["webhook-id"]


def webhook_is_told_until_it_takes_it(bench):
    receiver = Receiver([503, "hang up", "slow", 200])

    def alter(configuration):
        configuration["notify"] = {"phone": {
            "webhook": f"http://127.0.0.1:{receiver.port}/{IN_THE_PATH}",
            "secret_file": keep(bench, "secret", SECRET)}}

    start_daemon(bench, alter)
    switch_on_by_hand(bench)
    wait_for(lambda: len(receiver.came) >= 3, 30, lambda: f"3 attempts: {bench.daemon.log()}")
    wait_for(lambda: "notify.phone: delivered" in bench.daemon.log(), 20, "delivered")
    ids = {check_signature(headers, body) for _, headers, body in receiver.came}
    expect(len(ids) == 1, f"the same id each time: {ids}")
    told = json.loads(receiver.came[0][2])
    expect(told["id"] in ids and told["site"] == "cellar", f"id and site: {told}")
    alarm = told["alarms"][0]
    expect((alarm["station"], alarm["alarm"], alarm["event"]) == ("mixer", ALARM, "raised"),
           f"the alarm: {alarm}")
    expect(alarm["cause"] and alarm["consequence"] and alarm["action"], f"what to do: {alarm}")

    let_run(bench, 0)
    wait_for(lambda: len(receiver.came) == 4, 20, "that it returned to normal")
    back = json.loads(receiver.came[3][2])
    expect(back["alarms"][0]["event"] == "returned", f"returned: {back}")
    expect(check_signature(*receiver.came[3][1:]) not in ids, "an id of its own")
    says_nothing_secret(bench)


def redirections_are_not_followed_and_shelved_alarms_not_told(bench):
    receiver = Receiver([302])

    def alter(configuration):
        configuration["notify"] = {"phone": {
            "webhook": f"http://127.0.0.1:{receiver.port}/here",
            "secret_file": keep(bench, "secret", SECRET)}}

    start_daemon(bench, alter)
    bench.daemon.must("alarm", "shelve", "mixer", ALARM, "--for", "1 h", "--reason", "mending")
    switch_on_by_hand(bench)
    station = bench.daemon.station()
    expect(station["shelved"][0]["reason"] == "mending", f"shelved: {station['shelved']}")
    time.sleep(1)
    expect(not receiver.came, "nothing is told of a shelved alarm")
    bench.daemon.must("alarm", "unshelve", "mixer", ALARM)
    wait_for(lambda: receiver.came, 20, "told once it is taken back")
    wait_for(lambda: "answered 302" in bench.daemon.log(), 10, "refused")
    expect({path for path, _, _ in receiver.came} == {"/here"}, f"only here: {receiver.came}")


class MailServer:
    def __init__(self, bench):
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
             "-nodes", "-days", "2", "-subj", "/CN=localhost",
             "-addext", "subjectAltName=DNS:localhost",
             "-keyout", bench.folder / "mail.key", "-out", bench.folder / "mail.pem"],
            check=True, capture_output=True)
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(bench.folder / "mail.pem", bench.folder / "mail.key")
        self.mails = []
        self.refuse_next = True
        self.port = free_port()
        self.controller = Controller(
            self, hostname="127.0.0.1", port=self.port, ssl_context=context,
            authenticator=self.authenticate, auth_required=True, auth_require_tls=False)
        self.controller.start()

    @staticmethod
    def authenticate(_server, _session, _envelope, _mechanism, data):
        return AuthResult(success=data.login == b"brinegate"
                          and data.password == PASSWORD.encode())

    async def handle_DATA(self, _server, _session, envelope):  # pylint: disable=invalid-name
        if self.refuse_next:
            self.refuse_next = False
            return "451 come back later"
        self.mails.append(envelope)
        return "250 taken"


def mail_goes_out_over_tls_that_is_verified(bench):
    server = MailServer(bench)
    target = {"smtp": f"smtps://localhost:{server.port}", "from": "brinegate@cellar.example",
              "to": ["keeper@cellar.example"], "username": "brinegate",
              "password_file": keep(bench, "password", PASSWORD)}

    def alter(configuration):
        configuration["notify"] = {
            "desk": {**target, "ca_file": str(bench.folder / "mail.pem")},
            "trusting": target}

    start_daemon(bench, alter)
    switch_on_by_hand(bench)
    wait_for(lambda: server.mails, 30, lambda: f"the mail: {bench.daemon.log()}")
    mail = server.mails[0]
    expect(mail.rcpt_tos == ["keeper@cellar.example"], f"its receiver: {mail.rcpt_tos}")
    message = email.message_from_bytes(mail.content)
    expect(ALARM in message["Subject"], f"its subject: {message['Subject']}")
    text = message.get_payload(decode=True).decode()
    expect("mixer" in text and "Cut the pump's power" in text, f"its text: {text}")
    expect("notify.desk: not delivered (answered 451)" in bench.daemon.log(), "refused at first")
    wait_for(lambda: "notify.trusting: not delivered" in bench.daemon.log(), 20, "not trusted")
    expect("notify.trusting: delivered" not in bench.daemon.log(), "nobody vouches for it there")
    expect(len(server.mails) == 1, "one mail")
    says_nothing_secret(bench)
    server.controller.stop()


def heart_beats_while_all_is_well(bench):
    receiver = Receiver([200])

    def alter(configuration):
        configuration["heartbeat"] = {
            "url": f"http://127.0.0.1:{receiver.port}/{IN_THE_PATH}", "every": "10 s"}

    start_daemon(bench, alter)
    wait_for(lambda: len(receiver.came) >= 2, 40, lambda: f"two beats: {bench.daemon.log()}")
    bench.daemon.freeze()
    time.sleep(2)
    beats = len(receiver.came)
    time.sleep(12)
    expect(len(receiver.came) == beats, "no beat of a daemon whose loop stands still")
    bench.daemon.thaw()
    wait_for(lambda: len(receiver.came) > beats, 30, "it beats again")
    says_nothing_secret(bench)


if __name__ == "__main__":
    run(webhook_is_told_until_it_takes_it,
        redirections_are_not_followed_and_shelved_alarms_not_told,
        mail_goes_out_over_tls_that_is_verified, heart_beats_while_all_is_well)
