"""A second kind of browser, WebKit, spoken to by the W3C's WebDriver protocol over plain HTTP.

Source of the calls: W3C Recommendation "WebDriver", section 6.3 "Endpoints".
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from typing import Any

import httpx

DRIVER = "WebKitWebDriver"
DISPLAY = "Xvfb"
PATIENCE_MS = 60_000
_ELEMENT = "element-6066-11e4-a52e-4f735466cecf"  # the key that the standard gives to references
_LEFT = ("no such frame", "stale element reference")  # what was asked of a page that was loaded anew meanwhile


class RefusedError(AssertionError):
    """The browser did not do what it was asked."""

    def __init__(self, value: dict[str, str]) -> None:
        super().__init__(value)
        self.error = value["error"]


def missing() -> str | None:
    """Say what has to be installed before `webkit` can be used; None when it can."""
    lost = [name for name in (DRIVER, DISPLAY) if shutil.which(name) is None]
    if DISPLAY in lost and os.environ.get("DISPLAY"):
        lost.remove(DISPLAY)
    return " and ".join(lost) or None


@dataclass(slots=True, frozen=True)
class Page:
    """The one window of a session; whatever is looked for is waited for."""

    session: httpx.Client

    def call(self, method: str, path: str, **body: Any) -> Any:
        answer = self.session.request(method, path, json=body if method == "POST" else None)
        value = answer.json()["value"]
        if answer.status_code != 200:
            raise RefusedError(value)
        return value

    def go(self, url: str) -> None:
        self.call("POST", "url", url=url)

    def find(self, css: str) -> str:
        found = _of_the_page_that_stays(lambda: self.call("POST", "element", using="css selector", value=css))
        return f"element/{found[_ELEMENT]}"

    def text(self, css: str) -> str:
        return str(_of_the_page_that_stays(lambda: self.call("GET", f"{self.find(css)}/text")))

    def click(self, css: str) -> None:
        self.call("POST", f"{self.find(css)}/click")

    def type(self, css: str, text: str) -> None:
        self.call("POST", f"{self.find(css)}/value", text=text)

    def run(self, script: str) -> Any:
        return self.call("POST", "execute/sync", script=script, args=[])


def _of_the_page_that_stays(read: Callable[[], Any]) -> Any:
    """Read again, for as long as patience lasts, where the page was loaded anew while it was read; only reading is."""
    end = time.monotonic() + PATIENCE_MS / 1000
    while True:
        try:
            return read()
        except RefusedError as refused:
            if refused.error not in _LEFT or time.monotonic() > end:
                raise
        time.sleep(0.1)


@contextmanager
def webkit() -> Iterator[Page]:
    """Start the browser, on a display of its own where there is none, and end it."""
    with ExitStack() as stack:
        display = os.environ.get("DISPLAY") or f":{stack.enter_context(_display())}"
        port = _free_port()
        command = [DRIVER, "--host=127.0.0.1", f"--port={port}"]
        own = {"DISPLAY": display, "LANG": "en_GB.UTF-8"}  # a browser without a language of people is no phone
        driver = subprocess.Popen(command, env=os.environ | own, stderr=subprocess.DEVNULL)
        stack.callback(driver.wait)
        stack.callback(driver.terminate)
        transport = httpx.HTTPTransport(retries=10)  # until the driver listens
        base = f"http://127.0.0.1:{port}"
        client = stack.enter_context(httpx.Client(base_url=base, transport=transport, timeout=3 * PATIENCE_MS / 1000))
        wish = {"timeouts": {"implicit": PATIENCE_MS, "pageLoad": PATIENCE_MS}}
        answer = client.post("/session", json={"capabilities": {"alwaysMatch": wish}})
        assert answer.status_code == 200, answer.text
        client.base_url = httpx.URL(f"{base}/session/{answer.json()['value']['sessionId']}/")
        yield Page(client)
        client.delete("")


@contextmanager
def _display() -> Iterator[str]:
    """Start a display that nobody looks at, and yield its number."""
    reads, writes = os.pipe()
    command = [DISPLAY, "-displayfd", str(writes), "-screen", "0", "1440x1000x24", "-nolisten", "tcp"]
    shown = subprocess.Popen(command, pass_fds=(writes,), stderr=subprocess.DEVNULL)
    os.close(writes)
    try:
        with os.fdopen(reads) as told:
            yield told.readline().strip()
    finally:
        shown.terminate()
        shown.wait()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
