"""`bandwright serve`: the local app on one job file."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bandwright.cli import options, shared
from bandwright.errors import InputError

if TYPE_CHECKING:
    from bandwright.service.context import Context
    from bandwright.web.serve import Opened

__all__ = ["command"]

_PORT = 8377
_DEMO = "lantern-quay.bwjob"
_BEFORE = re.compile(r"\.before-\d+\.bwjob$")  # kept when a file was moved to a newer layout


@shared.command(example="bandwright serve quay.bwjob --lan")
@click.argument("job", metavar="[JOB]", type=options.FILE, required=False)
@click.option(
    "--port",
    metavar="PORT",
    type=click.IntRange(min=0, max=65_535),
    default=_PORT,
    show_default=True,
    help="Where the pages are on this computer; 0 is any port that is free.",
)
@click.option("--lan", is_flag=True, help="Let devices on the network in, once they are paired. Nobody else gets in.")
@click.option(
    "--name",
    "names",
    metavar="NAME",
    multiple=True,
    help="With --lan: another name or address by which devices know this computer. May be given again.",
)
@click.option(
    "--as", "who", metavar="NAME", default="laptop", show_default=True, help="How changes made here are signed."
)
@click.option("--open/--no-open", "browser", default=True, help="Open a browser on it, where there is one.")
def command(
    *, job: Path | None, port: int, lan: bool, names: tuple[str, ...], who: str, browser: bool
) -> shared.Answer:
    """Serve JOB, a job file, as pages for the browser on this computer, until Ctrl-C.

    Without JOB it takes the only job file in this folder, or offers to make one of an invented production. Everything
    stays on this computer: the pages load nothing from outside, and only this computer reaches them, unless --lan lets
    paired devices in. On a network without encryption anybody on it can read what paired devices send and get; devices
    that are not paired are refused.
    """
    from bandwright.service.context import Context, Progress
    from bandwright.web.serve import serve_job

    who = who.strip()
    if not who:
        raise InputError.single("empty-name", "--as is empty; give the name to sign with.", key="--as")
    if names and not lan:
        text = "--name says by which name devices on the network know this computer, and they are not let in."
        raise InputError.single("without-lan", text, key="--name", hint="Add --lan.")
    with shared.working() as working:
        path = job if job is not None else _found_or_made(working, who=who)
        working.progress(Progress(text=f"opening {path.name}"))
    context = Context(now=working.now, kit_folder=working.kit_folder)
    address = serve_job(
        context, path, port=port, lan=lan, names=names, who=who, opened=lambda opened: _tell(opened, browser=browser)
    )
    return shared.Answer(
        text=lambda: f"Closed {path}; everything is in it.",
        document=lambda: {
            "schema": "bandwright.serve/1",
            "program": shared.PROGRAM,
            "job": str(path),
            "address": address,
            "lan": lan,
        },
    )


def _found_or_made(context: Context, *, who: str) -> Path:
    """Return the only job file of this folder, or one that is made after a question."""
    from bandwright.service.job import new_demo_job

    there = sorted(path for path in Path().glob("*.bwjob") if not _BEFORE.search(path.name))
    if len(there) == 1:
        return there[0]
    if there:
        listed = ", ".join(map(str, there))
        text = f"there are {len(there)} job files in this folder: {listed}."
        raise InputError.single("several-jobs", text, key="JOB", allowed=listed, hint="Name one of them.")
    made = Path(_DEMO)
    if not on_terminal():
        text = "there is no job file in this folder, and none was named."
        hint = "Make one with bandwright job new FILE.bwjob, or run bandwright serve on a terminal: it offers an "
        raise InputError.single("no-job", text, key="JOB", hint=hint + "invented production to look around in.")
    if not click.confirm(
        f"There is no job file here. Make {made}, an invented production, to look around in?", default=True, err=True
    ):
        text = "no job to serve."
        raise InputError.single("no-job", text, key="JOB", hint="Make one with bandwright job new FILE.bwjob.")
    new_demo_job(context, made, who=who)
    return made


def on_terminal() -> bool:
    """Whether somebody can be asked."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def _tell(opened: Opened, *, browser: bool) -> None:
    lines = [f"Serving at {opened.address} until Ctrl-C. For a browser on this computer:", f"  {opened.entrance}"]
    lines += [f"Paired devices on the network: {', '.join(opened.nearby)}"] if opened.nearby else []
    shared.write_error("\n".join(lines))
    if browser and _has_screen():
        import webbrowser

        webbrowser.open(opened.entrance_once)


def _has_screen() -> bool:
    """Whether a browser would open beside this terminal and not in it."""
    return sys.platform in ("win32", "darwin") or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
