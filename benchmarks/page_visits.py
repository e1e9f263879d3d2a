"""Large jobs that are really served, and a browser that visits their pages: what `bench_pages` measures.

Jobs are drawn: links in earshots of 50 that do not hear each other, planned by the engine, and a sweep of 50,000
points. All times are those of the page's own clock, in headless Chromium on this machine; the reference kernel is
timed between the visits, since its pace moves while they last.
"""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from bandwright.documents.brief import parse_toml
from bandwright.service.context import Context
from bandwright.service.job import create_job, fill
from benchmarks.measure import Reading
from benchmarks.reference import reference_s

__all__ = ["DRAGGED", "LINKS", "POINTS", "Visits", "figures"]

LINKS, DRAGGED, IN_EARSHOT, POINTS = 200, 100, 50, 50_000
ROUNDS, DRAGS = 7, 40
_LOOKS = 3  # rounds of the reference kernel between two visits
THROTTLE = 4
_SETTLED_MS = 1500  # a new window makes its own pages first (hundreds of modules): that is the browser's time, not ours
_PATIENCE_MS = 120_000
_FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

Visits = dict[str, Reading]

# The page is ready when every link is in the table, every carrier in the spectrum and the sweep is painted.
_READY = """(links) => new Promise((done) => {
  const look = () => {
    const rows = document.querySelectorAll(".plan-table tbody tr").length;
    const flags = document.querySelectorAll(".flag").length;
    if (rows >= links && flags >= links / 2 && document.querySelector(".key-trace"))
      requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now())));
    else requestAnimationFrame(look);
  };
  look();
})"""

# From a movement of the pointer to the frame that shows it, and to the frame that shows the verdict on it.
_WATCH = """() => {
  const times = (window.dragTimes = { paint: [], verdict: [] });
  const stage = document.querySelector(".stage-touch");
  let at = 0, asked = false;
  const painted = (into, since) => requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = () => into.push(performance.now() - since);
    channel.port2.postMessage(0);
  });
  addEventListener("pointermove", () => { at = performance.now(); asked = false; }, { capture: true });
  stage.addEventListener("pointermove", () => painted(times.paint, at));
  new MutationObserver(() => {
    const waits = document.querySelector(".flag.chosen")?.classList.contains("verdict-asking");
    if (waits) asked = true;
    else if (asked && at) { asked = false; painted(times.verdict, at); }
  }).observe(document.querySelector(".stage-flags"), { subtree: true, attributes: true, attributeFilter: ["class"] });
}"""


@cache
def figures() -> Visits | None:
    """Return the medians in milliseconds, or None where no browser is; measured once."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return None
    if browser is None:
        return None
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=browser, args=list(_FLAGS))
        with _served(LINKS) as address:
            found = {
                "ready": _between([partial(_ready, running, address, 1)] * ROUNDS),
                "ready throttled": _between([partial(_ready, running, address, THROTTLE)] * ROUNDS),
            }
        with _served(DRAGGED) as address:
            found |= _dragged(running, address)
        running.close()
    return found


def _between(rounds: Sequence[Callable[[], float]]) -> Reading:
    """Return the median of the rounds, with the reference kernel before each and after the last."""
    values, reference = [], [reference_s(_LOOKS)]
    for measure in rounds:
        values.append(measure())
        reference.append(reference_s(_LOOKS))
    return Reading(value=statistics.median(values), reference_s=tuple(reference))


def _open(browser: Any, address: str) -> Any:
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    context.set_default_timeout(_PATIENCE_MS)
    page = context.new_page()
    page.goto(address)
    return page


def _ready(browser: Any, address: str, throttle: int) -> float:
    """Return the milliseconds from asking for the Plan page, in a browser that has nothing kept, to all of it."""
    page = _open(browser, address)
    fresh = browser.new_context(viewport={"width": 1440, "height": 900}, storage_state=page.context.storage_state())
    fresh.set_default_timeout(_PATIENCE_MS)
    shown = fresh.new_page()
    shown.wait_for_timeout(_SETTLED_MS)
    if throttle > 1:
        fresh.new_cdp_session(shown).send("Emulation.setCPUThrottlingRate", {"rate": throttle})
    shown.goto(f"{address.partition('?')[0]}#/plan", wait_until="commit")
    found: float = shown.evaluate(_READY, LINKS)
    fresh.close()
    page.context.close()
    return found


def _dragged(browser: Any, address: str) -> Visits:
    page = _open(browser, address)
    page.goto(f"{address.partition('?')[0]}#/plan")
    page.evaluate(_READY, DRAGGED)
    mark = page.locator(".flag.is-microphone .mark").nth(DRAGGED // 3)
    box = mark.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.evaluate(_WATCH)
    before = reference_s()
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(DRAGS):
        page.mouse.move(x + 1 + step % 20 * 2, y + step % 3)
        page.wait_for_timeout(100)
    times = page.evaluate("() => window.dragTimes")
    around = (before, reference_s())
    page.context.close()
    return {
        f"drag {what}": Reading(value=statistics.median(times[what]), reference_s=around)
        for what in ("paint", "verdict")
    }


@contextmanager
def _served(links: int) -> Iterator[str]:
    """Serve the large job with the program's own command; yield the address that lets a browser of this computer in."""
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "large.bwjob"
        tables, _ = parse_toml(_brief(links), file="large.toml")
        create_job(Context(), job, who="benchmark", what="Drew a job", make=lambda draft: fill(draft, tables))
        server = subprocess.Popen(
            [sys.executable, "-m", "bandwright", "serve", str(job), "--port", "0", "--no-open"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            yield _prepared(server)
        finally:
            server.terminate()
            server.wait(10)


def _prepared(server: subprocess.Popen[str]) -> str:
    """Bring the sweep and have the job planned; return the address."""
    import httpx

    for line in server.stderr or ():
        if match := re.search(r"http://\S+key=\S+", line):
            address = match.group(0)
            break
    else:
        raise RuntimeError("the server did not say where it is")
    base = address.partition("?")[0].rstrip("/")
    with httpx.Client(base_url=base, headers={"Origin": base}, timeout=120, follow_redirects=True) as client:
        client.get(address.removeprefix(base))
        name = {"name": "air.csv", "own_transmitters": "off"}
        client.post("/api/sweeps", params=name, content=_sweep()).raise_for_status()
        client.post("/api/plan/run", json={"time_limit_s": 20}).raise_for_status()
        while (run := client.get("/api/plan/run").json())["state"] == "running":
            time.sleep(0.2)
        if run["state"] != "done":
            raise RuntimeError(f"the large job could not be planned: {run['text']}")
        client.get("/api/spectrum").raise_for_status()
    return address


def _brief(links: int) -> str:
    head = """bandwright = 1
[job]
title = "Large"
invented = true
[[place]]
id = "field"
timezone = "UTC"
tv_raster = "region1"
[[permit]]
id = "all"
state = "granted"
windows_mhz = [[470, 694]]
[[radio]]
id = "heron"
tuning = [{ low_mhz = 470.1, high_mhz = 693.9, step_khz = 25 }]
emission = "fm"
bandwidth_khz = 200
power_mw = [10]
spacing_khz = 350
clearance_khz = { "2A-B" = 50, "A+B-C" = 25 }
"""
    rooms = [f'[[earshot]]\nid = "room-{k}"\n' for k in range(links // IN_EARSHOT)]
    rows = [
        f'[[link]]\nid = "L{k + 1:03d}"\nname = "Voice {k + 1}"\n'
        f'radio = "heron"\nearshot = ["room-{k // IN_EARSHOT}"]\n'
        for k in range(links)
    ]
    return "".join([head, *rooms, *rows])


def _sweep() -> bytes:
    """Return noise over the whole band as a log of two columns."""
    rng = np.random.default_rng(1)
    mhz = np.linspace(470, 694, POINTS)
    levels = -110 + rng.normal(0, 1.2, POINTS)
    lines = [f"{frequency:.6f},{level:.2f}" for frequency, level in zip(mhz.tolist(), levels.tolist(), strict=True)]
    return ("MHz,dBm\n" + "\n".join(lines) + "\n").encode()
