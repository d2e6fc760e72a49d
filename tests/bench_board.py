"""The board's figures: an 8-hour job at 1 Hz in a store, a board in a process of its own, a real browser before it.

`python -m tests.bench_board STORE PORT` is that process.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

HOURS = 8
SCREENS, WATCHED_S = 20, 15.0
VISITS = 7
VAN = "BENCH-1"
VALUES = {
    **{"air-temperature": (23.5, "degC"), "humidity": (48.0, "percent"), "air-velocity": (0.48, "m/s")},
    **{"booth-pressure": (3.0, "Pa"), "exhaust-flow": (22.0, "m^3/s"), "filter-drop": (120.0, "Pa")},
    **{"part-1": (23.0, "degC"), "part-2": (23.2, "degC"), "part-3": (23.1, "degC")},
    **{"gun-1": (120.0, "L/min"), "gun-2": (0.0, "L/min"), "mode": (1.0, "")},
}
STEPS = ("sealer", "base-1", "clear-1", "clear-2", "bake", "cool")
HEAVY = {"/booths", "/handover", "/records", "/ventilation/south", "/instruments", "/booth/south"}
KB = 1000


def figures() -> Iterator:
    from bench import Figure
    from playwright.sync_api import sync_playwright

    from tests.web.demo_board import ARGS, CHROMIUM

    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "store"
        _fill(store)
        with _board(store) as (url, process), sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
            paint = statistics.median(_first_paint(browser, url) for _ in range(VISITS))
            yield Figure("booth page, first paint on loopback", paint, "ms", 300.0, paint / 300, "≤ 300 ms", paint <= 300)
            page = _signed_in(browser, url)
            weight = max(_weight(page, url + path) for path in sorted(HEAVY)) / KB
            yield Figure("heaviest page without charts", weight, "kB", 150.0, weight / 150, "≤ 150 kB", weight <= 150)
            charts = _weight(page, f"{url}/record/{VAN}") / KB
            yield Figure("record page with its charts", charts, "kB", 1500.0, charts / 1500, "≤ 1,500 kB", charts <= 1500)
            ready = statistics.median(_until_charts(page, url, store, visit) for visit in range(VISITS))
            yield Figure("record of 8 h at 1 Hz, until its charts answer", ready, "s", 1.0, ready, "≤ 1 s", ready <= 1)
            browser.close()
            share = _share_of_a_core(url, process.pid, store) * 100
            yield Figure("20 live screens, of a core", share, "%", 5.0, share / 5, "≤ 5 %", share <= 5)


def _fill(folder: Path) -> None:
    """Eight hours up to now, every point of the south booth once a second, and a van's steps one after another."""
    from booth.intake import remember_config
    from booth.store import Draft, Store
    from booth.times import HOUR, SECOND
    from tests.app.plants import demo_shop

    end = time.time_ns() // 1000 // SECOND * SECOND
    start = end - HOURS * HOUR
    with Store.open(folder, writer=True) as store:
        remember_config(store, demo_shop(), start)
        for hour in range(HOURS):
            begin = start + hour * HOUR
            store.readings.append([one for second in range(3600) for one in _readings(begin + second * SECOND)])
        probes = {"part-1": "lower", "part-2": "lower", "part-3": "sills"}
        van = {"vehicle": VAN, "guns": ["gun-1", "gun-2"], "probes": probes}
        said = [("job-open", {"vehicle": VAN, "process": "standard"}, start), ("load", {"booth": "south", "vans": [van]}, start)]
        length = (end - start) // (len(STEPS) + 1)
        for number, step in enumerate(STEPS):
            begin = start + number * length + 60 * SECOND
            about = {"vehicle": VAN, "step": step, "booth": "south"}
            said += [("step-start", about, begin), ("step-end", about, begin + length // 2)]
        store.journal.append([Draft(kind, body, at, at, "cli", private={"by": "badge-1"}) for kind, body, at in said])


def _readings(moment: int) -> list:
    from booth.store import Reading

    wave = (moment // 1_000_000 % 97) / 970
    return [
        Reading(f"south/{name}", moment, moment, f"{value + (wave if unit else 0):.3f}", unit, value + (wave if unit else 0), 1)
        for name, (value, unit) in VALUES.items()
    ]


@contextmanager
def _board(store: Path) -> Iterator[tuple[str, subprocess.Popen]]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    root = Path(__file__).resolve().parents[1]
    process = subprocess.Popen([sys.executable, "-m", "tests.bench_board", str(store), str(port)], cwd=root)
    url = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):
            with suppress(OSError), urllib.request.urlopen(f"{url}/health", timeout=1):
                break
            time.sleep(0.1)
        yield url, process
    finally:
        process.terminate()
        process.wait(10)


def _signed_in(browser, url: str):
    from tests.web.conftest import PASSWORD, PEOPLE

    page = browser.new_page()
    page.goto(f"{url}/sign-in?next=/records")
    page.fill("[name=name]", PEOPLE["supervisor"][0])
    page.fill("[name=password]", PASSWORD)
    page.press("[name=password]", "Enter")
    page.wait_for_url("**/records")
    return page


def _first_paint(browser, url: str) -> float:
    """Milliseconds from the start of the navigation, in a browser that has never been there."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{url}/booth/south", wait_until="load")
    page.wait_for_function("() => performance.getEntriesByName('first-paint').length > 0")
    value = page.evaluate("performance.getEntriesByName('first-paint')[0].startTime")
    context.close()
    return value


def _weight(page, address: str) -> int:
    """Bytes of the page and of all that it fetches to be shown, with nothing kept from before."""
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    received = []
    session.on("Network.dataReceived", lambda event: received.append(event["dataLength"]))
    page.goto(address, wait_until="load")
    page.wait_for_timeout(1000)
    session.detach()
    return sum(received)


def _until_charts(page, url: str, store: Path, visit: int) -> float:
    """Seconds until the charts are drawn and can be zoomed. An entry before each visit, so that the record is judged anew."""
    from booth.store import Draft, Store

    now = time.time_ns() // 1000
    with Store.open(store) as opened:
        opened.journal.append([Draft("note", {"vehicle": VAN}, now, now, "cli", private={"text": f"visit {visit}"})])
    page.goto(f"{url}/record/{VAN}", wait_until="commit")
    page.wait_for_selector("#charts[data-ready]")
    return page.evaluate("performance.now()") / 1000


def _share_of_a_core(url: str, process: int, store: Path) -> float:
    """Of the board's process, while twenty screens watch a booth of which readings come in once a second."""
    from booth.store import Store

    stop = threading.Event()
    heard: list[int] = []  # one for each message that any screen got
    watching = (f"{url}/booth/south/stream", stop, heard)
    screens = [threading.Thread(target=_watch, args=watching, daemon=True) for _ in range(SCREENS)]
    for screen in screens:
        screen.start()
    with Store.open(store, writer=True) as opened:
        _live(opened, 3.0)
        begun, used, before = time.monotonic(), _cpu_s(process), len(heard)
        _live(opened, WATCHED_S)
        share = (_cpu_s(process) - used) / (time.monotonic() - begun)
    stop.set()
    if len(heard) - before < SCREENS * WATCHED_S / 2:
        raise SystemExit(f"the {SCREENS} screens got {len(heard) - before} messages in {WATCHED_S:.0f} s: they were not live")
    return share


def _live(store, seconds: float) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        store.readings.append(_readings(time.time_ns() // 1000))
        time.sleep(1)


def _watch(address: str, stop: threading.Event, heard: list[int]) -> None:
    with urllib.request.urlopen(address, timeout=30) as stream:
        while not stop.is_set() and (line := stream.readline()):
            if line.startswith(b"data:"):
                heard.append(len(line))


def _cpu_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def serve(store: Path, port: int) -> None:
    """The board as it is served, over a store, by the machine's clock."""
    import uvicorn

    from booth.clocks import SystemClock
    from booth.web.app import create_app
    from tests.web.demo_board import board_over

    uvicorn.run(create_app(board_over(store, SystemClock())), host="127.0.0.1", port=port, log_level="error", ws="none")


if __name__ == "__main__":
    serve(Path(sys.argv[1]), int(sys.argv[2]))
