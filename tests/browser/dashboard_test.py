#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The dashboard in a real browser on the running daemon: every page on a phone and on a desk, light
and dark, as an automatic look for barriers finds it; live; by keyboard alone; and what it asks for.
"""

import json
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.append(str(HERE.parent / "system"))

from browser import SHIFT, Browser  # noqa: E402
from rig import expect, free_port, run, wait_for  # noqa: E402

TOKEN = "an-invented-token-of-the-cellar"
ACCESSIBLE = (HERE / "accessible.js").read_text()
EXAMPLES = HERE.parent.parent / "config/examples"
PHONE, DESK = 360, 1280
LARGEST_FIRST_LOAD = 150_000  # bytes as they come over the network
PLAN = "tank=reef&change=20+%25&times=4&every=7+d"


def start(bench):
    """The daemon with two lots and a tank on record, and a browser."""
    port = free_port()
    token = bench.folder / "http.token"
    token.touch(0o600)
    token.write_text(TOKEN + "\n")

    def alter(configuration):
        configuration["http"] = {"listen": f"127.0.0.1:{port}", "token_file": str(token)}
        configuration["profile"]["reef"]["waivable"] = ["temperature"]

    bench.start_all(alter)
    for words in (["lot", "add", "h-2291.json"], ["lot", "add", "h-2304.csv"],
                  ["tank", "add", "reef.json"], ["tank", "test", "reef", "reef-test.json"]):
        ran = subprocess.run(
            [bench.brinegate, *words], cwd=EXAMPLES, capture_output=True, text=True, timeout=30,
            env={**os.environ, "BRINEGATE_CONFIG": str(bench.daemon.configuration)}, check=False)
        expect(ran.returncode == 0, f"{words}: {ran.stderr}")
    bench.url = f"http://127.0.0.1:{port}/"
    bench.browser = Browser(bench)


def is_live(page):
    page.wait("document.getElementById('line').innerText === 'Live' "
              "&& document.querySelector('main .sheet')", "the page is live", 60)


def show(page, route, *texts):
    page.js(f"location.hash = {json.dumps(route)}")
    for text in texts:
        page.wait_for_text(text)


def look(page, what):
    complaints = page.js(ACCESSIBLE)
    expect(not complaints, f"{what}:\n" + "\n".join(complaints))
    expect(not page.errors, f"{what}: {page.errors}")


def says_that_it_waits(page):
    """With a daemon whose answer takes its time."""
    page.js("window.quick = window.fetch; window.fetch = (...asked) =>"
            " new Promise((go) => setTimeout(go, 1500)).then(() => quick(...asked))")
    show(page, "#/lots", "Reading from the daemon", "H-2291")
    expect("Reading" not in page.text(), "it no longer waits")
    page.js("window.fetch = window.quick")


def pages_of(batch):
    """Routes, and what stands on each."""
    return {
        "#/stations": ["Waived", "Temperature: waived by Ada until", "the heater is on its way",
                       "brinegate batch unwaive mixer temperature", "Checks",
                       "What you can ask for", "Salinity", "Lot"],
        "#/batches": [batch, "H-2291"],
        f"#/batches/{batch}": ["Proof", "Permits and volumes", "Course of the salinity",
                               "Begun with lot H-2291"],
        "#/lots": ["H-2291", "H-2304", "Harbour blend", "Which lot for which tank"],
        "#/lots/H-2291": ["Potassium", "399 mg/L", "Nothing about this analysis is impossible"],
        "#/lots/enter": ["Pasted as it is"],
        f"#/lots/compare?lots=H-2291%2CH-2304&{PLAN}": [
            "H-2291 does reef most good", "wanted 400-450 mg/L", "lot 468 mg/L, after"],
        "#/tanks": ["reef", "800 L"],
        "#/tanks/reef": ["Calcium", "below", "What the last changes did"],
        "#/tanks/reef/test": ["Sample taken"],
        "#/instruments": ["cell_a", "mS/cm", "good", "simulated", "Calibrated"],
        "#/alarms": ["Shelved until", "on holiday", "Announce it again", "First-out",
                     "Alarms on record"],
    }


def every_page_is_whole_and_without_barriers(bench):
    start(bench)
    page = bench.browser.open(bench.url, DESK)
    is_live(page)
    loaded = page.js("performance.getEntries().filter(it => it.encodedBodySize "
                     "&& !it.name.includes('/api/')).map(it => it.transferSize)")
    expect(5 < len(loaded) and sum(loaded) < LARGEST_FIRST_LOAD, f"{sum(loaded)} bytes: {loaded}")
    print(f"The first load: {sum(loaded)} bytes in {len(loaded)} files.")
    bench.begin(bench.dose())
    page.wait_for_text("H-2291")  # live, without any reload
    batch = bench.daemon.station()["batch"]["id"]
    bench.daemon.must("batch", "waive", "mixer", "temperature", "--by", "Ada", "--reason",
                      "the heater is on its way", "--for", "2 h")
    bench.daemon.must("alarm", "shelve", "mixer", "flows-back-after-stop", "--for", "8 h",
                      "--reason", "on holiday")
    page.wait_for_text("Alarms (1 shelved)", "#pages")
    for width, scheme in ((DESK, "light"), (PHONE, "dark"), (PHONE, "light"), (DESK, "dark")):
        page.size(width, 800)
        page.scheme(scheme)
        for route, texts in pages_of(batch).items():
            show(page, route, *texts)
            look(page, f"{route} at {width} px, {scheme}")
    says_that_it_waits(page)
    show(page, "#/stations")
    bench.daemon.must("batch", "unwaive", "mixer", "temperature")
    page.wait("!document.querySelector('.waivers').checkVisibility()", "the waiver is gone")
    bench.rig.tell("heater 29 C")
    page.wait_for_text("brinegate batch waive mixer temperature --by NAME", seconds=60)


def press(page, text, within="main"):
    buttons = f"[...document.querySelectorAll({json.dumps(within + ' button')})]"
    page.wait(f"(it => it && (it.click(), true))({buttons}"
              f".find(it => it.innerText === {json.dumps(text)}))")


def button(text):
    return f"it.tagName === 'BUTTON' && it.innerText === {json.dumps(text)}"


def has_visible_focus(page):
    style = page.js("(it => [getComputedStyle(it).outlineStyle, "
                    "parseFloat(getComputedStyle(it).outlineWidth)])(document.activeElement)")
    expect(style[0] != "none" and style[1] >= 2, f"the focus is not to be seen: {style}")


def by_keyboard_alone_a_change_is_asked_for(bench):
    start(bench)
    page = bench.browser.open(bench.url, PHONE)
    is_live(page)
    bench.begin(bench.dose())
    page.key("Tab")
    expect("To the content" in page.js("document.activeElement.innerText"), "no way past the head")
    has_visible_focus(page)
    page.wait_for_text("Proven and ready", seconds=90)

    page.tab_to(button("Ask for a water change"))
    has_visible_focus(page)
    page.key("Enter")
    page.wait("document.querySelector('dialog[open]')")
    page.js("document.querySelector('dialog input[name=volume]').focus()")
    page.type("61 L")
    page.wait_for_text("draw 61 L of batch", ".says")
    look(page, "the dialogue")
    page.key("Enter")
    page.wait_for_text("The token is wanted", "dialog .answer")
    expect(not bench.daemon.station()["change"], "it acted without a token")
    expect(page.js("document.activeElement.name") == "token", "the token is not asked for")
    page.type(TOKEN)
    page.key("Enter")
    page.wait_for_text("60", "dialog .answer")
    expect("efused" in page.text("dialog .answer"), page.text("dialog .answer"))
    look(page, "a refusal")

    page.key("Tab", SHIFT)
    page.tab_to("it.name === 'volume'")
    page.js("document.activeElement.value = ''")
    page.type("30 L")
    page.tab_to(button("Ask for a water change"))

    def accepted():
        page.key(" ")
        page.wait("document.querySelector('dialog .answer').innerText.trim()")
        again = "document.querySelector('dialog .answer').innerText.includes('ask again')"
        return not page.js(again)

    wait_for(accepted, 30, page.shown, 0.5)
    expect(page.js("document.querySelector('dialog .refused') === null"), page.shown())
    page.key("Escape")
    page.wait("!document.querySelector('dialog')")
    page.wait_for_text("Open", ".gate", 15)
    bench.rig.tell("leak on")
    page.wait_for_text("Shut", ".gate", 15)
    drawn = bench.rig.drawn()
    expect(drawn < 29.0, f"drawn {drawn} L of 30 L in spite of a leak")
    expect(page.js("sessionStorage.token") == TOKEN and page.js("localStorage.length") == 0,
           "the token is kept elsewhere than in this tab")

    show(page, "#/alarms", "First-out", "No leak:", "What to do")
    look(page, "an alarm")
    press(page, "Shelve")
    page.wait_for_text("nothing is announced", ".says")
    press(page, "Shelve", "dialog")
    page.wait_for_text("stays blocked", "dialog .answer")
    press(page, "Close", "dialog")
    page.wait_for_text("Shelved until")
    page.wait_for_text("Alarms (1 now, 1 shelved)", "#pages")
    look(page, "a shelved alarm")
    press(page, "Announce it again")
    page.wait("document.querySelector('dialog[open]')")
    press(page, "Announce it again", "dialog")
    page.wait_for_text("announced again", "dialog .answer")
    press(page, "Close", "dialog")
    wait_for(lambda: not bench.daemon.station()["shelved"], 10, "it is shelved no more")
    press(page, "Acknowledge")
    page.wait("document.querySelector('dialog[open]')")
    press(page, "Acknowledge", "dialog")
    page.wait("document.querySelector('dialog .answer:not(.refused)').innerText.trim()")
    press(page, "Close", "dialog")
    wait_for(lambda: all("unacknowledged" not in alarm["state"]
                         for alarm in bench.daemon.station()["alarms"]), 10, "it is acknowledged")
    expect(not page.errors, f"{page.errors}")


def facts_of(station):
    """What an act would have changed."""
    batch = station["batch"] or {}
    return [batch.get("id"), batch.get("salt_g"), batch.get("hand_tests"),
            station["change"] is None]


def act_by_keys(bench, page, name, fields, says):
    """Of a page that knows no token: said what it will do, refused without one, then done."""
    page.js("sessionStorage.clear()")
    page.go(bench.url)
    is_live(page)
    page.tab_to(button(name))
    page.key("Enter")
    page.wait("document.querySelector('dialog[open]')")
    for field, value in fields.items():
        page.tab_to(f"it.name === {json.dumps(field)}")
        page.type(value)
    page.wait_for_text(says, ".says")
    look(page, name)
    page.tab_to(button(name))
    before = facts_of(bench.daemon.station())
    page.key("Enter")
    page.wait_for_text("The token is wanted", "dialog .answer")
    expect(facts_of(bench.daemon.station()) == before, f"{name}: done without the token")
    page.type(TOKEN)
    page.key("Enter")

    def accepted():
        page.wait("document.querySelector('dialog .answer').innerText.trim()")
        again = "document.querySelector('dialog .answer').innerText.includes('ask again')"
        if page.js(again):
            page.key(" ")
            return False
        return True

    wait_for(accepted, 30, page.shown, 0.5)
    expect(page.js("document.querySelector('dialog .refused') === null"), page.shown())
    page.key("Escape")
    page.wait("!document.querySelector('dialog')")
    expect(not page.errors, f"{name}: {page.errors}")
    return bench.daemon.station()


def by_keyboard_alone_a_batch_is_begun_drawn_and_given_up(bench):
    start(bench)
    page = bench.browser.open(bench.url, PHONE)
    is_live(page)
    bench.daemon.wait(lambda s: s["volume_l"] is not None, 20, "a first level")
    salt = round(bench.dose())
    begun = act_by_keys(bench, page, "Begin a batch", {"lot": "H-2291", "salt": f"{salt - 86} g"},
                        f"begins a new batch in mixer of lot H-2291, with {salt - 86} g noted")
    expect(begun["batch"]["lot"] == "H-2291", f"{begun['batch']}")
    bench.rig.tell(f"salt {salt} g")
    noted = act_by_keys(bench, page, "Note salt or water added", {"salt": "86 g"},
                        "notes that 86 g of salt went into mixer")
    expect(noted["batch"]["salt_g"] == salt, f"{noted['batch']}")
    page.wait_for_text("Proven and ready", seconds=90)
    tested = act_by_keys(bench, page, "Enter a hand test",
                         {"analyte": "alkalinity", "value": "8.1 dKH"},
                         "enters alkalinity of 8.1 dKH, measured by hand in batch")
    expect("8.1 dKH" in json.dumps(tested["batch"]["hand_tests"]), f"{tested['batch']}")
    act_by_keys(bench, page, "Ask for a water change", {"volume": "40 L"},
                "draw 40 L of batch")
    page.wait_for_text("Open", ".gate", 15)
    bench.rig.wait_until_pumping()
    stopped = act_by_keys(bench, page, "Stop the change", {},
                          "shuts the gate of mixer and ends its change")
    expect(stopped["gate"] == "shut" and bench.rig.drawn() < 39.0, f"{bench.rig.drawn()} L drawn")
    gone = act_by_keys(bench, page, "Abandon the batch", {},
                       f"ends batch {begun['batch']['id']}. None of it can be drawn")
    expect(gone["batch"] is None, f"{gone['batch']}")


ANALYSIS = """Lot: H-2317
Salt: Harbour blend
Salinity 35 ppt
Calcium 438 mg/l
Potassium 411 mg/l
see overleaf"""


def read_analysis(page, text):
    page.js("document.querySelector('textarea').value = ''")
    page.js("document.querySelector('textarea').focus()")
    page.type(text)
    press(page, "Read it")
    page.wait_for_text("What was read")


def what_is_entered_is_shown_before_it_is_stored(bench):
    start(bench)
    page = bench.browser.open(bench.url + "#/lots/enter", PHONE)
    is_live(page)
    read_analysis(page, ANALYSIS)
    page.wait_for_text("see overleaf")
    page.wait_for_text("Potassium")
    look(page, "a preview")
    known = [lot["lot"] for lot in bench.daemon.ask(do="lot list")["lots"]]
    expect(known == ["H-2291", "H-2304"], f"it was stored by looking at it: {known}")
    press(page, "Put this lot on record")
    page.wait_for_text("2 values on record", ".says")
    page.js("document.querySelector('dialog input[name=token]').focus()")
    page.type(TOKEN)
    page.key("Enter")
    page.wait_for_text("H-2317 is on record", "dialog .answer")
    press(page, "Close", "dialog")
    page.wait_for_text("H-2317")
    expect(len(bench.daemon.ask(do="lot list")["lots"]) == 3, "it is not on record")

    show(page, "#/lots/enter", "Pasted as it is")
    read_analysis(page, (EXAMPLES / "h-2291.json").read_text().replace("0.93", "0.80"))
    press(page, "Put this lot on record")
    page.wait("document.querySelector('dialog[open]')")
    press(page, "Put it on record", "dialog")
    page.wait_for_text("machine itself", "dialog .answer")
    page.key("Escape")

    show(page, "#/tanks/reef/test", "Sample taken")
    page.js("document.querySelector('[name=at]').value = '2026-04-01T18:00'")
    page.js("document.querySelector('[name=salinity]').value = '35 ppt'")
    read_analysis(page, "Ca 401 mg/L")
    press(page, "Put this test on record")
    page.wait("document.querySelector('dialog[open]')")
    press(page, "Put it on record", "dialog")
    page.wait_for_text("is on record", "dialog .answer")
    press(page, "Close", "dialog")
    page.wait_for_text("401 mg/L")
    expect(not page.errors, f"{page.errors}")


if __name__ == "__main__":
    run(every_page_is_whole_and_without_barriers, by_keyboard_alone_a_change_is_asked_for,
        by_keyboard_alone_a_batch_is_begun_drawn_and_given_up,
        what_is_entered_is_shown_before_it_is_stored, at_once=1)  # a browser loads disk and cores
