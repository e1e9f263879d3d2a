"""A job that is really served by `bandwright serve`, and pages that edit it and hear of it."""

from __future__ import annotations

import asyncio
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
from websockets.asyncio.client import connect

from bandwright.service.context import Context
from bandwright.service.desk import Desk
from bandwright.service.entries import copy_entry
from bandwright.service.job import new_demo_job
from bandwright.store import JobFile
from benchmarks.pace import pace_of
from benchmarks.reference import reference_s

__all__ = ["echo_p95_ms", "shut_down_s"]

_SECONDS = 8.0
_JOB, _TURN = "demo.bwjob", "turn"


@contextmanager
def serving(folder: Path, *, links: int) -> Iterator[tuple[httpx.Client, subprocess.Popen[str]]]:
    """Serve the demonstration with so many links, in a process of its own; yield a client that is let in."""
    path = folder / _JOB
    new_demo_job(Context(), path, who="laptop")
    with Desk.open(path) as desk:
        there = desk.file.entries("link")
        if links > len(there):
            copy_entry(desk, there[0].uid, who="laptop", count=links - len(there))
    command = [sys.executable, "-m", "bandwright", "serve", str(path), "--port", "0", "--no-open"]
    environment = {**os.environ, "XDG_STATE_HOME": str(folder / "state")}
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, env=environment
    ) as process:
        try:
            assert process.stderr is not None
            entrance = re.search(r"http://\S+\?key=\S+", process.stderr.readline() + process.stderr.readline())
            assert entrance is not None
            address = entrance[0].partition("/?")[0]
            with httpx.Client(base_url=address, headers={"Origin": address}, follow_redirects=True) as client:
                client.get(entrance[0])
                yield client, process
        finally:
            process.terminate()


def echo_p95_ms(*, pages: int, edits_a_second: float, links: int) -> float:
    """Return how long, for 95 of 100 edits, it takes from sending an edit until the page that sent it hears of it.

    Each of the `pages` sends so many edits a second, each into a row of its own. Afterwards every one of them must
    stand in the job file, in its turn, or else there is no figure. The seconds are those of the machine of the
    promises: one that works so many times slower gets the same edits so many times slower, since the time that is
    promised is judged at that pace, too.
    """
    turns = round(_SECONDS * edits_a_second)
    rate = edits_a_second / pace_of([reference_s()])
    with tempfile.TemporaryDirectory() as folder:
        with serving(Path(folder), links=links) as (client, _):
            rows = [entry for entry in client.get("/api/brief").json()["entries"] if entry["kind"] == "link"][:pages]
            cookie = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
            times = asyncio.run(_all(str(client.base_url).rstrip("/"), cookie, rows, rate, turns))
        _refuse_lost(Path(folder), rows, turns)
    return statistics.quantiles(times, n=20)[-1] * 1000


def _refuse_lost(folder: Path, rows: Sequence[Mapping[str, Any]], turns: int) -> None:
    """Raise AssertionError where an edit that was answered does not stand in the file that the server left."""
    with JobFile.open(folder / _JOB, read_only=True) as job:
        for row in rows:
            wrote = [event.after["value"]["name"] for event in job.events_about(row["uid"]) if event.after is not None]
            kept = [name for name in wrote if name.startswith(_TURN)]
            if kept != [f"{_TURN} {turn}" for turn in range(turns)]:
                raise AssertionError(f"of {turns} edits of {row['uid']} these stand in the job: {kept}")


async def _all(address: str, cookie: str, rows: list[dict[str, Any]], rate: float, turns: int) -> list[float]:
    async with httpx.AsyncClient(base_url=address, headers={"Origin": address, "Cookie": cookie}, timeout=60) as client:
        found = await asyncio.gather(
            *(
                _page(client, cookie, row, [(number / len(rows) + turn) / rate for turn in range(turns)])
                for number, row in enumerate(rows)
            )
        )
    return [one for times in found for one in times]


async def _page(client: httpx.AsyncClient, cookie: str, row: dict[str, Any], moments_s: Sequence[float]) -> list[float]:
    address = str(client.base_url).rstrip("/")
    times: list[float] = []
    async with connect(
        f"ws{address.removeprefix('http')}/api/socket",
        additional_headers={"Cookie": cookie, "Origin": address},
        compression=None,
    ) as socket:
        began, revision = time.perf_counter(), row["revision"]
        for turn, moment_s in enumerate(moments_s):
            await asyncio.sleep(max(0.0, began + moment_s - time.perf_counter()))
            sent = time.perf_counter()
            wish = {"base": revision, "changes": {"name": f"{_TURN} {turn}"}}
            answer = (await client.patch(f"/api/entries/{row['uid']}", json=wish)).json()
            revision = answer["entries"][0]["revision"]
            await _heard(socket, answer["seq"])
            times.append(time.perf_counter() - sent)
    return times


async def _heard(socket: Any, seq: int) -> None:
    while True:
        message = json.loads(await socket.recv())
        if message["type"] == "changed" and message["seq"] >= seq:
            return


def shut_down_s() -> float:
    """Return how long a server with an open page takes to end after it was told to."""
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder), links=0) as (client, process):
        cookie = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
        return asyncio.run(_ended(str(client.base_url).rstrip("/"), cookie, process))


async def _ended(address: str, cookie: str, process: subprocess.Popen[str]) -> float:
    headers = {"Cookie": cookie, "Origin": address}
    async with connect(f"ws{address.removeprefix('http')}/api/socket", additional_headers=headers, compression=None):
        began = time.perf_counter()
        process.terminate()
        await asyncio.to_thread(process.wait)
        return time.perf_counter() - began
