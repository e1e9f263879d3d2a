"""`bandwright sweep --live`: the options of a running sweep, and the questions before it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bandwright.cli import options, shared
from bandwright.errors import InputError

if TYPE_CHECKING:
    from bandwright.instruments.wish import Wish

__all__ = ["LiveOptions", "live_options", "recorded", "refuse_without_live", "rises"]

_BIN_HZ = 25_000
_STEP_S = 10.0


def _hz(unit: str, hz_per_unit: int) -> Callable[[click.Context, click.Parameter, str | None], int | None]:
    """Return a callback that reads a number in `unit` as a decimal and gives whole Hz on."""

    def convert(_: click.Context, param: click.Parameter, value: str | None) -> int | None:
        from bandwright.units import hz_from

        if value is None:
            return None
        try:
            hz = hz_from(value, hz_per_unit=hz_per_unit)
        except ValueError as error:
            text = f"{error}; a number of {unit} is needed, a whole number of Hz."
            raise click.BadParameter(text, param=param) from error
        if hz <= 0:
            raise click.BadParameter(f"{value} {unit} is not above 0.", param=param)
        return hz

    return convert


def _decibels(_: click.Context, param: click.Parameter, value: str | None) -> Decimal | None:
    """Return a number of dB as it was written."""
    if value is None:
        return None
    try:
        return Decimal(value)
    except ArithmeticError as error:
        raise click.BadParameter(f"{value!r} is no number of dB, such as -3.5.", param=param) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveOptions:
    """What was said about a running sweep."""

    source: str | None
    low_hz: int | None
    high_hz: int | None
    bin_hz: int | None
    seconds: float | None
    once: bool
    log: Path | None
    own_transmitters: str | None
    place: str | None
    antenna: str | None
    gain_ahead_db: Decimal | None
    one_at_a_time: bool
    devices: tuple[str, ...]


_OPTIONS = (
    click.option(
        "--live",
        "source",
        metavar="SOURCE",
        help="Sweep now, with rtl_power, hackrf_sweep, or the analyser at scpi:HOST[:PORT].",
    ),
    click.option("--low-mhz", "low_hz", metavar="MHZ", callback=_hz("MHz", 1_000_000), help="Sweep from here."),
    click.option("--high-mhz", "high_hz", metavar="MHZ", callback=_hz("MHz", 1_000_000), help="Sweep up to here."),
    click.option(
        "--bin-khz",
        "bin_hz",
        metavar="KHZ",
        callback=_hz("kHz", 1000),
        help="Width of a bin; 25 without it.",
    ),
    click.option(
        "--seconds",
        metavar="SECONDS",
        type=options.Duration(min=0, min_open=True, max=864_000),
        help="Sweep for so long; without it until Ctrl-C.",
    ),
    click.option("--once", is_flag=True, help="Stop after one sweep."),
    click.option("--log", metavar="NEW.csv", type=options.FILE, help="Write the sweep here, a new file."),
    click.option(
        "--own-transmitters",
        type=click.Choice(["off", "on", "unknown"]),
        help="Whether your own transmitters are off while sweeping; asked on a terminal.",
    ),
    click.option("--place", metavar="ID", help="The place, as the brief calls it."),
    click.option("--antenna", metavar="WORDS", help="The antenna, in words."),
    click.option(
        "--gain-ahead-db",
        metavar="DB",
        callback=_decibels,
        help="Gain between antenna and instrument; a loss is negative.",
    ),
    click.option(
        "--one-at-a-time", is_flag=True, help="Tell what each device brings: asks you to switch them on one at a time."
    ),
    click.option(
        "--device",
        "devices",
        metavar="NAME",
        multiple=True,
        help="A device to switch on, once for each; without any, names are asked for.",
    ),
)


def live_options(function: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of a running sweep to a command."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def refuse_without_live(given: LiveOptions, *, files: bool) -> None:
    """Raise InputError where there is nothing to read, or something was said about a sweep that does not run."""
    said = {
        "--low-mhz": given.low_hz,
        "--high-mhz": given.high_hz,
        "--bin-khz": given.bin_hz,
        "--seconds": given.seconds,
        "--once": given.once or None,
        "--log": given.log,
        "--own-transmitters": given.own_transmitters,
        "--place": given.place,
        "--antenna": given.antenna,
        "--gain-ahead-db": given.gain_ahead_db,
        "--one-at-a-time": given.one_at_a_time or None,
        "--device": given.devices or None,
    }
    lost = [name for name, value in said.items() if value is not None]
    if lost:
        raise InputError.single(
            "without-live",
            f"{', '.join(lost)} {'says' if len(lost) == 1 else 'say'} how to sweep now, but no source is named.",
            key=lost[0],
            hint="Name one, for example --live rtl_power.",
        )
    if not files:
        text = "bandwright sweep needs FILE... to read, or --live SOURCE to sweep now."
        raise InputError.single("missing-argument", text, key="FILE...", hint='Try "bandwright sweep --help".')


def recorded(given: LiveOptions) -> tuple[Path, str, int]:
    """Sweep as asked, and return the log, a sentence about it with an empty line, and the exit code."""
    from bandwright.errors import Cancelled
    from bandwright.service.live import Stopped, record_sweeps

    if given.devices:
        text = "--device names what to switch on one at a time, and nothing was said of that."
        raise InputError.single("without-routine", text, key="--device", hint="Add --one-at-a-time.")
    source, log, wish, stated = _asked(given)
    own = given.own_transmitters or asked_own_transmitters()
    with shared.working() as context:
        done = record_sweeps(
            context,
            source,
            wish,
            log=log,
            own_transmitters=own,
            stated=stated,
            seconds=given.seconds,
            watch=shared.write_error,
        )
    cut_short = done.stopped is Stopped.TOLD and (given.once or given.seconds is not None)
    return done.log, f"{done.text}\n\n", Cancelled.exit_code if cut_short else 0


def rises(given: LiveOptions, *, more: bool) -> shared.Answer:
    """Go through the devices one at a time, and return what each brings; `more` says that other things were asked."""
    from bandwright.errors import Cancelled
    from bandwright.service.rises import Measuring, record_rises

    if more or given.once:
        text = "--one-at-a-time measures so many seconds for each device and compares them: it takes none of "
        text += "FILE, --once, --trace, --raster, --brief, --others, --draw."
        raise InputError.single("too-much", text, key="--one-at-a-time", hint="Describe its logs afterwards.")
    if not all(name.strip() for name in given.devices):
        text = "--device names a device to switch on, and one name is empty."
        raise InputError.single("empty-name", text, key="--device", hint='For example: --device "left screen".')
    source, log, wish, stated = _asked(given)
    measuring = Measuring(
        source=source,
        wish=wish,
        seconds=given.seconds or _STEP_S,
        own_transmitters=given.own_transmitters or asked_own_transmitters(),
        stated=stated,
        watch=shared.write_error,
    )
    first = iter((True,))

    def ready(what: str) -> bool:
        return _asked_ready(what, first=next(first, False))

    found = record_rises(shared.working, measuring, log=log, devices=given.devices or _asked_devices(), ready=ready)
    columns = shared.columns(120)
    return shared.Answer(
        text=lambda: found.text(columns=columns),
        document=lambda: found.document().model_dump_json(by_alias=True),
        exit_code=Cancelled.exit_code if found.cut_short else 0,
    )


def _asked_devices() -> Iterator[str]:
    """Yield names as they are typed; an empty one is the end."""
    while name := _typed("Next device (Enter alone: that was all)"):
        yield name


def _asked_ready(what: str, *, first: bool) -> bool:
    """Say what to do and wait for Enter; Ctrl-C and the end of input say that it will not be done.

    Raises InputError where the end of input is there before the `first` answer: nobody can answer.
    """
    return _typed(f"{what} Then press Enter", needed=first) is not None


def _typed(text: str, *, needed: bool = False) -> str | None:
    try:
        answer: str = click.prompt(text, default="", show_default=False, err=True)
    except click.Abort as error:
        if needed and isinstance(error.__context__, EOFError):
            said = "--one-at-a-time asks you to switch devices and to press Enter, and nobody can answer here."
            raise InputError.single(
                "no-terminal", said, key="--one-at-a-time", hint="Run it on a terminal, without input from a file."
            ) from error
        return None
    return answer.strip()


def _asked(given: LiveOptions) -> tuple[str, Path, Wish, dict[str, Any]]:
    """Return source, log, what is asked of the source and what is stated of the sweep.

    Raises InputError where one of the first three is missing, or anything makes no sense.
    """
    from bandwright.service.live import stated_of, wish_of

    if given.source is None or given.low_hz is None or given.high_hz is None or given.log is None:
        raise _missing(given)
    wish = wish_of(low_hz=given.low_hz, high_hz=given.high_hz, bin_hz=given.bin_hz or _BIN_HZ, once=given.once)
    stated = stated_of(place=given.place, antenna=given.antenna, gain_ahead_db=given.gain_ahead_db)
    return given.source, given.log, wish, stated


def _missing(given: LiveOptions) -> InputError:
    named = {"--low-mhz": given.low_hz, "--high-mhz": given.high_hz, "--log": given.log}
    lacking = [name for name, value in named.items() if value is None]
    return InputError.single(
        "missing-option",
        f"A running sweep needs {' and '.join(lacking)}.",
        key=lacking[0],
        hint=f"For example: bandwright sweep --live {given.source} --low-mhz 470 --high-mhz 694 --log base.csv",
    )


def asked_own_transmitters() -> str:
    """Ask whether the user's own transmitters are off, where there is a terminal; elsewhere nobody knows."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return "unknown"
    shared.write_error("A base sweep is made with all your own transmitters off: microphones, in-ears, talkback.")
    answer: str = click.prompt("Your own transmitters are now", type=click.Choice(["off", "on", "unknown"]), err=True)
    return answer
