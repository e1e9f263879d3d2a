"""A real browser on a job that is served by the program as it is installed. Where no Chromium is, these tests are
skipped, and say so.
"""

from __future__ import annotations

import json
import os
import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from served_app import OWN_KEY, Served, heard
from tools.check_wheel import build
from wheel_host import Host, start_host

from bandwright.service.context import Context
from bandwright.service.job import new_demo_job

BROWSER = os.environ.get("BANDWRIGHT_BROWSER") or shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP stage.test 127.0.0.1",
)
DESK = {"width": 1440, "height": 900}
PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 60_000  # a search on a busy machine may take its whole limit
AXE = Path(__file__).parent / "vendor" / "axe.min.js"
EXPECTED = ("status of 409", "status of 422", "net::ERR", "WebSocket connection")


Serve = Callable[..., AbstractContextManager[Served]]


@pytest.fixture(scope="session")
def installed(tmp_path_factory) -> Path:
    """Return the folder that an installer would fill from the wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    site = folder / "site"
    with zipfile.ZipFile(build(folder)) as wheel:
        wheel.extractall(site)
    return site


@pytest.fixture(scope="session")
def host(installed, tmp_path_factory) -> Iterator[Host]:
    """Start the installed program, with its kernels compiled: on a new machine that takes long."""
    with start_host(installed, tmp_path_factory.mktemp("host")) as started:
        started.ask(do="prepare")
        yield started


@pytest.fixture(scope="session")
def serve(host) -> Serve:
    """`with serve(path) as app:` serves a job file with the installed program."""
    return host.serve


@pytest.fixture(scope="module")  # while it is open an event loop runs here, which other tests cannot have
def browser() -> Iterator[Any]:
    if BROWSER is None:
        pytest.skip("no Chromium here: install it, or name one in BANDWRIGHT_BROWSER, to test the pages in a browser")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="Playwright is not installed: the pages are not tested in a browser"
    )
    with playwright.sync_playwright() as running:
        started = running.chromium.launch(executable_path=BROWSER, args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def demo_file(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.bwjob"
    new_demo_job(Context(), path, who="laptop")
    return path


@pytest.fixture(scope="session")
def planned_file(serve, demo_file, tmp_path_factory) -> Path:
    """Return the demonstration with a plan in force."""
    path = Path(shutil.copy(demo_file, tmp_path_factory.mktemp("planned") / "planned.bwjob"))
    with serve(path) as app:
        laptop = app.client()
        with app.socket(laptop) as socket:
            assert laptop.post("/api/plan/run", json={"time_limit_s": 60}).status_code == 200
            while (run := heard(socket, "run"))["state"] == "running":
                continue
        assert run["plan"] == 1, run
    return path


@pytest.fixture
def planned(serve, planned_file, tmp_path) -> Iterator[Served]:
    with serve(Path(shutil.copy(planned_file, tmp_path / "planned.bwjob"))) as made:
        yield made
        leave(made)


@pytest.fixture
def job_file(demo_file, tmp_path) -> Path:
    return Path(shutil.copy(demo_file, tmp_path / "job.bwjob"))


@pytest.fixture
def app(serve, job_file) -> Iterator[Served]:
    with serve(job_file) as made:
        yield made
        leave(made)


@dataclass(slots=True)
class Seat:
    """Somebody at a page: what the browser complained about is kept, and looked at when the test ends."""

    page: Any
    address: str
    complaints: list[str] = field(default_factory=list)

    def go(self, hash_: str) -> None:
        """Show a page and wait until it stands."""
        self.page.evaluate("(hash) => { location.hash = hash; }", hash_)
        name = hash_.removeprefix("#/").partition("?")[0]
        self.page.wait_for_selector(f'main[data-page="{name}"] :is(h1, h2)')

    def edit(self, cell: Any) -> None:
        """Press a cell, and wait until it can be typed into."""
        cell.click()
        cell.locator(".editor").wait_for()

    def settled(self) -> None:
        """Wait until every change was answered."""
        self.page.wait_for_function("() => (localStorage.getItem('bandwright.outbox') ?? '[]') === '[]'")

    def chord(self, *keys: str) -> None:
        """Press keys that belong together, again where a busy computer took too long between them."""
        where = "() => location.hash"
        before = self.page.evaluate(where)
        for _ in range(5):
            self.press(*keys)
            if self.page.evaluate(where) != before:
                return
        raise AssertionError(f"{keys} lead nowhere")

    def focus(self) -> dict[str, Any]:
        """Return where the focus is: the label of the row, the field of the cell, what stands in the editor."""
        found: dict[str, Any] = self.page.evaluate(
            """() => {
              const at = document.activeElement;
              const cell = at.closest("[data-field]");
              const row = at.closest("tr")?.querySelector("[data-field=id]");
              const field = cell?.dataset.field ?? null;
              return { row: row?.textContent.trim() ?? null, field, value: at.value ?? null };
            }"""
        )
        return found

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def violations(self) -> list[tuple[str, list[str]]]:
        """Return what axe-core finds wrong; through the debugger, since no script may be added to the page."""
        session = self.page.context.new_cdp_session(self.page)
        session.send("Runtime.evaluate", {"expression": AXE.read_text(encoding="utf-8")})
        run = "axe.run({ preload: false }).then((found) => JSON.stringify(found.violations))"
        answer = session.send("Runtime.evaluate", {"expression": run, "awaitPromise": True, "returnByValue": True})
        found = json.loads(answer["result"]["value"])
        return [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found]


OPEN: list[Seat] = []


def leave(app: Served | None = None) -> None:
    """Close the pages of a served job before it ends, or of all: what is asked then is nobody's complaint."""
    for seat in [seat for seat in OPEN if app is None or seat.address == app.address]:
        OPEN.remove(seat)
        seat.page.context.close()


@pytest.fixture
def sit(browser, request) -> Iterator[Callable[..., Seat]]:
    """`sit(theme="dark", size=PHONE)` opens the job in a browser of its own; its console must stay quiet."""
    seats: list[Seat] = []

    def open_page(
        *, theme: str = "light", size: dict[str, int] = DESK, at: Served | None = None, token: str = OWN_KEY
    ) -> Seat:
        at = at or request.getfixturevalue("app")
        touch = size == PHONE
        context = browser.new_context(viewport=size, color_scheme=theme, has_touch=touch, is_mobile=touch)
        context.set_default_timeout(PATIENCE_MS)
        context.add_cookies([{"name": f"bandwright-{at.port}", "value": token, "url": at.address}])
        seat = Seat(context.new_page(), at.address)
        seats.append(seat)
        OPEN.append(seat)
        seat.page.on("console", lambda message: listen(seat, message))
        seat.page.on("pageerror", lambda error: seat.complaints.append(str(error)))
        seat.page.goto(f"{at.address}/")
        seat.page.wait_for_selector("main :is(h1, h2)")
        return seat

    yield open_page
    leave()
    complaints = [text for seat in seats for text in seat.complaints]
    assert complaints == []


def listen(seat: Seat, message: Any) -> None:
    """Keep what a browser complains about, save refusals and lost connections that a test asked for."""
    if message.type in {"error", "warning"} and not any(word in message.text for word in EXPECTED):
        seat.complaints.append(message.text)
