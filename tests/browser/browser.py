# SPDX-License-Identifier: Apache-2.0
"""A headless Chromium, driven over its DevTools protocol: pages, keys, and what they show."""

import base64
import json
import os
import urllib.request

import websocket

from rig import Failed, Process, expect, wait_for

KEYS = {"Tab": 9, "Enter": 13, "Escape": 27, " ": 32}
SHIFT = 8


class Browser(Process):
    def __init__(self, bench):
        profile = bench.folder / "browser"
        super().__init__(bench, "browser", [
            "chromium", "--headless=new", "--no-sandbox", "--disable-gpu",
            "--disable-dev-shm-usage",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-extensions", "--lang=en", "--remote-debugging-port=0",
            "--remote-allow-origins=*", f"--user-data-dir={profile}", "about:blank"],
            env={**os.environ, "HOME": str(bench.folder), "LANG": "C.UTF-8", "TZ": "UTC"})
        file = profile / "DevToolsActivePort"
        wait_for(lambda: file.exists() and len(file.read_text().split()) > 1, 60,
                 lambda: f"the browser: {self.log()[-1500:]}")
        self.port = int(file.read_text().split()[0])

    def open(self, url, width, height=800):
        return Page(self, url, width, height)


class Page:
    """A tab of its own with a width of its own."""

    def __init__(self, browser, url, width, height):
        request = urllib.request.Request(f"http://127.0.0.1:{browser.port}/json/new?about:blank",
                                         method="PUT")
        with urllib.request.urlopen(request, timeout=30) as answer:
            target = json.load(answer)
        self.socket = websocket.create_connection(target["webSocketDebuggerUrl"], timeout=60)
        self.asked = 0
        self.errors = []
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.command(f"{domain}.enable")
        self.size(width, height)
        self.go(url)

    def command(self, method, **parameters):
        self.asked += 1
        self.socket.send(json.dumps({"id": self.asked, "method": method, "params": parameters}))
        while True:
            message = json.loads(self.socket.recv())
            if message.get("id") == self.asked:
                expect("error" not in message, f"{method}: {message.get('error')}")
                return message["result"]
            self.hear(message)

    def hear(self, message):
        """What the page's own code did wrong."""
        if message["method"] == "Runtime.exceptionThrown":
            details = message["params"]["exceptionDetails"]
            self.errors.append(details.get("exception", {}).get("description", details["text"]))

    def size(self, width, height):
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=height,
                     deviceScaleFactor=1, mobile=width < 600)

    def scheme(self, name):
        self.command("Emulation.setEmulatedMedia",
                     features=[{"name": "prefers-color-scheme", "value": name}])

    def go(self, url):
        self.command("Page.navigate", url=url)

    def js(self, expression):
        result = self.command("Runtime.evaluate", expression=expression, returnByValue=True,
                              awaitPromise=True)
        if "exceptionDetails" in result:
            raise Failed(f"{expression[:200]}: {result['exceptionDetails']}")
        return result["result"].get("value")

    def wait(self, expression, what=None, seconds=30):
        def tried():
            try:
                return self.js(f"!!({expression})")
            except Failed:
                return None  # the page is still on its way

        return wait_for(tried, seconds, lambda: f"{what or expression}; the page says: "
                        f"{self.shown()[:1500]}; {self.errors}", 0.05)

    def shown(self):
        return self.js("(document.querySelector('dialog[open]') ?? document.body).innerText")

    def text(self, selector="main"):
        return self.js(f"document.querySelector({json.dumps(selector)})?.innerText ?? ''")

    def wait_for_text(self, text, selector="main", seconds=30):
        self.wait(f"(document.querySelector({json.dumps(selector)})?.innerText ?? '')"
                  f".includes({json.dumps(text)})", f"'{text}' in {selector}", seconds)

    def key(self, name, modifiers=0):
        code = {"key": name, "code": name, "windowsVirtualKeyCode": KEYS[name],
                "modifiers": modifiers}
        text = {"Enter": {"text": "\r"}, " ": {"text": " "}}.get(name, {})
        self.command("Input.dispatchKeyEvent", type="keyDown", **code, **text)
        self.command("Input.dispatchKeyEvent", type="keyUp", **code)

    def type(self, text):
        self.command("Input.insertText", text=text)

    def tab_to(self, condition, most=120):
        """Goes on by Tab until what has the focus fulfils `condition`, an expression of `it`."""
        for _ in range(most):
            self.key("Tab")
            if self.js(f"(it => {condition})(document.activeElement)"):
                return
        raise Failed(f"not reached in {most} steps of Tab: {condition}")

    def screenshot(self, path):
        metrics = self.command("Page.getLayoutMetrics")["cssContentSize"]
        picture = self.command("Page.captureScreenshot", captureBeyondViewport=True,
                               clip={"x": 0, "y": 0, "width": metrics["width"],
                                     "height": min(metrics["height"], 6000), "scale": 1})
        with open(path, "wb") as file:
            file.write(base64.b64decode(picture["data"]))

    def close(self):
        self.socket.close()
